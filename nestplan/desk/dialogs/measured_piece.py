"""A form that makes a piece or strip from its measures: one form for each kind that `intake.panels` knows."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QSize, Signal
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QDialogButtonBox, QLineEdit, QStackedWidget, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import (
    Choice,
    Field,
    LengthField,
    form,
    number_field,
    set_role,
    soft,
    text_field,
)
from nestplan.desk.controls.preview import Preview
from nestplan.desk.controls.scrolled_dialog import ScrolledDialog
from nestplan.desk.plain_text import plain_label
from nestplan.desk.settings import Settings
from nestplan.desk.table.thumbnails import piece_thumbnail
from nestplan.errors import NestplanError
from nestplan.intake.panels import PanelParameter

__all__ = ["MeasuredPieceDialog"]


class MeasuredPieceDialog(ScrolledDialog):
    """Asks for a kind, a name and measures; `made` carries the pieces or strips."""

    made = Signal(object)

    def __init__(self, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        from nestplan.intake.panels import PANELS

        self._panels = PANELS
        self.setWindowTitle("A piece from measures")
        self.setMinimumWidth(380)
        self.kind = Choice({key: panel.label for key, panel in PANELS.items()})
        self.name = text_field(tip="What the piece is called")
        self._pages = QStackedWidget()
        self.fields: dict[str, dict[str, Field | Choice]] = {}
        for key, panel in PANELS.items():
            fields = {
                parameter.name: _field(parameter, settings)
                for parameter in panel.parameters
                if parameter.name != "name"
            }
            self.fields[key] = fields
            labels = {parameter.name: parameter.label for parameter in panel.parameters}
            page = QWidget()
            rows = form(
                *((labels[name][:1].upper() + labels[name][1:], field) for name, field in fields.items())
            )
            rows.setContentsMargins(0, 0, 0, 0)
            page.setLayout(rows)
            self._pages.addWidget(page)
        self.fault = plain_label()
        self.fault.setWordWrap(True)
        set_role(self.fault, "alarm")
        self.fault.hide()
        self.buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.make = self.buttons.addButton("Make it", QDialogButtonBox.ButtonRole.AcceptRole)
        self.make.setProperty("main", "true")
        self.buttons.accepted.connect(self._make)
        self.buttons.rejected.connect(self.reject)
        column = QVBoxLayout()
        column.setSpacing(9)
        column.addWidget(
            soft("Bare numbers are in the unit of the rulers; 1 1/2 in or 38 mm may be typed too.")
        )
        column.addLayout(form(("Kind", self.kind), ("Name", self.name)))
        column.addWidget(self._pages)
        column.addWidget(self.fault)
        column.addStretch(1)
        self.set_contents(column, self.buttons)
        self.preview = Preview(self._drawn, "The piece as its measures make it")
        column.insertWidget(0, self.preview)
        for field in self.findChildren(QLineEdit):
            field.textEdited.connect(lambda _: self.preview.touch())
        for choice in self.findChildren(Choice):
            choice.activated.connect(lambda _: self.preview.touch())
        self.kind.activated.connect(lambda _: self._turn_page())
        self._turn_page()
        self.preview.touch()

    def _turn_page(self) -> None:
        self._pages.setCurrentIndex(self.kind.currentIndex())
        words = self._panels[self.kind.value].label
        self.name.set_value(words.split(",")[0].lower() if not self.name.isModified() else self.name.text())

    def _drawn(self, size: QSize) -> QPixmap | None:
        """The piece as it is typed so far; None where that makes no piece."""
        values: dict[str, Any] = {}
        for name, field in self.fields[self.kind.value].items():
            try:
                value = field.typed_value() if isinstance(field, Field) else field.value
            except ValueError:
                return None
            if value is not None:
                values[name] = value
        try:
            return piece_thumbnail(self._panels[self.kind.value].make("piece", **values), size)
        except NestplanError:
            return None

    def _make(self) -> None:
        values = {}
        for name, field in self.fields[self.kind.value].items():
            if isinstance(field, Field):
                field.editingFinished.emit()
                if field.fault:
                    field.setFocus()
                    return
            if field.value is not None:
                values[name] = field.value
        try:
            piece = self._panels[self.kind.value].make(self.name.text().strip() or "piece", **values)
        except NestplanError as error:
            self._show_error(str(error))
            return
        self.made.emit((piece,))
        self.accept()

    def _show_error(self, words: str) -> None:
        self.fault.setText(words)
        self.fault.show()


def _field(parameter: PanelParameter, settings: Settings) -> Field | Choice:
    """A field for one parameter: words to choose from, a count, or a length."""
    if parameter.choices:
        made: Field | Choice = Choice({choice: choice for choice in parameter.choices})
    elif isinstance(parameter.default, int):
        made = number_field(0, 100_000)
    else:
        made = LengthField(settings, optional=parameter.default is None)
    made.set_value(parameter.default)
    return made
