"""The marks of a piece: holes to punch, slits to cut, spots to mark, as a list with the figures of the one selected."""

from __future__ import annotations

from typing import Any

import msgspec
from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QListWidget, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import (
    Choice,
    LengthField,
    button,
    fit_rows,
    form,
    number_field,
    row_of,
    section,
    text_field,
)
from nestplan.desk.document.document import Document
from nestplan.desk.editing.piece_editor import PieceEditor
from nestplan.desk.panels.work_choices import WorkChoices
from nestplan.desk.settings import Settings
from nestplan.errors import NestplanError
from nestplan.model.mark_kinds import MARK_KINDS
from nestplan.model.piece import Mark, Piece

__all__ = ["MarksPart"]


class MarksPart(QWidget):
    """The list and the figures; with none selected the figures are those of the next mark.

    `typed` carries the marks as they would be with what is being typed.
    """

    typed = Signal(object)

    def __init__(self, document: Document, editor: PieceEditor, settings: Settings) -> None:
        super().__init__()
        self._document, self._editor = document, editor
        self.list = QListWidget()
        self.list.setAccessibleName("Holes, slits and marks")
        self.list.currentRowChanged.connect(lambda _: self._show())
        self.kind = Choice({kind.name: kind.choice for kind in MARK_KINDS}, tip="What is done there")
        self.size_field = LengthField(settings, tip="Diameter of a hole, length of a slit")
        self.angle = number_field(0, 360, whole=False, suffix="°", tip="Direction of a slit")
        self.x_field = LengthField(settings, tip="From the left, on the piece as drawn")
        self.y_field = LengthField(settings, tip="From below, on the piece as drawn")
        self.what = text_field(optional=True, tip="What it is for: buckle, eyelet 6 mm …")
        self.work = WorkChoices(self)
        self.layers, self.when = self.work.layers, self.work.when
        self.work.edited.connect(lambda _: self._put("Change a mark"))
        self.kind.edited.connect(lambda _: self._put("Change a mark"))
        for field in (self.size_field, self.angle, self.x_field, self.y_field, self.what):
            field.edited.connect(lambda _: self._put("Change a mark"))
        # Warnings appear as one types, before the field is left.
        self.size_field.textEdited.connect(self._try)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        self._title = section("Holes, slits and marks")
        column.addWidget(self._title)
        column.addWidget(self.list)
        column.addLayout(
            form(
                ("Kind", self.kind),
                ("Size", self.size_field),
                ("From left", self.x_field),
                ("From below", self.y_field),
                ("Direction", self.angle),
                ("For", self.what),
                ("Layers", self.layers),
                ("When", self.when),
            )
        )
        row = QHBoxLayout()
        row.addLayout(
            row_of(
                button("Set by clicking", editor.set_marks, tip="Click on the piece where marks are to be"),
                button("Delete", self._remove, tip="Delete the selected mark"),
            )
        )
        column.addLayout(row)

    def show_piece(self, piece: Piece) -> None:
        """Show the marks of a piece."""
        row = self.list.currentRow()
        self.list.blockSignals(True)
        self.list.clear()
        for number, mark in enumerate(piece.marks, start=1):
            size = mark.diameter if mark.kind.measure == "diameter" else mark.length
            words = f"{number}  {mark.kind.choice}" + (f", {size:g} mm" if size else "")
            words += f", {mark.what}" if mark.what else ""
            self.list.addItem(", ".join((words, *mark.layers, *([mark.when] if mark.when else ()))))
        fit_rows(self.list, most=5)
        self.list.setCurrentRow(min(row, len(piece.marks) - 1))
        self.list.blockSignals(False)
        self._title.setText(f"Holes, slits and marks ({len(piece.marks)})")
        self._show()

    @property
    def _selected(self) -> Mark | None:
        piece, row = self._document.piece, self.list.currentRow()
        return piece.marks[row] if isinstance(piece, Piece) and 0 <= row < len(piece.marks) else None

    def _show(self) -> None:
        mark = self._selected
        given = self._editor.mark
        kind = MARK_KINDS[mark.do if mark else str(given["do"])]
        self.kind.set_value(kind.name)
        if mark is not None:
            size = mark.diameter if kind.measure == "diameter" else mark.length
            self.x_field.set_value(mark.at[0])
            self.y_field.set_value(mark.at[1])
            self.angle.set_value(mark.angle)
            self.what.set_value(mark.what or None)
        else:
            size = given.get("diameter") or given.get("length")
            self.x_field.set_value(None)
            self.y_field.set_value(None)
            self.angle.set_value(given.get("angle", 0.0))
            self.what.set_value(given.get("what"))
        self.size_field.set_value(size)
        self.x_field.setEnabled(mark is not None)
        self.y_field.setEnabled(mark is not None)
        self.work.show_item(self._document.piece, mark)
        self.size_field.setEnabled(kind.measure is not None)
        self.angle.setEnabled(kind.has_direction)

    def _fields(self) -> dict[str, Any]:
        kind = MARK_KINDS[self.kind.value]
        size = self.size_field.value or 4.0
        fields: dict[str, Any] = {
            "do": kind.name,
            "what": self.what.value or "",
            "diameter": None,
            "length": None,
        }
        if kind.measure is not None:
            fields[kind.measure] = size
        if kind.has_direction:
            fields["angle"] = self.angle.value or 0.0
        return fields

    def _put(self, words: str) -> None:
        fields = self._fields()
        if self._selected is None:
            self._editor.mark = {key: value for key, value in fields.items() if value is not None}
            self._show()
            return
        fields |= self.work.fields()
        if self.x_field.value is not None and self.y_field.value is not None:
            fields["at"] = (self.x_field.value, self.y_field.value)
        self._editor.change_mark(self.list.currentRow(), words, **fields)

    def _try(self, words: str) -> None:
        mark, piece = self._selected, self._document.piece
        if mark is None or not isinstance(piece, Piece) or mark.kind.symbol != "circle":
            return
        try:
            size = self.size_field._read(words.strip())
            marks = list(piece.marks)
            marks[self.list.currentRow()] = msgspec.structs.replace(mark, diameter=size)
        except (NestplanError, ValueError):
            return
        self.typed.emit(tuple(marks))

    def _remove(self) -> None:
        self._editor.remove_mark(self.list.currentRow())
