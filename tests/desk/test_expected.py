"""What people expect of a window: the right button, duplicates, selecting by kind, ticks, drags between hides."""

from __future__ import annotations

from dataclasses import replace

import msgspec
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QContextMenuEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QLineEdit, QMenu, QWidget

from nestplan.desk.dialogs.measured_hide import MeasuredHideDialog
from nestplan.desk.dialogs.measured_piece import MeasuredPieceDialog
from nestplan.desk.steps import registered_steps
from nestplan.model.files import read_job, write_job
from nestplan.model.job import Layer
from nestplan.model.piece import LayerCut
from nestplan.resources import demo_folder
from nestplan.tasks.contents import Contents
from tests.desk.conftest import settle
from tests.desk.small_work import job, laid_work, panel, sheet, spoiled_sheet
from tests.tasks.small_rack import small_rack


def rest():
    for _ in range(3):
        QApplication.processEvents()


def right_click(window, *at: float) -> list[str]:
    """The words of the menu that the right button opens."""
    view = window.table.viewport()
    pixel = window.table.pixel_at(at)
    event = QContextMenuEvent(QContextMenuEvent.Reason.Mouse, pixel, view.mapToGlobal(pixel))
    QApplication.sendEvent(view, event)
    rest()
    menu = QApplication.activePopupWidget()
    assert isinstance(menu, QMenu)
    words = [action.text().split("\t")[0] for action in menu.actions()]
    menu.close()
    return words


def middle(placement) -> tuple[float, float]:
    low, high = placement.finished_ring.min(axis=0), placement.finished_ring.max(axis=0)
    return float(low[0] + high[0]) / 2, float(low[1] + high[1]) / 2


@pytest.fixture
def plan_window(window, qtbot):
    contents = laid_work(4, sheet("oak"), step=(200, 150))
    window.document.open(Contents((*contents.hides, sheet("elm")), contents.job, contents.plan), {})
    window.go_to("plan")
    settle(qtbot, window)
    window.table.fit()
    return window


def test_the_right_button_selects_a_piece_and_offers_what_can_be_done_with_it(plan_window):
    first = plan_window.document.contents.plan.placements[0]
    words = right_click(plan_window, *middle(first))
    assert plan_window.document.selected == (first,)
    for wanted in ("Lock", "Turn over", "Remove from the hide", "Move to elm", "Select all of this kind"):
        assert wanted in words


def test_the_right_button_on_a_flaw_and_on_a_piece_of_the_job(window):
    window.document.open(Contents((spoiled_sheet(),), job(panel())), {})
    window.go_to("hides")
    window.table.fit()
    words = right_click(window, 500, 300)
    assert {"Duplicate the flaw", "Delete the flaw", "Change the flaw's points"} <= set(words)
    window.go_to("pieces")
    window.table.fit()
    assert "Duplicate the piece" in right_click(window, 50, 30)


def test_all_of_a_kind_are_selected_and_all_locked_ones_unlocked_in_one_step(plan_window):
    plan_window.document.select(plan_window.document.contents.plan.placements[:1])
    plan_window.menus.actions["Select all of this kind"].trigger()
    assert len(plan_window.document.selected) == 4
    plan_window.session.plan.toggle_lock()
    assert all(placed.locked for placed in plan_window.document.contents.plan.placements)
    plan_window.menus.actions["Unlock all"].trigger()
    assert not any(placed.locked for placed in plan_window.document.contents.plan.placements)
    plan_window.document.stack.undo()
    assert all(placed.locked for placed in plan_window.document.contents.plan.placements)


def test_a_piece_a_hide_and_a_flaw_are_duplicated(window):
    window.document.open(Contents((spoiled_sheet(),), job(panel())), {})
    window.go_to("pieces")
    window.menus.actions["Duplicate"].trigger()
    assert [piece.name for piece in window.document.contents.job.articles[0].pieces] == ["panel", "panel 2"]
    window.go_to("hides")
    window.session.hides.select("flaw", 0)
    window.menus.actions["Duplicate"].trigger()
    flaws = window.document.hide.flaws
    assert len(flaws) == 2
    assert flaws[1].disc.diameter == flaws[0].disc.diameter
    assert flaws[1].disc.at != flaws[0].disc.at
    window.session.hides.select("", -1)
    window.menus.actions["Duplicate"].trigger()
    assert [hide.name for hide in window.document.contents.hides] == ["sheet", "sheet copy"]


def test_a_hide_without_its_tick_is_left_out_of_the_next_plan(plan_window, monkeypatch):
    asked = []
    monkeypatch.setattr(plan_window.session.plan_search, "start", asked.append)
    plan_window.panels["plan"].begin()
    assert asked[-1].hides == ()
    plan_window.rack.list.item(1).setCheckState(Qt.CheckState.Unchecked)
    plan_window.panels["plan"].begin()
    assert asked[-1].hides == ("oak",)
    plan_window.rack.refresh()
    assert plan_window.rack.list.item(1).checkState() == Qt.CheckState.Unchecked
    plan_window.rack.list.item(1).setCheckState(Qt.CheckState.Checked)
    plan_window.panels["plan"].begin()
    assert asked[-1].hides == ()


