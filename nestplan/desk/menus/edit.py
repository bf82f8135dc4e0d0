"""The menu Edit: every change taken back or made again; while something is half drawn, its last point first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtGui import QKeySequence, QUndoStack
from PySide6.QtWidgets import QMenu

from nestplan.desk.menus.builder import MenuBuilder
from nestplan.desk.table.canvas import Table

__all__ = ["EditCommands", "fill_edit_menu"]


@dataclass(frozen=True)
class EditCommands:
    """What the menu does with what is selected in the step at hand."""

    duplicate: Callable[[], object]
    select_all: Callable[[], object]
    select_kind: Callable[[], object]
    copy_picture: Callable[[], object]


def fill_edit_menu(
    builder: MenuBuilder, menu: QMenu, stack: QUndoStack, table: Table, commands: EditCommands
) -> None:
    """Fill the menu with the two entries of the undo stack, and what can be done with a selection."""
    undo, redo = menu.addAction("&Undo"), menu.addAction("&Redo")
    undo.setShortcut(QKeySequence.StandardKey.Undo)
    redo.setShortcuts([QKeySequence("Ctrl+Shift+Z"), QKeySequence("Ctrl+Y")])
    for name, action in (("Undo", undo), ("Redo", redo)):
        builder.keep(name, action, name.lower())

    def refresh(_: object = None) -> None:
        drawing = table.tool.unfinished
        undo.setEnabled(drawing or stack.canUndo())
        redo.setEnabled(stack.canRedo())
        what = "the last point" if drawing else stack.undoText()
        undo.setText(f"&Undo: {what}" if what else "&Undo")
        redo.setText(f"&Redo: {stack.redoText()}" if stack.redoText() else "&Redo")

    def take_back(_: object = None) -> None:
        if not table.undo_drawing():
            stack.undo()

    menu.addSeparator()
    builder.add(menu, "&Duplicate", commands.duplicate, keys="Ctrl+Shift+D")
    builder.add(menu, "Select &all on this hide", commands.select_all, keys="Ctrl+A")
    builder.add(menu, "Select all of this &kind", commands.select_kind, keys="Ctrl+Shift+A")
    builder.add(menu, "&Copy the picture of the table", commands.copy_picture, keys="Ctrl+Shift+C")
    undo.triggered.connect(take_back)
    redo.triggered.connect(lambda _=False: stack.redo())
    stack.indexChanged.connect(refresh)
    table.tool_changed.connect(refresh)
    refresh()
