"""The menu Edit: every change taken back or made again."""

from __future__ import annotations

from PySide6.QtGui import QKeySequence, QUndoStack
from PySide6.QtWidgets import QMenu

from nestplan.desk.menus.builder import MenuBuilder

__all__ = ["fill_edit_menu"]


def fill_edit_menu(builder: MenuBuilder, menu: QMenu, stack: QUndoStack) -> None:
    """Fill the menu with the two entries of the undo stack."""
    undo = stack.createUndoAction(menu, "&Undo")
    undo.setShortcut(QKeySequence.StandardKey.Undo)
    redo = stack.createRedoAction(menu, "&Redo")
    redo.setShortcuts([QKeySequence("Ctrl+Shift+Z"), QKeySequence("Ctrl+Y")])
    for name, action in (("Undo", undo), ("Redo", redo)):
        menu.addAction(action)
        builder.keep(name, action, name.lower())
