"""The menu Hide: where a hide comes from, and what is drawn on it; and the menu of the rack's button."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QMenu

from nestplan.desk.actions.files import FileActions
from nestplan.desk.editing.hide_editor import HideEditor
from nestplan.desk.menus.builder import MenuBuilder
from nestplan.desk.navigation import Navigation

__all__ = ["fill_adding_menu", "fill_hides_menu"]


def fill_hides_menu(
    builder: MenuBuilder,
    menu: QMenu,
    editor: HideEditor,
    files: FileActions,
    navigation: Navigation,
    *,
    trace: Callable[[], object],
) -> None:
    """Fill the menu; `trace` begins a new hide on the table."""

    def add(words: str, action: Callable[[], object], keys: str = "", icon: str = "") -> None:
        def act() -> None:
            navigation.go_to("hides")
            action()

        builder.add(menu, words, act, keys=keys, icon=icon)

    builder.add(menu, "&Trace a new hide", trace, keys="Ctrl+H", icon="trace")
    builder.add(menu, "From a &photograph …", files.ask_photo, icon="photo")
    builder.add(menu, "From &measures …", files.ask_measures, icon="measures")
    builder.add(menu, "From a &drawing file …", files.ask_hide_drawing)
    builder.add(menu, "Find &it again in a photograph … ", files.ask_again, icon="photo")
    menu.addSeparator()
    add("&Change points", editor.edit_points, "Ctrl+E", "points")
    add("Trace the &outline again", editor.trace_outline)
    add("Round &flaw", lambda: editor.draw_flaw("disc"), "Ctrl+D", "disc")
    add("&Line flaw", lambda: editor.draw_flaw("line"), "Ctrl+L", "line")
    add("Flaw &with an outline", lambda: editor.draw_flaw("outline"), "Ctrl+F", "area")
    add("&Region", editor.draw_region, "Ctrl+R", "region")
    add("&Backbone", editor.draw_backbone, "Ctrl+B", "backbone")
    add("&Stretch", editor.draw_stretch, "", "stretch")


def fill_adding_menu(menu: QMenu, files: FileActions, trace: Callable[[], object]) -> None:
    """The ways to put one more hide on the rack."""
    menu.addAction("Trace one on the table", trace)
    menu.addAction("From a photograph …", files.ask_photo)
    menu.addAction("From measures …", files.ask_measures)
    menu.addAction("From a drawing file …", files.ask_hide_drawing)
    menu.addAction("Open hide files …", files.ask_open)
