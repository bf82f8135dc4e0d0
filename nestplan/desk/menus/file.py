"""The menu File: opening, saving, printing, exporting."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QMenu

from nestplan.desk.actions.files import FileActions
from nestplan.desk.actions.papers import PaperActions
from nestplan.desk.menus.builder import MenuBuilder
from nestplan.desk.plain_text import menu_text, plain_tip
from nestplan.desk.settings import Paper, Settings
from nestplan.sheets.catalogue import SHEETS, everything_to_export

__all__ = ["fill_file_menu", "fill_recent_menu"]

_PAPERS: dict[Paper, str] = {"a4": "A4", "letter": "Letter", "a3": "A3"}


def fill_file_menu(
    builder: MenuBuilder,
    menu: QMenu,
    files: FileActions,
    papers: PaperActions,
    settings: Settings,
    leave: Callable[[], object],
) -> None:
    """Fill the menu; `leave` ends the program."""
    add = builder.add
    add(menu, "&New, empty table", files.start_anew, keys="Ctrl+N")
    add(menu, "&Open …", files.ask_open, keys="Ctrl+O", icon="open")
    add(menu, "Open a &folder …", files.ask_folder)
    recent = menu.addMenu("Open &again")
    recent.aboutToShow.connect(lambda: fill_recent_menu(recent, files, settings))
    builder.menus["Open again"] = recent
    add(menu, "Open the &demo", files.open_demo)
    menu.addSeparator()
    add(menu, "&Save", files.save, keys="Ctrl+S", icon="save")
    add(menu, "Save in ano&ther folder …", files.save_elsewhere, keys="Ctrl+Shift+S")
    menu.addSeparator()
    printing = menu.addMenu("&Print")
    for sheet in SHEETS:
        keys, icon = ("Ctrl+P", "print") if sheet.name == "cut sheet" else ("", "")
        words = f"Print: {sheet.title.lower()} …"
        _add_for(builder, printing, words, papers.ask_print, sheet.name, keys, icon)
    looking = menu.addMenu("Print pre&view")
    for sheet in SHEETS:
        _add_for(builder, looking, f"Preview: {sheet.title.lower()} …", papers.ask_preview, sheet.name, "")
    out = menu.addMenu("E&xport")
    for name, kind in everything_to_export().items():
        keys = "Ctrl+Shift+P" if name == "cut sheet" else ""
        _add_for(builder, out, f"{kind.words} …", papers.ask_export, name, keys)
    add(out, "Comparison of the hides, into a folder …", papers.ask_comparison)
    sizes = menu.addMenu("Pape&r")
    builder.add_choice(sizes, _PAPERS, settings.paper, lambda paper: setattr(settings, "paper", paper))
    menu.addSeparator()
    add(menu, "&Quit", leave, keys="Ctrl+Q")


def _add_for(
    builder: MenuBuilder,
    menu: QMenu,
    words: str,
    ask: Callable[[str], object],
    name: str,
    keys: str,
    icon: str = "",
) -> None:
    builder.add(menu, words, lambda: ask(name), keys=keys, icon=icon)


def fill_recent_menu(menu: QMenu, files: FileActions, settings: Settings) -> None:
    """List the jobs that were opened lately."""
    menu.clear()
    for job in settings.recent_jobs.jobs:
        action = menu.addAction(menu_text(f"{job.title}  ({job.folder})"))
        action.triggered.connect(lambda _=False, job=job: files.open_recent(job))
        action.setToolTip(plain_tip("\n".join(job.files)))
    menu.setToolTipsVisible(True)
    if menu.isEmpty():
        menu.addAction("Nothing opened yet").setEnabled(False)
