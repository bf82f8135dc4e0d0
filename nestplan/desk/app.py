"""The application round the window: made once, dressed, and left when the window is closed."""

from __future__ import annotations

import signal
import sys
from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from nestplan import __version__
from nestplan.desk.background.freed_memory import share_heaps
from nestplan.desk.background.preparing import prepare_in_background
from nestplan.desk.settings import Settings
from nestplan.desk.theme import apply_theme, icon
from nestplan.desk.window import Window

__all__ = ["make_application", "run"]


def make_application() -> QApplication:
    """The one application, named so that settings and recovered work have their place."""
    share_heaps()
    application = QApplication.instance()
    if not isinstance(application, QApplication):
        application = QApplication(sys.argv[:1])
    application.setOrganizationName("nestplan")
    application.setApplicationName("nestplan")
    application.setApplicationVersion(__version__)
    return application


def run(files: Sequence[Path]) -> int:
    """Open the window on `files` and stay until it is closed; gives the exit code."""
    application = make_application()
    settings = Settings()
    apply_theme(application, settings.theme)
    application.setWindowIcon(icon("nestplan"))
    window = Window(tips=True)
    window.show()
    QTimer.singleShot(0, window, lambda: prepare_in_background(window, window.session.messages.notify))
    if files:
        QTimer.singleShot(0, window, lambda: window.session.files.open(list(files)))
    # Ctrl-C in the terminal closes the window as any other way of closing it does.
    signal.signal(signal.SIGINT, lambda *_: window.close())
    listening = QTimer(window)
    listening.start(250)
    listening.timeout.connect(lambda: None)
    return application.exec()
