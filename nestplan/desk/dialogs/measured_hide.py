"""A form that makes a hide from its kind and what the tape says; the shape is that of `intake.measured`."""

from __future__ import annotations

from PySide6.QtCore import QSize, Signal
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QDialogButtonBox, QLineEdit, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import (
    Choice,
    LengthField,
    area_field,
    form,
    set_role,
    soft,
    text_field,
    thickness_field,
)
from nestplan.desk.controls.preview import Preview
from nestplan.desk.controls.scrolled_dialog import ScrolledDialog
from nestplan.desk.plain_text import plain_label
from nestplan.desk.settings import Settings
from nestplan.desk.table.thumbnails import thumbnail
from nestplan.errors import NestplanError
from nestplan.geometry.units import read_area_mark

__all__ = ["MeasuredHideDialog"]


class MeasuredHideDialog(ScrolledDialog):
    """Asks for kind, name, length, area and widths; `made` carries the hide."""

    made = Signal(object)

    def __init__(self, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        from nestplan.model.anatomy import ANATOMY

        self._settings = settings
        self.setWindowTitle("A hide from measures")
        self.setMinimumWidth(420)
        self.kind = Choice({kind: each.words for kind, each in ANATOMY.items()})
        self.name = text_field(tip="What the hide is called")
        self.leather = text_field(optional=True, hint="as its kind", tip="The kind of leather jobs ask for")
        self.length = LengthField(
            settings, optional=True, hint="usual", tip="Along the backbone, rear edge to neck"
        )
        self.area = area_field(read_area_mark, tip="The seller's mark", hint="e.g. 22.75 ft2")
        self.widths = text_field(
            optional=True,
            hint="e.g. 400 mm: 950 mm; 1200 mm: 900 mm",
            tip="Widths from the backbone: distance from the rear edge, a colon, the width; separated by semicolons",
        )
        self.thickness = thickness_field(settings, tip="The thinnest and thickest")
        self.fault = plain_label()
        self.fault.setWordWrap(True)
        set_role(self.fault, "alarm")
        self.fault.hide()
        self.buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.make = self.buttons.addButton("Lay it on the table", QDialogButtonBox.ButtonRole.AcceptRole)
        self.make.setProperty("main", "true")
        self.buttons.accepted.connect(self._make)
        self.buttons.rejected.connect(self.reject)
        column = QVBoxLayout()
        column.setSpacing(9)
        column.addWidget(
            soft(
                "The usual shape of its kind, drawn to what you measured. "
                "Trace the real edge before you cut close to it."
            )
        )
        column.addLayout(
            form(
                ("Kind", self.kind),
                ("Name", self.name),
                ("Leather", self.leather),
                ("Length", self.length),
                ("Area", self.area),
                ("Widths", self.widths),
                ("Thickness", self.thickness),
            )
        )
        column.addWidget(self.fault)
        column.addStretch(1)
        self.set_contents(column, self.buttons)
        self.preview = Preview(self._drawn, "The hide as its measures make it")
        column.insertWidget(1, self.preview)
        for field in self.findChildren(QLineEdit):
            field.textEdited.connect(lambda _: self.preview.touch())
        self.kind.activated.connect(lambda _: self.preview.touch())
        self.preview.touch()
        self.name.set_value("New hide")

    def _make(self) -> None:
        from nestplan.intake.measured import measured_hide

        for field in (self.length, self.area, self.thickness):
            field.editingFinished.emit()
            if field.fault:
                field.setFocus()
                return
        try:
            hide = measured_hide(
                self.kind.value,
                name=self.name.text().strip() or "New hide",
                length=self.length.value,
                widths=self._read_widths(),
                area=self.area.value,
                leather=self.leather.text().strip(),
                thickness=self.thickness.value,
            )
        except NestplanError as error:
            self._show_error(str(error))
            return
        self.made.emit(hide)
        self.accept()

    def _drawn(self, size: QSize) -> QPixmap | None:
        """The hide as it is typed so far; None where that makes no hide."""
        from nestplan.intake.measured import measured_hide

        try:
            length, area = self.length.typed_value(), self.area.typed_value()
            hide = measured_hide(
                self.kind.value, name="hide", length=length, widths=self._read_widths(), area=area
            )
        except ValueError:
            return None
        return thumbnail(hide, None, None, size)

    def _read_widths(self) -> list[tuple[float, float]]:
        from nestplan.errors import InputError
        from nestplan.geometry.units import read_length

        def length(words: str) -> float:
            bare = not any(letter.isalpha() or letter in "\"'" for letter in words)
            return read_length(f"{words} {self._settings.unit}" if bare else words)

        pairs = []
        for part in filter(None, (part.strip() for part in self.widths.text().split(";"))):
            where, colon, width = part.partition(":")
            if not colon:
                raise InputError(
                    f"'{part}' is no width.", mend="Write where, a colon, and the width: 400 mm: 950 mm."
                )
            pairs.append((length(where.strip()), length(width.strip())))
        return pairs

    def _show_error(self, words: str) -> None:
        self.fault.setText(words)
        self.fault.show()
