"""The whole job through the real widgets: trace, flaw, region, pieces, plan, hands, undo, save, reopen, export."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QPushButton

from nestplan.desk.pages.start import StartPage
from nestplan.desk.table.tracing import PointsTool
from nestplan.geometry.inscribed import largest_disc
from nestplan.geometry.ring import to_polygon
from nestplan.model.audit import check
from nestplan.model.files import read_hide, read_job, read_plan
from nestplan.tasks.contents import Contents
from tests.desk.conftest import settle


def type_in(field, words):
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, words)
    QTest.keyClick(field, Qt.Key.Key_Return)
    QApplication.processEvents()


def press(button: QPushButton) -> None:
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)
    QApplication.processEvents()


def trace_hide(window, hand):
    press(window.centre.currentWidget().buttons["Trace a hide"])
    hand.trace((100, 100), (1300, 100), (1300, 700), (700, 760), (100, 700))
    QApplication.processEvents()


def make_panel(window, width="200", height="120", name="front"):
    window.go_to("pieces")
    QApplication.processEvents()
    window.panels["pieces"].from_measures()
    dialog = next(w for w in QApplication.topLevelWidgets() if w.windowTitle() == "A piece from measures")
    dialog.kind.set_value("trapezoid")
    dialog.kind.activated.emit(dialog.kind.currentIndex())
    dialog.name.setText(name)
    for field, words in (("top", width), ("bottom", width), ("height", height)):
        dialog.fields["trapezoid"][field].setText(words)
    press(dialog.make)


def plan_it(window, qtbot, seconds=1.0):
    window.go_to("plan")
    window.panels["plan"].begin(seconds=seconds)
    qtbot.waitUntil(lambda: not window.session.plan_search.running, timeout=90_000)
    QApplication.processEvents()
    settle(qtbot, window)


def test_the_whole_job_from_an_empty_table_to_the_cut_sheet(window, hand, qtbot, tmp_path):
    document = window.document
    assert isinstance(window.centre.currentWidget(), StartPage)

    # A hide is traced with the mouse, on empty ground, in mm.
    trace_hide(window, hand)
    hide = document.hide
    assert hide is not None
    assert hide.gross_area == pytest.approx(1200 * 630, rel=0.02)
    assert "Measured" in window.panels["hides"].area.text()
    type_in(window.panels["hides"].name, "Test side")
    type_in(window.panels["hides"].stated, "8 ft2")
    assert document.hide.name == "Test side"
    assert "the seller states" in window.panels["hides"].area.text()

    # A round flaw that goes through, a region, the backbone.
    press_tool(window, "round flaw")
    hand.drag((400, 400), (430, 400), (440, 400))
    assert document.hide.flaws[0].disc.diameter == pytest.approx(80, abs=6)
    assert window.panels["hides"].flaws_and_regions.list.count() == 1
    type_in(window.panels["hides"].flaws_and_regions.margin, "5 mm")
    assert document.hide.flaws[0].margin == 5
    press_tool(window, "region")
    hand.trace((1000, 110), (1290, 110), (1290, 690), (1000, 690))
    type_in(window.panels["hides"].flaws_and_regions.region_name, "belly")
    type_in(window.panels["hides"].flaws_and_regions.firmness, "1")
    assert document.hide.regions[0].name == "belly"
    assert document.hide.regions[0].firmness == 1
    press_tool(window, "backbone")
    hand.drag((1290, 105), (600, 105), (110, 105))
    assert document.hide.backbone_angle == pytest.approx(180, abs=1)

    # A pair of panels from measures; a hole too near the edge warns while it is typed.
    make_panel(window)
    part = window.panels["pieces"].piece
    assert document.piece.name == "front"
    part.pair.click()
    assert document.piece.pair
    type_in(part.least, "3 mm")
    type_in(part.wished, "6 mm")
    assert document.piece.cuts[0].overcut.least == 3
    type_in(part.not_regions, "belly")
    assert document.piece.cuts[0].not_regions == ("belly",)
    window.session.pieces.set_marks()
    window.table.fit()
    hand.click(100, 20)
    assert len(document.piece.marks) == 1
    assert not part.warnings.isVisible()
    size = part.marks.size_field
    part.marks.list.setCurrentRow(0)
    size.setFocus()
    size.selectAll()
    QTest.keyClicks(size, "18 mm")
    assert "at least" in part.warnings.text()
    QTest.keyClick(size, Qt.Key.Key_Return)
    assert document.piece.marks[0].diameter == 18
    assert document.piece.warnings()

    # The plan: two sets, judged by GEOS, nothing on the flaw or the belly.
    window.panels["pieces"]._article = document.contents.job.articles[0].name
    window.panels["pieces"].show_job(document.contents.job)
    type_in(window.panels["pieces"].sets, "2")
    assert document.contents.job.articles[0].sets == 2
    plan_it(window, qtbot)
    plan = document.contents.plan
    assert plan is not None
    assert len(plan.placements) == 4
    assert check(plan, document.contents.job, document.contents.hides) == ()
    assert "nothing overlaps" in window.panels["plan"].faults.verdict.text()
    assert "2 of 2" in window.panels["plan"].figures.sets.number.text()

    # A piece is dragged onto another and is wrong; dragged out again it is right.
    window.table.fit()
    QApplication.processEvents()
    first, second = plan.placements[:2]
    start, onto = middle(first), middle(second)
    hand.drag(start, between(start, onto, 0.5), onto, release=False)
    assert not window.table.tool.check.free
    assert any(hit.copy == second.copy for hit in window.table.tool.check.overlapped)
    hand.release(onto)
    settle(qtbot, window)
    assert "Not to be cut yet" in window.panels["plan"].faults.verdict.text()
    assert window.table.item(("placement", key(document.contents.plan.placements[0]))).shown.wrong
    held = document.contents.plan.placements[0]
    free = free_spot(document.contents, held)
    hand.drag(middle(held), between(middle(held), free, 0.5), free)
    settle(qtbot, window)
    assert "nothing overlaps" in window.panels["plan"].faults.verdict.text()

    # Locked, it stays where it is while the rest is planned again.
    window.panels["plan"].selected.lock_button.click()
    locked = document.contents.plan.placements[0]
    assert locked.locked
    plan_it(window, qtbot)
    kept = next(p for p in document.contents.plan.placements if p.locked)
    assert kept.finished == locked.finished
    settle(qtbot, window)

    # The sheet and pictures are written.
    assert window.session.papers.export_to("cut sheet", tmp_path / "sheet.pdf")
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")
    assert window.session.papers.export_to("picture", tmp_path / "plan.png")
    assert (tmp_path / "plan.png").stat().st_size > 5000
    assert window.session.papers.export_to("plan drawing", tmp_path / "plan.dxf")
    assert "EOF" in (tmp_path / "plan.dxf").read_text()

    # Everything undone, everything redone.
    after = document.contents
    assert document.stack.count() > 12
    while document.stack.canUndo():
        document.stack.undo()
    assert document.contents == Contents()
    assert isinstance(window.centre.currentWidget(), StartPage)
    while document.stack.canRedo():
        document.stack.redo()
    assert document.contents == after

    # Saved, closed, opened again: the same.
    folder = tmp_path / "saved"
    folder.mkdir()
    assert window.session.files.save_in(folder, {})
    assert sorted(path.name for path in folder.iterdir()) == [
        "new-job.job.json", "new-job.plan.json", "test-side.hide.json",
    ]  # fmt: skip
    plan_path = folder / "new-job.plan.json"
    assert read_plan(plan_path).hides[0].file == "test-side.hide.json"
    window.session.files.start_anew()
    assert document.contents == Contents()
    window.session.files.open([plan_path])
    assert document.contents.hides == (read_hide(folder / "test-side.hide.json"),)
    assert document.contents.job == read_job(folder / "new-job.job.json")
    assert len(document.contents.plan.placements) == 4
    assert not window.isWindowModified()
    settle(qtbot, window)
    assert "nothing overlaps" in window.panels["plan"].faults.verdict.text()

    # Compared with a copy of itself.
    window.document.add_hide(document.hide)
    window.go_to("choose")
    window.panels["choose"].seconds.set_value(0.3)
    press(window.panels["choose"].start)
    qtbot.waitUntil(lambda: not window.panels["choose"].running, timeout=60_000)
    QApplication.processEvents()
    assert len(window.centre.currentWidget().cards) == 2
    assert "of 2" in window.centre.currentWidget().cards[0].sets.number.text()


def press_tool(window, name):
    window.go_to("hides")
    QApplication.processEvents()
    QTest.mouseClick(window.panels["hides"].tools[name], Qt.MouseButton.LeftButton)


def middle(placement):
    low, high = placement.finished_ring.min(axis=0), placement.finished_ring.max(axis=0)
    return (float(low[0] + high[0]) / 2, float(low[1] + high[1]) / 2)


def free_spot(contents, held):
    """Where a piece may lie whichever way it is turned: the middle of the largest disc that is free.

    A place found by the search is tight to the edge, to a hundredth of a millimetre; no hand finds it again.
    """
    hide = contents.hide(held.hide)
    free = to_polygon(hide.ring).difference(to_polygon(hide.regions[0].ring))
    for flaw in hide.flaws:
        free = free.difference(to_polygon(flaw.ring).buffer(flaw.margin))
    for other in contents.plan.placements:
        if other is not held:
            free = free.difference(to_polygon(other.cut_ring).buffer(contents.job.gap))
    x, y, radius = largest_disc(free)
    reach = held.cut_ring - middle(held)
    assert radius > np.hypot(*reach.T).max() + 5, "there is no room to let the piece go"
    return (x, y)


def between(start, end, share):
    return (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]))


def key(placement):
    from nestplan.desk.document.document import key_of

    return key_of(placement)


def test_points_of_an_outline_are_moved_added_and_smoothed_with_the_mouse(window, hand):
    trace_hide(window, hand)
    before = len(window.document.hide.outline)
    press_tool(window, "points")
    assert isinstance(window.table.tool, PointsTool)
    hand.drag((1300, 700), (1320, 720), (1340, 730))
    corner = max(window.document.hide.outline, key=lambda at: at[0] + at[1])
    assert corner == pytest.approx((1340, 730), abs=4)
    hand.double(100, 400)
    assert len(window.document.hide.outline) == before + 1
    hand.key(Qt.Key.Key_Delete)
    assert len(window.document.hide.outline) == before
    hand.key(Qt.Key.Key_S)
    assert window.document.stack.undoText() == "Smooth the edge"


def test_a_crossing_outline_is_refused_in_words_and_nothing_changes(window, hand):
    trace_hide(window, hand)
    before = window.document.hide
    press_tool(window, "points")
    hand.drag((1300, 100), (1100, 600), (1000, 900))
    assert window.document.hide == before
    assert window.notice.isVisible()
    assert "crosses" in window.notice.words.text()


def test_at_the_table_pieces_are_ticked_and_a_found_flaw_replans_the_rest(window, hand, qtbot):
    trace_hide(window, hand)
    make_panel(window)
    plan_it(window, qtbot)
    window.go_to("cut")
    QApplication.processEvents()
    window.table.fit()
    panel = window.panels["cut"]
    assert panel.list.count() == 1
    panel.list.item(0).setCheckState(Qt.CheckState.Checked)
    assert window.document.contents.plan.placements[0].done
    assert window.strip.buttons["cut"].text().endswith("1 of 1 cut")
    window.document.stack.undo()
    assert not window.document.contents.plan.placements[0].done
    spot = middle(window.document.contents.plan.placements[0])
    panel._flaw("disc")
    hand.drag(spot, (spot[0] + 15, spot[1]), (spot[0] + 20, spot[1]))
    assert window.document.hide.flaws[0].name == "found while cutting"
    settle(qtbot, window)
    assert "flaw" in window.panels["plan"].faults.verdict.text()
    press(panel.again)
    qtbot.waitUntil(lambda: not window.session.plan_search.running, timeout=90_000)
    QApplication.processEvents()
    settle(qtbot, window)
    assert "nothing overlaps" in window.panels["plan"].faults.verdict.text()
    assert middle(window.document.contents.plan.placements[0]) != pytest.approx(spot, abs=20)