def test_a_piece_dragged_onto_a_hide_of_the_rack_goes_there(plan_window, qtbot):
    window = plan_window
    first = window.document.contents.plan.placements[0]
    view, left, none = window.table.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    start = window.table.pixel_at(middle(first))
    item = window.rack.list.visualItemRect(window.rack.list.item(1)).center()
    goal = view.mapFromGlobal(window.rack.list.viewport().mapToGlobal(item))
    QTest.mousePress(view, left, none, start)
    for step in range(1, 6):
        QTest.mouseMove(view, start + (goal - start) * step / 5)
        rest()
    QTest.mouseRelease(view, left, none, goal)
    settle(qtbot, window)
    hides = [placed.hide for placed in window.document.contents.plan.placements]
    assert hides.count("elm") == 1
    window.document.stack.undo()
    assert [placed.hide for placed in window.document.contents.plan.placements].count("elm") == 0


def test_the_view_zooms_to_what_is_selected_and_its_picture_is_copied(plan_window):
    before = plan_window.table.pixels_per_mm
    plan_window.document.select(plan_window.document.contents.plan.placements[:1])
    plan_window.zoom_to_selection()
    assert plan_window.table.pixels_per_mm > 3 * before
    plan_window.copy_picture()
    picture = QApplication.clipboard().pixmap()
    assert picture.size() == plan_window.table.viewport().grab().size()


def test_what_the_tape_has_measured_stays_until_it_is_put_away(plan_window, hand):
    plan_window.toggle_tape()
    hand.drag((100, 100), (300, 100))
    hand.drag((100, 300), (100, 500))
    shown = [shape.words for shape in plan_window.table.tool.preview() if shape.kind == "words"]
    assert len(shown) == 2
    assert float(shown[0].split()[0]) == pytest.approx(200, abs=3)
    hand.key(Qt.Key.Key_Backspace)
    assert len([shape for shape in plan_window.table.tool.preview() if shape.kind == "words"]) == 1
    hand.key(Qt.Key.Key_Escape)
    assert plan_window.table.tool.preview() == ()


@pytest.mark.parametrize("kind", ["hide", "piece"])
def test_measure_dialogs_show_what_the_measures_make(window, kind):
    if kind == "hide":
        made, field = MeasuredHideDialog(window.settings, window), "length"
    else:
        made, field = MeasuredPieceDialog(window.settings, window), None
    made.show()
    rest()
    made.preview.refresh()
    before = made.preview.picture.pixmap().toImage()
    assert not before.isNull()
    edited = getattr(made, field) if field else next(iter(made.fields[made.kind.value].values()))
    edited.setText("1000 mm" if kind == "hide" else "33 mm")
    made.preview.refresh()
    after = made.preview.picture.pixmap().toImage()
    assert after != before
    edited.setText("no measure")
    made.preview.refresh()
    assert made.preview.picture.pixmap().isNull()
    made.close()


def test_every_control_that_can_be_reached_has_a_name_for_who_does_not_see_it(window, qtbot):
    window.session.files.open([demo_folder()])
    nameless = []
    for step in registered_steps():
        window.go_to(step.name)
        settle(qtbot, window)
        rest()
        for widget in window.findChildren(QWidget):
            if (
                widget.focusPolicy() == Qt.FocusPolicy.NoFocus
                or widget.focusProxy()
                or not widget.isVisible()
            ):
                continue
            words = widget.text() if isinstance(widget, QAbstractButton) else ""
            inner = isinstance(widget, QLineEdit) and widget.parentWidget().inherits("QComboBox")
            if not (words.strip() or widget.accessibleName() or inner):
                nameless.append(f"{step.name}: {type(widget).__name__} {widget.objectName()}")
    assert nameless == []


def test_a_sheet_is_seen_before_it_is_printed(window, monkeypatch):
    from PySide6.QtPrintSupport import QPrintPreviewDialog

    contents = laid_work(4)
    window.document.open(replace(contents), {})
    shown = []

    def look(dialog):
        dialog.resize(500, 400)
        dialog.show()
        rest()
        pages = [view for view in dialog.findChildren(QWidget) if view.inherits("QPrintPreviewWidget")]
        shown.append(pages[0].pageCount())
        dialog.close()

    monkeypatch.setattr(QPrintPreviewDialog, "exec", look)
    window.session.papers.ask_preview("cut sheet")
    assert shown
    assert shown[0] >= 1


def test_a_plan_opened_with_a_job_that_has_changed_loses_only_what_the_job_no_longer_cuts(window, tmp_path):
    plan = small_rack(tmp_path)
    path = tmp_path / "small.job.json"
    job = read_job(path)
    (article,) = job.articles
    piece = msgspec.structs.replace(article.pieces[0], cuts=(LayerCut(layer="lining"),))
    layers = (*job.layers, Layer(name="lining"))
    write_job(
        path,
        msgspec.structs.replace(
            job, layers=layers, articles=(msgspec.structs.replace(article, pieces=(piece,)),)
        ),
    )
    window.session.files.open([plan])
    assert window.document.contents.plan.placements == ()
    assert (
        "2 placements of pieces that the job does not cut so any more were left out"
        in window.notice.words.text()
    )
    for step in window.registered:
        window.go_to(step)
        window.grab()
