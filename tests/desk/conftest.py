"""What every test of the window needs: no screen, settings of its own, a window that is torn down whole."""

from __future__ import annotations

import os
import threading

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest

pytest.importorskip(
    "PySide6.QtWidgets", reason="PySide6-Essentials or its system libraries are not installed"
)

from PySide6.QtCore import QEvent, QSettings, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from nestplan.desk.app import make_application
from nestplan.desk.theme import apply_theme
from nestplan.desk.window import Window

LAST_KERNEL = 300.0
"""Seconds waited for a thread that was called off: on a cold cache it may be compiling, which nothing interrupts."""


@pytest.fixture(scope="session")
def qapp_cls():
    return QApplication


@pytest.fixture(autouse=True)
def fresh_settings(tmp_path):
    """Each test remembers nothing of the last one."""
    QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, str(tmp_path / "settings"))


@pytest.fixture(autouse=True)
def nothing_left_behind(qapp):
    """No thread and no running timer outlives its test."""
    before = set(threading.enumerate())
    yield
    QApplication.processEvents()
    left = [t for t in threading.enumerate() if t not in before and t.is_alive()]
    for thread in left:
        thread.join(LAST_KERNEL)
    # The engine's own pool may be kept by Python until exit; ours are named.
    ours = [t.name for t in left if t.is_alive() and t.name.startswith("nestplan")]
    assert not ours, f"threads left behind: {ours}"
    timers = [
        timer
        for window in QApplication.topLevelWidgets()
        if isinstance(window, Window)
        for timer in window.findChildren(QTimer)
        if timer.isActive()
    ]
    assert not timers, "timers left running"


@pytest.fixture
def window(qapp, qtbot, tmp_path):
    """A window on an empty table, shown."""
    make_application()
    if not qapp.styleSheet():
        apply_theme(qapp, "light")
    made = Window(recovery=tmp_path / "recovery")
    made.resize(1320, 840)
    made.show()
    qtbot.waitExposed(made)
    QApplication.processEvents()
    yield made
    made.document.stack.setClean()
    assert made.close()
    made.deleteLater()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    QApplication.processEvents()


class Mouse:
    """The mouse over a window's table, in mm."""

    def __init__(self, window: Window) -> None:
        self.table = window.table

    def click(self, *at: float, shift: bool = False) -> None:
        keys = Qt.KeyboardModifier.ShiftModifier if shift else Qt.KeyboardModifier.NoModifier
        QTest.mouseClick(self.table.viewport(), Qt.MouseButton.LeftButton, keys, self.table.pixel_at(at))

    def move(self, *at: float) -> None:
        QTest.mouseMove(self.table.viewport(), self.table.pixel_at(at))
        QApplication.processEvents()

    def double(self, *at: float) -> None:
        self.click(*at)
        QTest.mouseDClick(
            self.table.viewport(),
            Qt.MouseButton.LeftButton,
            Qt.KeyboardModifier.NoModifier,
            self.table.pixel_at(at),
        )
        QTest.mouseRelease(
            self.table.viewport(),
            Qt.MouseButton.LeftButton,
            Qt.KeyboardModifier.NoModifier,
            self.table.pixel_at(at),
        )

    def drag(self, start: tuple[float, float], *stops: tuple[float, float], release: bool = True) -> None:
        view, button = self.table.viewport(), Qt.MouseButton.LeftButton
        none = Qt.KeyboardModifier.NoModifier
        QTest.mousePress(view, button, none, self.table.pixel_at(start))
        for stop in stops:
            QTest.mouseMove(view, self.table.pixel_at(stop))
            QApplication.processEvents()
        if release:
            self.release(stops[-1])

    def release(self, at: tuple[float, float]) -> None:
        QTest.mouseRelease(
            self.table.viewport(),
            Qt.MouseButton.LeftButton,
            Qt.KeyboardModifier.NoModifier,
            self.table.pixel_at(at),
        )

    def trace(self, *points: tuple[float, float]) -> None:
        for at in points:
            self.click(*at)
        self.click(*points[0])

    def key(self, key: Qt.Key, keys: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        QTest.keyClick(self.table, key, keys)


@pytest.fixture
def hand(window):
    return Mouse(window)


def settle(qtbot, window) -> None:
    """Wait until the plan on the table has been judged."""
    qtbot.waitUntil(lambda: not window.session.checker.busy, timeout=120_000)
    QApplication.processEvents()


@pytest.fixture
def window_factory(qapp, qtbot):
    """Makes windows whose kept work lies in a folder of the test's choice."""
    made: list[Window] = []

    def make(recovery) -> Window:
        window = Window(recovery=recovery)
        window.show()
        qtbot.waitExposed(window)
        made.append(window)
        return window

    yield make
    for window in made:
        window.document.stack.setClean()
        assert window.close()
        window.deleteLater()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
