"""The rows of a piece: holes, slits or spots along its edge or on a line, each row edited as one thing."""

from __future__ import annotations

from typing import Any, Literal

import msgspec
from PySide6.QtWidgets import QCheckBox, QListWidget, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import (
    Choice,
    LengthField,
    button,
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
from nestplan.desk.table.row_tracing import moved_end, row_ends
from nestplan.model.mark_kinds import MARK_KINDS
from nestplan.model.mark_rows import MOST_IN_ROW, Row
from nestplan.model.piece import Piece

__all__ = ["RowsPart"]

End = Literal["start", "end"]
_WORDS = "Change a row"


class RowsPart(QWidget):
    """The list and the figures; with none selected the figures are those of the next row."""

    def __init__(self, document: Document, editor: PieceEditor, settings: Settings) -> None:
        super().__init__()
        self._document, self._editor, self._settings = document, editor, settings
        self.list = QListWidget()
        self.list.setAccessibleName("Rows of holes and slits")
        self.list.setMinimumHeight(50)
        self.list.setMaximumHeight(84)
        self.list.currentRowChanged.connect(lambda _: self._show())
        self.name = text_field(tip="What the row is called; laced joins name it so")
        self.kind = Choice({kind.name: kind.choice for kind in MARK_KINDS}, tip="What is done at each spot")
        self.size_field = LengthField(settings, tip="Diameter of a hole, length of a slit")
        self.pitch = LengthField(
            settings,
            optional=True,
            hint="even",
            tip="From one to the next; what is left over is shared by both ends",
        )
        self.number = number_field(
            2, MOST_IN_ROW, optional=True, hint="as many as fit", tip="How many, instead of a distance"
        )
        self.inset = LengthField(settings, tip="From the edge to the middle of each")
        self.ends = LengthField(settings, tip="Kept free at each end of the row at least")
        self.at: dict[End, tuple[LengthField, LengthField]] = {
            "start": self._place_fields("starts"),
            "end": self._place_fields("ends"),
        }
        self.angle = number_field(
            0, 180, whole=False, suffix="°", tip="Of a slit, from the row: 0 along it, 90 across"
        )
        self.what = text_field(optional=True, tip="What it is for: eyelet 5 mm, thong …")
        self.work = WorkChoices(self)
        self.layers, self.when = self.work.layers, self.work.when
        self.round = QCheckBox("All the way round")
        self.round.setToolTip("Along the whole edge, from the start of the row on")
        self._connect()
        self._lay_out()

    def _place_fields(self, word: str) -> tuple[LengthField, LengthField]:
        """Where a row starts or ends: from the left and from below, as the rulers have it."""
        made = []
        for axis in ("left", "below"):
            field = LengthField(
                self._settings,
                hint=axis,
                tip=f"Where it {word}, from {axis}; along the edge, at the nearest spot of it",
            )
            field.setAccessibleName(f"The row {word}, from {axis}")
            made.append(field)
        return made[0], made[1]

    def _connect(self) -> None:
        for end, fields in self.at.items():
            for field in fields:
                field.edited.connect(lambda _, end=end: self._move_end(end))
        self.name.edited.connect(self._rename)
        self.kind.edited.connect(lambda _: self._put(**self._kind_fields()))
        self.size_field.edited.connect(lambda _: self._put(**self._kind_fields()))
        self.pitch.edited.connect(lambda mm: self._put(pitch=mm, number=None if mm is not None else 2))
        self.number.edited.connect(
            lambda number: self._put(number=number, pitch=None if number is not None else 15.0)
        )
        self.inset.edited.connect(lambda mm: self._put(inset=mm))
        self.ends.edited.connect(lambda mm: self._put(ends=mm))
        self.angle.edited.connect(lambda angle: self._put(angle=angle))
        self.what.edited.connect(lambda words: self._put(what=words or ""))
        self.work.edited.connect(lambda fields: self._put(**fields))
        self.round.clicked.connect(self._go_round)
        self._editor.row_selected.connect(self.select)

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        self._title = section("Rows")
        column.addWidget(self._title)
        column.addWidget(self.list)
        self.along_edge = button(
            "Along the edge",
            lambda: self._editor.draw_row("edge"),
            tip="Click on the edge where the row starts and ends",
        )
        self.on_line = button(
            "On a line",
            lambda: self._editor.draw_row("line"),
            tip="Click where a straight row starts and ends",
        )
        column.addLayout(row_of(self.along_edge, self.on_line))
        column.addLayout(
            form(
                ("Row", self.name),
                ("Kind", self.kind),
                ("Size", self.size_field),
                ("Every", self.pitch),
                ("Number", self.number),
                ("From the edge", self.inset),
                ("Free ends", self.ends),
                ("Starts at", _beside(self.at["start"])),
                ("Ends at", _beside(self.at["end"])),
                ("Direction", self.angle),
                ("For", self.what),
                ("Layers", self.layers),
                ("When", self.when),
            )
        )
        column.addWidget(self.round)
        self.other_way = button("The other way", self._turn_round, tip="Along the rest of the edge instead")
        self.new = button("Next row", self._pick_none, tip="Set the figures of the next row")
        self.take_away = button("Delete", self._remove, tip="Delete the whole row")
        column.addLayout(row_of(self.other_way, self.new))
        column.addWidget(self.take_away)

    def show_piece(self, piece: Piece) -> None:
        """Show the rows of a piece."""
        number = self.list.currentRow()
        self.list.blockSignals(True)
        self.list.clear()
        for row, marks in zip(piece.rows, piece.marks_of_rows, strict=True):
            words = f"{row.name}: {len(marks)} × {row.kind.choice}"
            words += f" {self._settings.length(row.size)}" if row.size else ""
            self.list.addItem(f"{words}, {row.what}" if row.what else words)
        self.list.setCurrentRow(min(number, len(piece.rows) - 1))
        self.list.blockSignals(False)
        self._title.setText(f"Rows of holes and slits ({len(piece.rows)})")
        self._show()

    def select(self, name: str) -> None:
        """Select a row by its name."""
        piece = self._document.piece
        if isinstance(piece, Piece):
            names = [row.name for row in piece.rows]
            if name in names:
                self.list.setCurrentRow(names.index(name))

    @property
    def _selected(self) -> Row | None:
        piece, number = self._document.piece, self.list.currentRow()
        return piece.rows[number] if isinstance(piece, Piece) and 0 <= number < len(piece.rows) else None

    def _show(self) -> None:
        row = self._selected
        self._editor.take_row(row.name if row is not None else "")
        given = self._editor.row if row is None else msgspec.structs.asdict(row)
        kind = MARK_KINDS[given["do"]]
        self.name.set_value(row.name if row is not None else None)
        self.kind.set_value(kind.name)
        self.size_field.set_value(given.get(kind.measure) if kind.measure else None)
        self.pitch.set_value(given.get("pitch"))
        self.number.set_value(given.get("number"))
        self.inset.set_value(given.get("inset", 0.0))
        self.ends.set_value(given.get("ends", 0.0))
        self.angle.set_value(given.get("angle", 0.0))
        self._show_ends(row)
        self.what.set_value(given.get("what") or None)
        self.size_field.setEnabled(kind.measure is not None)
        self.angle.setEnabled(kind.has_direction)
        self.name.setEnabled(row is not None)
        along_edge = row is None or row.along == "edge"
        self.inset.setEnabled(along_edge)
        self.round.setEnabled(row is not None and along_edge)
        self.round.setChecked(row is not None and row.end is None)
        self.ends.setEnabled(not self.round.isChecked())
        self.other_way.setEnabled(row is not None and along_edge and row.end is not None)
        self.take_away.setEnabled(row is not None)
        self.new.setEnabled(row is not None)
        self.work.show_item(self._document.piece, None if row is None else row.mark_at(row.start, 0.0))

    def _show_ends(self, row: Row | None) -> None:
        """Show where the selected row starts and ends; nothing of one that is still to be drawn."""
        piece = self._document.piece
        ends = row_ends(piece.ring, row) if row is not None and isinstance(piece, Piece) else {}
        for end, fields in self.at.items():
            for axis, field in enumerate(fields):
                field.set_value(ends[end][axis] if end in ends else None)
                field.setEnabled(end in ends)

    def _move_end(self, end: End) -> None:
        """Bring an end of the selected row where its fields say."""
        row, piece = self._selected, self._document.piece
        x, y = (field.value for field in self.at[end])
        if row is None or not isinstance(piece, Piece) or x is None or y is None:
            return
        moved = moved_end(piece.ring, row, (x, y))
        if moved == getattr(row, end):
            self._show()
        else:
            self._put(**{end: moved})

    def _kind_fields(self) -> dict[str, Any]:
        """The kind with its size; of a kind that has none, both are empty."""
        kind = MARK_KINDS[self.kind.value]
        fields: dict[str, Any] = {"do": kind.name, "diameter": None, "length": None}
        if kind.measure is not None:
            fields[kind.measure] = self.size_field.value or 4.0
        return fields

    def _put(self, **fields: Any) -> None:
        row = self._selected
        if row is not None:
            self._editor.change_row(row.name, _WORDS, **fields)
        else:
            changed = self._editor.row | fields
            self._editor.row = {key: value for key, value in changed.items() if value is not None}
        self._show()

    def _rename(self, name: str) -> None:
        row, piece = self._selected, self._document.piece
        if row is None or not isinstance(piece, Piece):
            return
        if any(other.name == name for other in piece.rows):
            self.name.refuse(f"Another row of this piece is called {name}.")
            return
        self._editor.change_row(row.name, "Rename a row", name=name)

    def _go_round(self, on: bool) -> None:
        row = self._selected
        if row is None:
            return
        if on:
            self._put(end=None, ends=0.0)
            return
        marks = self._marks_of(row)
        self._put(end=marks[-1])

    def _marks_of(self, row: Row) -> list[tuple[float, float]]:
        piece = self._document.piece
        assert isinstance(piece, Piece)
        number = [each.name for each in piece.rows].index(row.name)
        return [(round(mark.at[0], 2), round(mark.at[1], 2)) for mark in piece.marks_of_rows[number]]

    def _turn_round(self) -> None:
        row = self._selected
        if row is not None:
            self._put(clockwise=not row.clockwise)

    def _pick_none(self) -> None:
        self.list.setCurrentRow(-1)
        self._show()

    def _remove(self) -> None:
        row = self._selected
        if row is not None:
            self._editor.remove_row(row.name)


def _beside(fields: tuple[LengthField, LengthField]) -> QWidget:
    """Two fields beside each other, as one of a form."""
    together, row = QWidget(), row_of(*fields)
    row.setContentsMargins(0, 0, 0, 0)
    together.setLayout(row)
    return together
