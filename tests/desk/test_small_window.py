"""The window on small screens: 1024 × 700, and 1440 × 900 at 200 %, which is 720 × 450; nothing needed is cut off."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QScrollArea

from nestplan.desk.dialogs.measured_hide import MeasuredHideDialog
from nestplan.desk.dialogs.measured_piece import MeasuredPieceDialog
from nestplan.desk.dialogs.photo import PhotoDialog
from nestplan.desk.dialogs.projector import ProjectorDialog
from nestplan.desk.steps import registered_steps
from nestplan.resources import demo_folder
from tests.desk.conftest import settle
from tests.desk.layout_faults import layout_faults, out_of_window
from tests.desk.small_work import laid_work

STEPS = [step.name for step in registered_steps()]
SIZES = {"200 %": QSize(720, 450), "1024 x 700": QSize(1024, 700), "1440 x 900": QSize(1440, 900)}
FRAME = QSize(8, 36)
"""What a desktop's frame takes."""


def rest():
    for _ in range(4):
        QApplication.processEvents()


def test_the_window_may_be_as_small_as_a_screen_of_200_percent(window):
    room = SIZES["200 %"] - FRAME
    for step in STEPS:
        window.go_to(step)
        rest()
        least = window.minimumSizeHint()
        assert least.width() <= room.width(), step
        assert least.height() <= room.height(), step


@pytest.mark.parametrize("size", SIZES.values(), ids=SIZES.keys())
@pytest.mark.parametrize("laid", [False, True], ids=["empty", "demo"])
def test_nothing_is_cut_off_or_lies_on_another(window, qtbot, size, laid):
    if laid:
        window.session.files.open([demo_folder()])
    window.resize(size - FRAME)
    for step in STEPS:
        window.go_to(step)
        settle(qtbot, window)
        rest()
        assert window.size() == size - FRAME
        assert layout_faults(window) == [], step
        assert out_of_window(window) == [], step


def test_the_table_keeps_room_where_the_window_is_small(window):
    window.document.open(laid_work(4), {})
    window.resize(SIZES["200 %"] - FRAME)
    for step in ("hides", "pieces", "plan", "cut"):
        window.go_to(step)
        rest()
        view = window.table.viewport()
        assert view.width() >= 300, step
        assert view.height() >= 240, step


def test_the_rack_makes_room_in_a_narrow_window_and_comes_when_it_is_asked_for(window):
    window.document.open(laid_work(4), {})
    rest()
    assert window.rack.isVisible()
    window.resize(720, 420)
    rest()
    assert not window.rack.isVisible()
    QTest.keyClick(window, Qt.Key.Key_F7)
    rest()
    assert window.rack.isVisible()
    QTest.keyClick(window, Qt.Key.Key_F8)
    rest()
    assert not window.side.isVisible()


def test_the_window_opens_inside_the_screen_even_if_it_was_larger_when_it_closed(
    window, window_factory, tmp_path
):
    window.resize(3000, 2000)
    window.settings.geometry = window.saveGeometry()
    window.settings.save()
    opened = window_factory(tmp_path / "other")
    room = opened.screen().availableGeometry()
    assert opened.width() <= room.width()
    assert opened.height() <= room.height()
    assert room.contains(opened.geometry())


def test_how_the_room_is_shared_out_is_remembered(window, window_factory, tmp_path):
    window.resize(1320, 840)
    rest()
    window.body.setSizes([250, 600, 460])
    sizes = window.body.sizes()
    window.document.stack.setClean()
    window.settings.geometry, window.settings.columns = window.saveGeometry(), window.body.saveState()
    window.settings.save()
    opened = window_factory(tmp_path / "other")
    opened.resize(1320, 840)
    rest()
    assert opened.body.sizes()[0] == pytest.approx(sizes[0], abs=8)
    assert opened.body.sizes()[2] == pytest.approx(sizes[2], abs=8)


@pytest.mark.parametrize("dialog", ["hide", "piece", "photo", "projector"])
def test_dialogs_fit_on_a_screen_of_200_percent(window, tmp_path, dialog):
    image = QImage(300, 200, QImage.Format.Format_RGB32)
    image.fill(0)
    image.save(str(tmp_path / "hide.png"))
    made = {
        "hide": lambda: MeasuredHideDialog(window.settings, window),
        "piece": lambda: MeasuredPieceDialog(window.settings, window),
        "photo": lambda: PhotoDialog(str(tmp_path / "hide.png"), window.settings, window),
        "projector": lambda: ProjectorDialog(window.document, window.settings, window),
    }[dialog]()
    room = SIZES["200 %"] - FRAME
    made.resize(made.sizeHint().boundedTo(room))
    made.show()
    rest()
    assert made.minimumSizeHint().width() <= room.width()
    assert made.minimumSizeHint().height() <= room.height()
    assert made.width() <= room.width()
    assert made.height() <= room.height()
    assert layout_faults(made) == []
    for area in made.findChildren(QScrollArea):
        assert area.widget().width() <= area.viewport().width()
    made.close()


def test_a_message_lies_over_the_table_and_pushes_nothing(window):
    window.document.open(laid_work(4), {})
    rest()
    before = window.table.geometry(), window.ruled.geometry()
    window.session.messages.notify("A message that says something of some length about what was done. " * 4)
    rest()
    assert window.notice.isVisible()
    assert (window.table.geometry(), window.ruled.geometry()) == before
    assert window.ruled.parentWidget().parentWidget().rect().contains(window.notice.geometry())


def test_what_was_deleted_can_be_taken_back_in_the_message(window):
    window.document.open(laid_work(4), {})
    name = window.document.hide.name
    window.document.remove_hide(name)
    rest()
    assert name in window.notice.words.text()
    next(made for made in window.notice.offers if made.text() == "Undo").click()
    rest()
    assert window.document.hide.name == name
    assert not window.notice.isVisible()


def test_an_offer_to_undo_goes_once_something_else_is_the_last_change(window):
    contents = laid_work(4)
    window.document.open(contents, {})
    window.document.remove_hide(window.document.hide.name)
    assert window.notice.offers_undo
    window.document.edit_job("Rename", None)
    assert not window.notice.isVisible()


def test_a_click_on_undo_in_the_menu_takes_back_the_last_point_while_something_is_drawn(window, hand):
    window.document.open(laid_work(4), {})
    window.go_to("hides")
    rest()
    steps = window.document.stack.index()
    window.session.hides.draw_flaw("outline")
    for at in ((100, 100), (200, 100), (200, 180)):
        hand.click(*at)
    undo = window.menus.actions["Undo"]
    assert undo.text() == "&Undo: the last point"
    undo.trigger()
    assert len(window.table.tool.points) == 2
    assert window.document.stack.index() == steps


def test_the_key_to_the_colours_lies_on_a_large_table_and_on_a_small_one_where_it_is_asked_for(window):
    window.document.open(laid_work(4), {})
    window.go_to("plan")
    rest()
    assert window.legend.isVisible()
    assert window.toolbar.legend.isChecked()
    window.resize(712, 414)
    rest()
    assert not window.legend.isVisible()
    assert not window.toolbar.legend.isChecked()
    QTest.keyClick(window, Qt.Key.Key_F6)
    rest()
    assert window.legend.isVisible()
    words = [label.text() for label in window.legend.findChildren(QLabel) if label.isVisible()]
    assert "belt" in words, "the article by its colour"
    assert window.settings.legend is True
