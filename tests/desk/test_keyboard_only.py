"""The whole job with the keyboard alone, from the empty table to the cut sheet: widgets are touched by keys only."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from nestplan.model.audit import check
from tests.desk.conftest import settle

NONE, SHIFT = Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ShiftModifier
CONTROL = Qt.KeyboardModifier.ControlModifier


class Keyboard:
    """Keys go where the focus is, as they do at a desk."""

    def __init__(self, window: QWidget) -> None:
        self.window = window

    @property
    def focus(self) -> QWidget:
        return QApplication.focusWidget() or QApplication.activeModalWidget() or self.window

    def press(self, key: Qt.Key, modifiers: Qt.KeyboardModifier = NONE, times: int = 1) -> None:
        for _ in range(times):
            QTest.keyClick(self.focus, key, modifiers)
            QApplication.processEvents()

    def type(self, words: str) -> None:
        QTest.keyClicks(self.focus, words)
        QApplication.processEvents()

    def tab_to(self, name: str) -> None:
        """Press Tab until the control of that name has the focus."""
        for _ in range(120):
            widget = self.focus
            if name in (widget.accessibleName(), getattr(widget, "text", lambda: "")()):
                return
            self.press(Qt.Key.Key_Tab)
        raise AssertionError(f"Tab never reaches {name!r}")


@pytest.fixture
def keyboard(window):
    window.activateWindow()
    QApplication.processEvents()
    return Keyboard(window)


def test_the_whole_job_with_the_keyboard_alone(window, keyboard, qtbot, tmp_path, monkeypatch):
    # A hide is traced: arrows move the pen over the table, Space sets a point, Enter closes the outline.
    keyboard.press(Qt.Key.Key_H, CONTROL)
    assert keyboard.focus is window.table
    for key, times in (
        (Qt.Key.Key_Left, 20), (Qt.Key.Key_Down, 15), (Qt.Key.Key_Right, 40), (Qt.Key.Key_Up, 30),
        (Qt.Key.Key_Left, 40),
    ):  # fmt: skip
        keyboard.press(key, times=times)
        if key is not Qt.Key.Key_Left or times == 40:
            keyboard.press(Qt.Key.Key_Space)
    keyboard.press(Qt.Key.Key_Return)
    hide = window.document.hide
    assert hide is not None
    assert hide.gross_area > 100_000

    # A piece from its measures: Tab goes through the fields, Enter makes it.
    keyboard.press(Qt.Key.Key_M, CONTROL)
    keyboard.tab_to("Name")
    keyboard.press(Qt.Key.Key_A, CONTROL)
    keyboard.type("pouch")
    keyboard.tab_to("Make it")
    keyboard.press(Qt.Key.Key_Space)
    assert window.document.piece is not None
    assert window.document.piece.name == "pouch"

    # Without a window manager nobody gives the window its focus back when a dialog closes.
    window.activateWindow()
    QApplication.processEvents()

    # The search starts, and ends with a plan that the check finds right.
    monkeypatch.setattr(window.settings.__class__, "minutes", property(lambda _: 0.03, lambda *_: None))
    window.panels["plan"].minutes.set_value(0.03)
    keyboard.press(Qt.Key.Key_Return, CONTROL)
    qtbot.waitUntil(lambda: not window.session.plan_search.running, timeout=120_000)
    settle(qtbot, window)
    plan = window.document.contents.plan
    assert plan is not None
    assert plan.placements
    assert check(plan, window.document.contents.job, window.document.contents.hides) == ()

    # By hand: N selects, arrows nudge, L locks, Ctrl+Z takes back.
    keyboard.tab_to("Table")
    keyboard.press(Qt.Key.Key_N)
    before = window.document.contents.plan.placements[0]
    keyboard.press(Qt.Key.Key_Right)
    assert window.document.contents.plan.placements[0].x == pytest.approx(before.x + 1.0)
    keyboard.press(Qt.Key.Key_Z, CONTROL)
    assert window.document.contents.plan.placements[0].x == pytest.approx(before.x)
    keyboard.press(Qt.Key.Key_L)
    assert window.document.contents.plan.placements[0].locked

    # At the table: the list is ticked with Space, and the cut sheet is written.
    keyboard.press(Qt.Key.Key_5, CONTROL)
    keyboard.tab_to("Order of cutting")
    keyboard.press(Qt.Key.Key_Home)
    keyboard.press(Qt.Key.Key_Space)
    assert window.document.contents.plan.placements[0].done
    sheet = tmp_path / "cut-sheet.pdf"
    monkeypatch.setattr(
        "nestplan.desk.actions.papers.QFileDialog.getSaveFileName", lambda *_: (str(sheet), "PDF (*.pdf)")
    )
    keyboard.press(Qt.Key.Key_P, CONTROL | SHIFT)
    assert sheet.read_bytes().startswith(b"%PDF")
