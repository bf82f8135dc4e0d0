"""Dialogs that are shown once: when they are closed, they and their pictures leave the memory too."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog

__all__ = ["ask_dialog", "open_dialog"]


def open_dialog(dialog: QDialog) -> None:
    """Open a dialog over its window; it is deleted once it is closed."""
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.open()


def ask_dialog(dialog: QDialog) -> int:
    """Show a dialog and wait for its answer, which is returned; it is deleted once what was asked has been read."""
    try:
        return dialog.exec()
    finally:
        dialog.deleteLater()
