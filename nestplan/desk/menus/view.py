"""The menu View: the steps, what is seen of the table, units and theme."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from PySide6.QtWidgets import QMenu

from nestplan.desk.document.document import Document
from nestplan.desk.locale_format import NUMBER_FORMS
from nestplan.desk.menus.builder import MenuBuilder
from nestplan.desk.settings import Settings
from nestplan.desk.table.canvas import Table
from nestplan.desk.table.item_shapes import LAYERS
from nestplan.desk.table.zooming import ZOOM_STEP

__all__ = ["StepEntry", "fill_layers_menu", "fill_view_menu"]

_UNITS: dict[Literal["mm", "in"], str] = {"mm": "Millimetres, dm²", "in": "Inches, ft²"}
_THEMES = {"system": "As the desktop", "light": "Light", "dark": "Dark"}


@dataclass(frozen=True)
class StepEntry:
    """A step as the menu lists it."""

    word: str
    keys: str
    icon: str
    go: Callable[[], object]


def fill_view_menu(
    builder: MenuBuilder,
    menu: QMenu,
    steps: Sequence[StepEntry],
    document: Document,
    table: Table,
    settings: Settings,
    *,
    rack: Callable[[], object],
    side: Callable[[], object],
    measure: Callable[[], object],
    legend: Callable[[], object],
    zoom_to_selection: Callable[[], object],
) -> None:
    """Fill the menu; `measure` takes the tape in the hand, the others show or put away what they name."""
    for number, step in enumerate(steps, start=1):
        builder.add(menu, f"Step {number}: {step.word}", step.go, keys=step.keys, icon=step.icon)
    menu.addSeparator()
    builder.add(menu, "&Fit", table.fit, keys="Ctrl+0", icon="fit")
    builder.add(menu, "Zoom to the &selection", zoom_to_selection, keys="Ctrl+9")
    builder.add(menu, "Zoom &in", lambda: table.zoom(ZOOM_STEP), keys="Ctrl++")
    builder.add(menu, "Zoom &out", lambda: table.zoom(1 / ZOOM_STEP), keys="Ctrl+-")
    builder.add(menu, "&Tape measure", measure, keys="Ctrl+T", icon="tape")
    builder.add(menu, "Next hide", lambda: document.show_next_hide(1), keys="Ctrl+PgDown")
    builder.add(menu, "Previous hide", lambda: document.show_next_hide(-1), keys="Ctrl+PgUp")
    menu.addSeparator()
    builder.add(menu, "&Key to the colours", legend, keys="F6")
    builder.add(menu, "Rac&k", rack, keys="F7")
    builder.add(menu, "Side &panel", side, keys="F8")
    layers = menu.addMenu("&Show")
    fill_layers_menu(builder, layers, table, settings)
    builder.menus["Show"] = layers
    units = menu.addMenu("&Units")
    builder.add_choice(units, _UNITS, settings.unit, lambda unit: setattr(settings, "unit", unit))
    forms = menu.addMenu("&Numbers")
    builder.add_choice(forms, NUMBER_FORMS, settings.numbers, lambda form: setattr(settings, "numbers", form))
    themes = menu.addMenu("&Look")
    builder.add_choice(themes, _THEMES, settings.theme, lambda theme: setattr(settings, "theme", theme))


def fill_layers_menu(builder: MenuBuilder, menu: QMenu, table: Table, settings: Settings) -> None:
    """One switch for each layer of the table, remembered."""

    def switch(layer: str) -> Callable[[bool], None]:
        def show(visible: bool) -> None:
            table.set_layer(layer, visible)
            settings.hidden_layers = [name for name in LAYERS if name in table.hidden]

        return show

    for name, words in LAYERS.items():
        builder.add_switch(menu, f"Show {name}", words, name not in settings.hidden_layers, switch(name))
