"""The menu Plan: searching, comparing, what is done with a selected piece, and what follows when all is cut."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QMenu

from nestplan.desk.actions.cutting import CutActions
from nestplan.desk.actions.projector import ProjectorAction
from nestplan.desk.editing.plan_editor import PlanEditor
from nestplan.desk.menus.builder import MenuBuilder

__all__ = ["fill_plan_menu"]


def fill_plan_menu(
    builder: MenuBuilder,
    menu: QMenu,
    editor: PlanEditor,
    cuts: CutActions,
    projector: ProjectorAction,
    *,
    search: Callable[[], object],
    compare: Callable[[], object],
) -> None:
    """Fill the menu; `search` looks for a plan, `compare` asks what each hide gives."""
    builder.add(menu, "&Plan", search, keys="Ctrl+Return", icon="plan")
    builder.add(menu, "Compare the &hides", compare)
    menu.addSeparator()
    for words, action, icon, key in (
        ("Lo&ck or unlock", editor.toggle_lock, "lock", "L"),
        ("&Turn over", editor.turn_over, "over", "M"),
        ("Slide to the &nearest free place", editor.slide_free, "slide", "F"),
        ("Remove fr&om the hide", editor.take_off, "off", "Del"),
        ("&Mark as cut", editor.mark_cut, "done", "Enter"),
    ):
        made = builder.add(menu, words, action, icon=icon)
        made.setText(f"{words}\t{key}")  # a key of the table: shown here, heard there
    builder.add(menu, "&Unlock all", editor.unlock_all)
    menu.addSeparator()
    builder.add(menu, "All is cut: put the &rest back …", cuts.commit)
    builder.add(menu, "Take the last cut &back …", cuts.take_back)
    builder.add(menu, "Under a pro&jector …", projector.show, keys="Ctrl+J")
