"""The menu Pieces: where a piece comes from, and what is drawn on it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QMenu

from nestplan.desk.actions.files import FileActions
from nestplan.desk.editing.piece_editor import PieceEditor
from nestplan.desk.menus.builder import MenuBuilder
from nestplan.desk.navigation import Navigation

__all__ = ["fill_pieces_menu"]


def fill_pieces_menu(
    builder: MenuBuilder,
    menu: QMenu,
    editor: PieceEditor,
    files: FileActions,
    navigation: Navigation,
    *,
    measure: Callable[[], object],
    draw: Callable[[], object],
    ask_sizes: Callable[[], object],
) -> None:
    """Fill the menu; `measure` asks for a piece's figures, `draw` begins one on the table, `ask_sizes` asks
    for the sizes of an article."""

    def add(words: str, action: Callable[[], object], keys: str = "", icon: str = "") -> None:
        def act() -> None:
            navigation.go_to("pieces")
            action()

        builder.add(menu, words, act, keys=keys, icon=icon)

    add("From &measures … ", measure, "Ctrl+M", "measures")
    builder.add(menu, "&Draw a piece", draw, keys="Ctrl+Shift+H", icon="trace")
    builder.add(menu, "From a drawing &file … ", files.ask_pieces)
    builder.add(menu, "From a p&hotograph of templates … ", files.ask_templates, icon="photo")
    menu.addSeparator()
    add("Change the outline's &points", editor.edit_points, "", "points")
    add("Set m&arks by clicking", editor.set_marks, "Ctrl+K", "mark")
    add("Draw a &row along the edge", lambda: editor.draw_row("edge"), "Ctrl+Shift+K", "mark")
    menu.addSeparator()
    add("Other si&zes … ", ask_sizes, "Ctrl+G")
