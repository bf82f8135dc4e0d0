"""The flaws and regions of the current hide as a list, and the figures of the one that is selected."""

from __future__ import annotations

import msgspec
from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLayout, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import (
    Choice,
    Field,
    LengthField,
    button,
    fit_rows,
    form,
    number_field,
    section,
    soft,
    text_field,
)
from nestplan.desk.document.document import Document
from nestplan.desk.editing.hide_editor import HideEditor
from nestplan.desk.plain_text import plain_tip
from nestplan.desk.settings import Settings
from nestplan.desk.theme import chip, current_theme, flaw_pattern
from nestplan.model.flaw_kinds import FLAW_KINDS
from nestplan.model.hide import Flaw, Hide, Region

__all__ = ["FlawsAndRegionsPart", "flaw_choices"]


class FlawsAndRegionsPart(QWidget):
    """The list, and below it the selected flaw's or region's figures."""

    def __init__(self, document: Document, editor: HideEditor, settings: Settings) -> None:
        super().__init__()
        self._document, self._editor, self._settings = document, editor, settings
        self.list = QListWidget()
        self.list.setAccessibleName("Flaws and regions")
        self.list.currentRowChanged.connect(self._row)
        self.list.itemDoubleClicked.connect(lambda _: editor.edit_points())
        self.spoils = Choice(flaw_choices(), tip="What is spoiled there decides which pieces keep off it")
        self.margin = LengthField(settings, tip="How far a finished outline keeps away from it")
        self.flaw_name = text_field(optional=True, tip="What it is: brand, tick mark, butcher's cut …")
        self.size_field = LengthField(settings, tip="Diameter of a round flaw, width of a scratch")
        self.region_name = text_field(tip="bend, shoulder, belly, neck, shank …")
        self.firmness = number_field(1, 5, tip="1 loose belly to 5 firm bend")
        self.stretch = Field(
            _read_stretch, _show_stretch, optional=True, hint="as the hide",
            tip='The way this part gives most, in degrees; "all" where it gives every way; empty: as the hide',
        )  # fmt: skip
        self._pages = {
            "": soft("Select a flaw or a region here or on the table to change it."),
            "flaw": self._flaw_form(),
            "region": self._region_form(),
        }
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        self.title = section("Flaws and regions")
        column.addWidget(self.title)
        column.addWidget(self.list)
        for page in self._pages.values():
            column.addWidget(page)
        editor.selected.connect(lambda *_: self.refresh())
        document.hide_shown.connect(lambda _: self.refresh())
        settings.unit_changed.connect(lambda _: self.refresh())
        self._keys: list[tuple[str, int]] = []
        self._rows: list[tuple[str, str]] = []
        self.refresh()

    def _flaw_form(self) -> QWidget:
        change = self._editor.change_selected
        self.spoils.edited.connect(self._spoils)
        self.margin.edited.connect(self._set_margin)
        self.flaw_name.edited.connect(lambda words: change("Name the flaw", name=words or ""))
        self.size_field.edited.connect(self._resize)
        return self._with_buttons(
            form(
                ("Spoils", self.spoils),
                ("Keep away", self.margin),
                ("Size", self.size_field),
                ("Name", self.flaw_name),
            )
        )

    def _region_form(self) -> QWidget:
        change = self._editor.change_selected
        self.region_name.edited.connect(lambda words: change("Name the region", name=words))
        self.firmness.edited.connect(lambda number: change("Set the firmness", firmness=number))
        self.stretch.edited.connect(lambda axis: change("Set the stretch", stretch=axis))
        return self._with_buttons(
            form(("Name", self.region_name), ("Firmness", self.firmness), ("Stretch", self.stretch))
        )

    def _with_buttons(self, rows: QLayout) -> QWidget:
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(rows)
        row = QHBoxLayout()
        row.addWidget(
            button("Change points", self._editor.edit_points, tip="Drag, add and delete its points")
        )
        row.addWidget(button("Delete", self._editor.remove_selected, tip="Undo brings it back"))
        column.addLayout(row)
        return page

    def refresh(self) -> None:
        """Show the list and the selected part as they are now."""
        hide = self._document.hide
        flaws, regions = (hide.flaws, hide.regions) if hide else ((), ())
        self._keys = [("flaw", n) for n in range(len(flaws))] + [("region", n) for n in range(len(regions))]
        self.title.setText(
            f"Flaws and regions ({len(flaws)} and {len(regions)})" if hide else "Flaws and regions"
        )
        words = [f"{flaw.name or _shape(flaw)}, {self._size(flaw)}" for flaw in flaws]
        words += [f"{region.name}, firmness {region.firmness}" for region in regions]
        self.list.blockSignals(True)
        rows = [*zip(words, [flaw.kind.name for flaw in flaws] + [""] * len(regions), strict=True)]
        if rows != self._rows:
            self._rows = rows
            self.list.clear()
            chips = [chip(current_theme().flaw, flaw_pattern(flaw.kind), flaw.kind.letter) for flaw in flaws]
            chips += [chip(current_theme().region, Qt.BrushStyle.NoBrush)] * len(regions)
            for text, sign in zip(words, chips, strict=True):
                item = QListWidgetItem(sign, text)
                item.setToolTip(plain_tip(text))
                self.list.addItem(item)
            fit_rows(self.list, most=5, least=2)
        selected = (self._editor.kind, self._editor.number)
        self.list.setCurrentRow(self._keys.index(selected) if selected in self._keys else -1)
        self.list.blockSignals(False)
        self._show_selected(hide)

    def _size(self, flaw: Flaw) -> str:
        """How large a flaw is: its diameter, its length, or its two sides."""
        low, high = flaw.ring.min(axis=0), flaw.ring.max(axis=0)
        width, height = (float(side) for side in high - low)
        if flaw.disc is not None:
            return f"⌀ {self._settings.length(flaw.disc.diameter)}"
        if flaw.line is not None:
            return f"{self._settings.length(max(width, height))} long"
        return self._settings.size(width, height)

    def _show_selected(self, hide: Hide | None) -> None:
        kind, number = self._editor.kind, self._editor.number
        for name, page in self._pages.items():
            page.setVisible(name == (kind if hide is not None else ""))
        if hide is None or not kind:
            return
        if kind == "flaw":
            flaw: Flaw = hide.flaws[number]
            self.spoils.set_value(flaw.spoils)
            self.margin.set_value(flaw.margin)
            self.flaw_name.set_value(flaw.name or None)
            self.size_field.setEnabled(flaw.outline is None)
            self.size_field.set_value(
                flaw.disc.diameter if flaw.disc else flaw.line.width if flaw.line else None
            )
        else:
            region: Region = hide.regions[number]
            self.region_name.set_value(region.name)
            self.firmness.set_value(region.firmness)
            self.stretch.set_value(region.stretch)

    def _row(self, row: int) -> None:
        self._editor.select(*(self._keys[row] if 0 <= row < len(self._keys) else ("", -1)))

    def _spoils(self, spoils: str) -> None:
        self._editor.spoils = spoils
        self._editor.change_selected("Say what the flaw spoils", spoils=spoils)

    def _set_margin(self, mm: float) -> None:
        self._editor.margin = mm
        self._editor.change_selected("Set the margin", margin=mm)

    def _resize(self, mm: float) -> None:
        hide = self._document.hide
        if hide is None or self._editor.kind != "flaw":
            return
        flaw = hide.flaws[self._editor.number]
        if flaw.disc is not None:
            self._editor.change_selected(
                "Size the flaw", disc=msgspec.structs.replace(flaw.disc, diameter=mm)
            )
        elif flaw.line is not None:
            self._editor.width = mm
            self._editor.change_selected("Size the flaw", line=msgspec.structs.replace(flaw.line, width=mm))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Delete and self.list.hasFocus():
            self._editor.remove_selected()
        else:
            super().keyPressEvent(event)


def flaw_choices() -> dict[str, str]:
    """The kinds of flaw by name, in words for a list to choose from."""
    return {kind.name: f"{kind.letter} · {kind.choice}" for kind in FLAW_KINDS}


def _shape(flaw: Flaw) -> str:
    return "spot" if flaw.disc else "scratch" if flaw.line else "patch"


def _read_stretch(words: str) -> float | str:
    if words.lower() in ("all", "every way"):
        return "all"
    try:
        value = float(words.removesuffix("°").replace(",", "."))
    except ValueError:
        raise ValueError("Give degrees, or the word all.") from None
    if not 0 <= value <= 180:
        raise ValueError("It must lie between 0 and 180 degrees, or be the word all.")
    return value


def _show_stretch(value: float | str) -> str:
    return "all" if isinstance(value, str) else f"{value:g}°"
