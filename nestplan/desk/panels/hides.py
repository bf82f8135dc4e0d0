"""The side panel of the step Hides: the current hide, its figures, and the tools to draw on it."""

from __future__ import annotations

from functools import partial

import msgspec
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import (
    Field,
    area_field,
    button,
    currency_field,
    form,
    heading,
    mark_active,
    number_field,
    scrolled,
    section,
    soft,
    text_field,
    thickness_field,
    tool_button,
)
from nestplan.desk.controls.tiles import TileLayout
from nestplan.desk.document.document import Document
from nestplan.desk.editing.hide_editor import HideEditor
from nestplan.desk.panels.flaws_and_regions import FlawsAndRegionsPart
from nestplan.desk.plain_text import plain_label
from nestplan.desk.sentences import hide_area_words
from nestplan.desk.settings import Settings
from nestplan.geometry.units import read_area_mark
from nestplan.model.hide import Hide
from nestplan.tasks.output_paths import free_name

__all__ = ["HidesPanel"]


class HidesPanel(QWidget):
    """Name, leather, areas, price and thickness; tracing tools; the flaws and regions."""

    def __init__(self, document: Document, editor: HideEditor, settings: Settings) -> None:
        super().__init__()
        self._document, self._editor, self._settings = document, editor, settings
        self.name = text_field(tip="What this hide is called in your workshop")
        self.leather = text_field(
            tip="The kind of leather; jobs ask for it by this name", hint="e.g. cow side"
        )
        self.stated = area_field(
            read_area_mark,
            tip="The seller's mark, such as 22.75 ft2, 22 3/4 or 210 dm2",
            hint="e.g. 22.75 ft2",
        )
        self.price = number_field(0, 1e7, whole=False, tip="What the whole hide costs", optional=True)
        self.currency = currency_field(tip="The money the price is in")
        self.thickness = thickness_field(settings, tip="The thinnest and thickest you measure")
        self.firmness = number_field(1, 5, tip="1 loose to 5 firm, where no region is drawn")
        self.stretch = number_field(
            0, 180, whole=False, suffix="°", optional=True, hint="square to the backbone",
            tip="The direction in which it gives most, in degrees; empty: square to the backbone",
        )  # fmt: skip
        self.lot = text_field(optional=True, tip="Dye lot, so that shades can be matched")
        self.note = text_field(optional=True, tip="Anything to remember about this hide")
        self.area = plain_label()
        self.area.setProperty("role", "figure")
        self.area.setWordWrap(True)
        self.origin = soft()
        self._title = heading("No hide yet")
        self._connect()
        self._lay_out()
        document.hide_shown.connect(self.show_hide)
        settings.unit_changed.connect(lambda _: self.show_hide(document.hide))
        self.show_hide(document.hide)

    def _connect(self) -> None:
        change = self._editor.change
        self.name.edited.connect(self._rename)
        self.leather.edited.connect(lambda words: change("Set the leather", leather=words))
        self.stated.edited.connect(lambda area: change("Set the seller's area", stated_area=area))
        self.price.edited.connect(lambda price: change("Set the price", price=price))
        self.currency.edited.connect(lambda words: change("Set the currency", currency=words or ""))
        self.thickness.edited.connect(lambda pair: change("Set the thickness", thickness=pair))
        self.firmness.edited.connect(lambda number: change("Set the firmness", firmness=number))
        self.stretch.edited.connect(lambda angle: change("Set the stretch", stretch=angle))
        self.lot.edited.connect(lambda words: change("Set the lot", lot=words or ""))
        self.note.edited.connect(lambda words: change("Set the note", note=words or ""))

    def _lay_out(self) -> None:
        editor = self._editor
        self.tools = {
            "outline": tool_button(
                "Trace",
                editor.trace_outline,
                icon="trace",
                tip="Trace the outline again, point by point or freehand",
            ),
            "points": tool_button(
                "Points",
                editor.edit_points,
                icon="points",
                tip="Move, add, delete, smooth or straighten points",
            ),
            "backbone": tool_button(
                "Backbone", editor.draw_backbone, icon="backbone", tip="Draw the backbone from neck to tail"
            ),
            "stretch": tool_button(
                "Stretch", editor.draw_stretch, icon="stretch", tip="Draw the way the leather gives most"
            ),
            "round flaw": tool_button(
                "Spot",
                lambda: editor.draw_flaw("disc"),
                icon="disc",
                tip="A round flaw: a hole, a tick mark",
            ),
            "line flaw": tool_button(
                "Scratch",
                lambda: editor.draw_flaw("line"),
                icon="line",
                tip="A long thin flaw: a scratch, a cut",
            ),
            "outlined flaw": tool_button(
                "Patch",
                lambda: editor.draw_flaw("outline"),
                icon="area",
                tip="A flaw with an outline: a brand, a loose place",
            ),
            "region": tool_button(
                "Region", editor.draw_region, icon="region", tip="A part of the animal: bend, belly, neck …"
            ),
        }
        editor.tool_changed.connect(partial(mark_active, self.tools))
        grid = TileLayout(self.tools.values(), most=4)
        self.flaws_and_regions = FlawsAndRegionsPart(self._document, editor, self._settings)
        money = QHBoxLayout()
        self.price.setAccessibleName("Price")
        self.currency.setAccessibleName("Currency")
        money.addWidget(self.price, 2)
        money.addWidget(self.currency, 1)
        price = QWidget()
        price.setLayout(money)
        money.setContentsMargins(0, 0, 0, 0)
        column = QVBoxLayout()
        column.addWidget(self._title)
        column.addWidget(self.area)
        column.addLayout(grid)
        column.addWidget(self.flaws_and_regions)
        column.addWidget(section("About this hide"))
        column.addLayout(
            form(
                ("Name", self.name),
                ("Leather", self.leather),
                ("Seller's area", self.stated),
                ("Thickness", self.thickness),
                ("Price", price),
                ("Firmness", self.firmness),
                ("Stretch", self.stretch),
                ("Lot", self.lot),
                ("Note", self.note),
            )
        )
        column.addWidget(self.origin)
        self.copy_button = button("Copy this hide", self._copy, tip="Another hide like this one, to change")
        self.remove_button = button(
            "Delete", self._remove, tip="Delete this hide from the rack; Undo brings it back"
        )
        row = QHBoxLayout()
        row.addWidget(self.copy_button)
        row.addWidget(self.remove_button)
        column.addLayout(row)
        column.addStretch(1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scrolled(column))

    def show_hide(self, hide: Hide | None) -> None:
        """Show another hide, or the same one changed."""
        for widget in (*self._fields(), *self.tools.values(), self.copy_button, self.remove_button):
            widget.setEnabled(hide is not None)
        if hide is None:
            self._title.setText("No hide yet")
            self.area.setText(
                "Trace one on the table, open a file, or take a photograph: see Hide in the menu."
            )
            self.origin.setText("")
            for field in self._fields():
                field.set_value(None)
            return
        self._title.setText(hide.name)
        self.area.setText(hide_area_words(hide, self._settings))
        self.name.set_value(hide.name)
        self.leather.set_value(hide.leather)
        self.stated.set_value(hide.stated_area)
        self.price.set_value(hide.price)
        self.currency.set_value(hide.currency or None)
        self.thickness.set_value(hide.thickness)
        self.firmness.set_value(hide.firmness)
        self.stretch.set_value(hide.stretch)
        self.lot.set_value(hide.lot or None)
        self.note.set_value(hide.note or None)
        self.origin.setText(_origin_words(hide))

    def _fields(self) -> tuple[Field, ...]:
        return (
            self.name, self.leather, self.stated, self.price, self.currency, self.thickness, self.firmness,
            self.stretch, self.lot, self.note,
        )  # fmt: skip

    def _rename(self, name: str) -> None:
        hide = self._document.hide
        if hide is None:
            return
        if any(other.name == name for other in self._document.contents.hides):
            self.name.refuse(f"Another hide is called {name}.")
            return
        self._document.edit_hide("Rename the hide", msgspec.structs.replace(hide, name=name), old=hide.name)

    def _copy(self) -> None:
        hide = self._document.hide
        if hide is not None:
            name = free_name(f"{hide.name} copy", [other.name for other in self._document.contents.hides])
            self._document.add_hide(msgspec.structs.replace(hide, name=name))

    def _remove(self) -> None:
        hide = self._document.hide
        if hide is not None:
            self._document.remove_hide(hide.name)


def _origin_words(hide: Hide) -> str:
    if hide.origin is None:
        return ""
    how = {
        "photo": "Outline from a photograph",
        "traced": "Outline traced by hand",
        "drawing": "Outline from a drawing file",
        "measured": "Outline from measures",
        "offcut": "An offcut of an earlier hide",
        "simulated": "A simulated hide",
        "invented": "An invented hide",
    }[hide.origin.how]
    exact = f", lengths good to {hide.origin.scale_error:.1%}" if hide.origin.scale_error is not None else ""
    return f"{how}{exact}. {hide.origin.note}".strip()
