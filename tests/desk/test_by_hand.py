"""Small things a worker does at the table, each by its own gesture, through the real widgets."""

from __future__ import annotations

import itertools

import msgspec
import numpy as np
import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QPainter, QWheelEvent
from PySide6.QtWidgets import QApplication

from nestplan.drawing.colors import BLUE
from nestplan.model.files import write_hide, write_job
from nestplan.tasks.contents import Contents, HidePhoto
from tests.desk.conftest import settle
from tests.desk.small_work import laid_work, pair_job, panel, sheet


def wheel(table, at, notches, keys=Qt.KeyboardModifier.NoModifier):
    pixel = QPointF(table.pixel_at(at))
    delta = QPoint(0, 120 * notches)
    event = QWheelEvent(
        pixel, table.viewport().mapToGlobal(pixel), QPoint(), delta, Qt.MouseButton.NoButton, keys,
        Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(table.viewport(), event)


def test_the_wheel_zooms_to_the_spot_under_the_pointer(window):
    window.document.open(Contents((sheet(),)), {})
    QApplication.processEvents()
    window.table.fit()
    before, scale = window.table.pixel_at((700.0, 200.0)), window.table.pixels_per_mm
    for _ in range(6):
        wheel(window.table, (700.0, 200.0), 1)
    after = window.table.pixel_at((700.0, 200.0))
    assert window.table.pixels_per_mm > 1.5 * scale
    assert (after - before).manhattanLength() <= 6


def test_the_wheel_with_alt_turns_the_selected_piece(window, hand, qtbot):
    window.document.open(laid_work(2), {})
    window.go_to("plan")
    QApplication.processEvents()
    hand.click(80, 60)
    assert len(window.document.selected) == 1
    wheel(window.table, (80, 60), 1, Qt.KeyboardModifier.AltModifier)
    assert window.document.selected[0].angle == pytest.approx(1.0)
    wheel(window.table, (80, 60), -1, Qt.KeyboardModifier.AltModifier | Qt.KeyboardModifier.ShiftModifier)
    assert window.document.selected[0].angle == pytest.approx(346.0)
    settle(qtbot, window)


def test_a_hide_is_drawn_freehand_and_its_area_stands_beside_the_pointer(window, hand):
    window.session.trace_hide()
    QApplication.processEvents()
    corners = [(200, 100), (900, 100), (900, 600), (200, 600)]
    hand.click(*corners[0])
    for start, end in itertools.pairwise(corners):
        stops = [tuple(s + n / 12 * (e - s) for s, e in zip(start, end, strict=True)) for n in range(1, 13)]
        hand.drag(start, *stops)
    words = [shape.words for shape in window.table.tool.preview() if shape.kind == "words"]
    assert words
    assert words[0].endswith("ft²")
    assert float(words[0].split()[0]) == pytest.approx(35.0, rel=0.05)
    hand.key(Qt.Key.Key_Return)
    assert window.document.hide.gross_area == pytest.approx(700 * 500, rel=0.03)


def test_retracing_tells_what_the_seller_states(window, hand):
    window.document.open(Contents((sheet(stated_area=600_000.0),)), {})
    window.go_to("hides")
    window.session.hides.trace_outline()
    for at in ((10, 10), (900, 10), (900, 500)):
        hand.click(*at)
    words = [shape.words for shape in window.table.tool.preview() if shape.kind == "words"]
    assert "the seller states 60 dm²" in words[0]
    hand.key(Qt.Key.Key_Escape)


def test_an_edge_between_selected_points_is_made_straight(window, hand):
    bent = msgspec.structs.replace(
        sheet(),
        outline=((0, 0), (250, 8), (500, 0), (750, 8), (1000, 0), (1000, 600), (0, 600)),
        backbone=None,
    )
    window.document.open(Contents((bent,)), {})
    QApplication.processEvents()
    window.table.fit()
    window.session.hides.edit_points()
    hand.click(0, 0)
    hand.click(1000, 0, shift=True)
    hand.key(Qt.Key.Key_T)
    assert window.document.stack.undoText() == "Straighten the edge"
    low = [y for x, y in window.document.hide.outline if y < 100]
    assert max(low) == pytest.approx(0.0, abs=0.1)


def test_the_photograph_under_a_hide_is_a_layer(window, tmp_path):
    from PySide6.QtGui import QColor, QImage

    picture = QImage(400, 300, QImage.Format.Format_RGB32)
    picture.fill(QColor(BLUE))
    picture.save(str(tmp_path / "floor.png"))
    photo = HidePhoto(str(tmp_path / "floor.png"), (3.0, 0, -100.0, 0, -3.0, 750.0, 0, 0, 1.0))
    window.document.open(Contents((sheet(),), photos=(("sheet", photo),)), {})
    window.go_to("hides")
    QApplication.processEvents()
    item = window.table.item("photo")
    assert item.isVisible()
    window.menus.actions["Show photo"].trigger()
    assert not item.isVisible()
    window.menus.actions["Show photo"].trigger()
    assert item.isVisible()


def test_while_a_search_is_at_work_nothing_is_said_to_be_without_a_place(window, qtbot):
    window.document.open(Contents((sheet(),), pair_job(sets=40)), {})
    window.go_to("plan")
    assert window.panels["plan"].waiting.isVisible()
    window.panels["plan"].goal.set_value("fill")
    window.panels["plan"].begin(seconds=60)
    assert not window.panels["plan"].waiting.isVisible()
    assert window.panels["plan"]._title.text() == "Looking for places"
    window.panels["plan"].cancel.click()
    qtbot.waitUntil(lambda: not window.session.plan_search.running, timeout=60_000)
    QApplication.processEvents()
    assert window.panels["plan"].waiting.isVisible()


def test_used_up_hides_of_a_folder_stay_out_but_open_when_named(window, tmp_path):
    write_hide(tmp_path / "a.hide.json", sheet("fresh"))
    write_hide(tmp_path / "b.hide.json", sheet("gone", used="2026-02-03, small job"))
    write_job(tmp_path / "c.job.json", pair_job())
    window.session.files.open([tmp_path])
    assert [hide.name for hide in window.document.contents.hides] == ["fresh"]
    assert "Used up and left out: gone" in window.notice.words.text()
    window.session.files.open([tmp_path / "b.hide.json"])
    assert [hide.name for hide in window.document.contents.hides] == ["fresh", "gone"]
    assert [hide.name for hide in window.document.contents.leather] == ["fresh"]


def test_the_units_change_everywhere_at_once(window):
    window.document.open(laid_work(2), {})
    window.menus.actions["Inches, ft²"].trigger()
    assert window.settings.unit == "in"
    window.go_to("hides")
    assert window.panels["hides"].area.text().split("(")[0].strip().endswith("ft²")
    window.menus.actions["Millimetres, dm²"].trigger()
    assert window.panels["hides"].area.text().split("(")[0].strip().endswith("dm²")


@pytest.mark.parametrize(("count", "hurries"), [(4, False), (200, True)])
def test_with_many_pieces_edges_are_smoothed_when_the_view_rests(window, qtbot, count, hurries):
    window.document.open(laid_work(count), {})
    window.go_to("plan")
    QApplication.processEvents()
    window.table.pan(5, 5)
    smooth = QPainter.RenderHint.Antialiasing
    assert bool(window.table.renderHints() & smooth) is not hurries
    qtbot.waitUntil(lambda: bool(window.table.renderHints() & smooth), timeout=60_000)
    settle(qtbot, window)


def test_leaving_with_a_search_at_work_ends_it(window, qtbot):
    window.document.open(Contents((sheet(),), pair_job(sets=40)), {})
    window.go_to("plan")
    window.panels["plan"].goal.set_value("fill")
    window.panels["plan"].begin(seconds=60)
    window.document.stack.setClean()
    QApplication.sendEvent(window, QEvent(QEvent.Type.None_))
    assert window.close()
    assert not window.session.plan_search.running


def test_a_name_moves_off_a_flaw_within_its_outline():
    from nestplan.desk.table.item_shapes import Label
    from nestplan.desk.table.items import FlawItem
    from nestplan.desk.table.overlay import fitting_labels
    from nestplan.desk.table.piece_items import PieceItem, ShownPiece
    from nestplan.model.hide import Disc, Flaw
    from tests.desk.small_work import panel

    piece = PieceItem(ShownPiece(panel()))
    (free,) = fitting_labels([piece], 5.0)
    spot = FlawItem(Flaw(spoils="grain", disc=Disc(at=(50, 30), diameter=8), margin=0))
    (moved,) = fitting_labels([piece, spot], 5.0)
    assert (moved.x, moved.y) != (free.x, free.y)
    width, height = moved.label.box(5.0)
    assert moved.x - width / 2 >= 0
    assert moved.x + width / 2 <= 100
    assert abs(moved.x - 50) > 4 + width / 2 or abs(-moved.y - 30) > 4 + height / 2
    assert isinstance(moved.label, Label)


def test_pieces_that_overlap_show_where(window, qtbot):
    from nestplan.desk.document.plan_edits import moved, replaced
    from nestplan.desk.table.items import ShownOverlap
    from nestplan.geometry.pose import Pose
    from nestplan.geometry.ring import area

    window.document.open(laid_work(2, sheet(), step=(200, 150)), {})
    window.go_to("plan")
    plan = window.document.contents.plan
    one, other = plan.placements
    onto = Pose(one.x + 60.0, one.y, one.angle)
    window.document.set_plan("Pile up", replaced(plan, {1: moved(other, onto)}))
    settle(qtbot, window)
    (overlap,) = window.table.records_of(ShownOverlap)
    assert area(np.asarray(overlap.ring)) == pytest.approx(40 * 60, rel=0.01)
    verdict = window.panels["plan"].faults
    # What both cover is 40 × 60 mm: no point of it is farther than 30 mm from the edges of either.
    assert (
        verdict.verdict.text() == "⚠ Not to be cut yet: panel (set 1) and panel (set 2) overlap by 30.0 mm."
    )
    verdict.details.line.click()
    verdict.list.itemClicked.emit(verdict.list.item(0))
    assert len(window.document.selected) == 2


def test_with_an_article_what_lies_of_it_leaves_the_plan_and_undo_brings_both_back(window, qtbot):
    contents = laid_work(2, sheet(), step=(200, 150))
    belt = contents.job.articles[0]
    bag = msgspec.structs.replace(belt, name="bag", pieces=(panel("flap"),))
    wanted = msgspec.structs.replace(contents.job, articles=(belt, bag))
    window.document.open(Contents(contents.hides, wanted, contents.plan), {})
    window.go_to("pieces")
    pieces = window.panels["pieces"]
    pieces._article = belt.name
    pieces.show_job(wanted)
    pieces.remove_button.click()
    settle(qtbot, window)
    assert [article.name for article in window.document.contents.job.articles] == ["bag"]
    assert window.document.contents.plan.placements == ()
    assert window.session.checker.latest is not None
    assert "went wrong" not in window.notice.words.text()
    window.document.stack.undo()
    assert len(window.document.contents.plan.placements) == 2
