"""The window on small screens: 1024 × 700, and 1440 × 900 at 200 %, which is 720 × 450; nothing needed is cut off."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QScrollArea

from nestplan.desk.dialogs.guide import GuideWindow
from nestplan.desk.dialogs.measured_hide import MeasuredHideDialog
from nestplan.desk.dialogs.measured_piece import MeasuredPieceDialog
from nestplan.desk.dialogs.photo import PhotoDialog
from nestplan.desk.dialogs.projector import ProjectorDialog
from nestplan.desk.dialogs.retrace import RetraceDialog
from nestplan.desk.dialogs.sizes import SizesDialog
from nestplan.desk.dialogs.templates import TemplatesDialog
from nestplan.desk.steps import registered_steps
from nestplan.desk.theme import apply_theme, current_theme
from nestplan.resources import demo_folder
from nestplan.tasks.contents import Contents
from tests.desk.conftest import settle
from tests.desk.layout_faults import layout_faults, out_of_window
from tests.desk.small_work import laid_work, sheet
from tests.small_jobs import laced_job

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


@pytest.fixture(params=["light", "dark"])
def look(request, qapp):
    """The window in each light."""
    before = current_theme().name
    apply_theme(qapp, request.param)
    yield request.param
    apply_theme(qapp, before)


@pytest.mark.parametrize("size", SIZES.values(), ids=SIZES.keys())
@pytest.mark.parametrize("laid", [False, True], ids=["empty", "demo"])
def test_nothing_is_cut_off_or_lies_on_another(look, window, qtbot, size, laid):
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


@pytest.mark.parametrize("size", SIZES.values(), ids=SIZES.keys())
def test_nothing_of_a_laced_article_and_its_rows_is_cut_off(look, window, size):
    wanted = laced_job()
    window.document.open(Contents((sheet(),), wanted), {})
    window.resize(size - FRAME)
    window.go_to("pieces")
    pieces = window.panels["pieces"]
    pieces._article = wanted.articles[0].name
    pieces.show_job(wanted)
    rest()
    assert pieces.lacing.isVisible()
    assert layout_faults(window) == []
    pieces.select(wanted.articles[0].pieces[0].name)
    rest()
    assert layout_faults(window) == []


_ENLARGED = """
import sys
from pathlib import Path
from PySide6.QtCore import QSettings, QSize
from PySide6.QtWidgets import QApplication
folder = Path(sys.argv[1])
QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, str(folder))
from nestplan.desk.app import make_application
from nestplan.desk.theme import apply_theme
from nestplan.desk.window import Window
from nestplan.resources import demo_folder
from tests.desk.layout_faults import layout_faults
application = make_application()
for look in ("light", "dark"):
    apply_theme(application, look)
    window = Window(recovery=folder / look)
    window.show()
    window.session.files.open([demo_folder()])
    for step in window.registered:
        window.go_to(step)
        window.resize(QSize(712, 414))
        for _ in range(6):
            application.processEvents()
        assert window.devicePixelRatioF() == 2.0
        print(*(f"{look}, {step}: {fault}" for fault in layout_faults(window)), sep="\\n", end="")
    window.document.stack.setClean()
    window.close()
print("looked at")
"""


def test_nothing_is_cut_off_where_the_desktop_enlarges_all_to_200_percent(tmp_path):
    done = subprocess.run(
        [sys.executable, "-c", _ENLARGED, str(tmp_path)],
        cwd=Path(__file__).resolve().parents[2],
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen", "QT_SCALE_FACTOR": "2"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout == "looked at\n", done.stdout + done.stderr[-2000:]


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


DIALOGS = ["hide", "piece", "photo", "templates", "retrace", "sizes", "projector", "guide"]


@pytest.mark.parametrize("dialog", DIALOGS)
def test_dialogs_fit_on_a_screen_of_200_percent(look, window, tmp_path, dialog):
    image = QImage(300, 200, QImage.Format.Format_RGB32)
    image.fill(0)
    photo = str(tmp_path / "hide.png")
    image.save(photo)
    contents, settings = laid_work(2), window.settings
    window.document.open(contents, {})
    made = {
        "hide": lambda: MeasuredHideDialog(settings, window),
        "piece": lambda: MeasuredPieceDialog(settings, window),
        "photo": lambda: PhotoDialog(photo, settings, window),
        "templates": lambda: TemplatesDialog(photo, settings, window),
        "retrace": lambda: RetraceDialog(photo, contents.hides[0].name, contents, settings, window),
        "sizes": lambda: SizesDialog(contents.job, contents.job.articles[0], settings, window),
        "projector": lambda: ProjectorDialog(window.document, settings, window),
        "guide": lambda: GuideWindow("", window),
    }[dialog]()
    room = SIZES["200 %"] - FRAME
    made.resize(made.sizeHint().boundedTo(room))
    made.show()
    rest()
    assert made.width() <= room.width()
    assert made.height() <= room.height()
    assert layout_faults(made) == []
    assert out_of_window(made) == []
    for area in made.findChildren(QScrollArea):
        assert area.widget().width() <= area.viewport().width()
    made.close()


@pytest.mark.parametrize("kind", [MeasuredHideDialog, MeasuredPieceDialog])
def test_a_dialog_that_finds_room_shows_no_bar_to_scroll_it(window, kind):
    dialog = kind(window.settings, window)
    dialog.open()
    rest()
    (area,) = dialog.findChildren(QScrollArea)
    assert dialog.height() < dialog.screen().availableSize().height()
    assert area.verticalScrollBar().maximum() == 0
    dialog.close()


def test_the_pictures_of_the_guide_are_never_wider_than_it(window):
    guide = GuideWindow("", window)
    for width in (712, 500, 860, 1100):
        guide.resize(width, 414)
        guide.show()
        rest()
        assert guide.text.horizontalScrollBar().maximum() == 0, width
    guide.close()


def test_what_is_fitted_keeps_off_the_key_to_the_colours(window):
    window.resize(SIZES["1440 x 900"] - FRAME)
    window.document.open(laid_work(4, sheet(width=2400, height=500)), {})
    window.go_to("plan")
    rest()
    window.table.fit()
    assert window.legend.isVisible()
    lowest = window.table.pixel_at((0, 0)).y()
    assert lowest < window.legend.y()


def test_a_message_lies_beside_the_key_to_the_colours(window):
    window.resize(SIZES["1440 x 900"] - FRAME)
    window.document.open(laid_work(4), {})
    window.go_to("plan")
    rest()
    window.session.messages.notify("A message that says what was done. " * 6)
    rest()
    legend = window.legend.mapTo(window.notice.parentWidget(), window.legend.rect().topRight()).x()
    assert window.legend.isVisible()
    assert window.notice.x() > legend
    assert window.notice.geometry().right() <= window.notice.parentWidget().width()


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
