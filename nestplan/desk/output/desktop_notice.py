"""A word to someone who has turned to another window while a long search went on."""

from __future__ import annotations

from PySide6.QtWidgets import QApplication, QSystemTrayIcon, QWidget

from nestplan.desk.theme import icon

__all__ = ["tell_desktop"]

_SHOWN = 15_000
"""How long the desktop shows it, ms."""


def tell_desktop(window: QWidget, words: str) -> bool:
    """Mark the window in the taskbar and, where the desktop has a place for it, show `words`. Whether it was needed:
    a window at which someone works is not interrupted."""
    if window.isActiveWindow():
        return False
    QApplication.alert(window)
    if QSystemTrayIcon.isSystemTrayAvailable():
        tray = QSystemTrayIcon(icon("nestplan"), window)
        tray.messageClicked.connect(window.activateWindow)
        tray.messageClicked.connect(tray.deleteLater)
        tray.show()
        tray.showMessage("nestplan", words, icon("nestplan"), _SHOWN)
    return True
