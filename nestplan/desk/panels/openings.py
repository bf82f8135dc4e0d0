"""The openings of a piece as a list, with what the selected one is for, to which layers it is done and when."""

from __future__ import annotations

from typing import Any

import numpy as np
from PySide6.QtWidgets import QListWidget, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import button, fit_rows, form, section, text_field
from nestplan.desk.document.document import Document
from nestplan.desk.editing.piece_editor import PieceEditor
from nestplan.desk.panels.work_choices import WorkChoices
from nestplan.desk.settings import Settings
from nestplan.model.piece import Opening, Piece

__all__ = ["OpeningsPart"]


class OpeningsPart(QWidget):
    """The list and the figures; not shown for a piece without openings."""

    def __init__(self, document: Document, editor: PieceEditor, settings: Settings) -> None:
        super().__init__()
        self._document, self._editor, self._settings = document, editor, settings
        self.list = QListWidget()
        self.list.setAccessibleName("Openings")
        self.list.currentRowChanged.connect(lambda _: self._show())
        self.what = text_field(optional=True, tip="What it is: a window, a handle hole …")
        self.what.edited.connect(lambda words: self._put(what=words or ""))
        self.work = WorkChoices(self)
        self.layers, self.when = self.work.layers, self.work.when
        self.work.edited.connect(lambda fields: self._put(**fields))
        self.take_away = button("Delete the opening", self._remove, tip="Close the selected opening again")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        self._title = section("Openings")
        column.addWidget(self._title)
        column.addWidget(self.list)
        column.addLayout(form(("For", self.what), ("Layers", self.layers), ("When", self.when)))
        column.addWidget(self.take_away)

    def show_piece(self, piece: Piece) -> None:
        """Show the openings of a piece."""
        row = self.list.currentRow()
        self.list.blockSignals(True)
        self.list.clear()
        for number, opening in enumerate(piece.openings, start=1):
            width, height = (self._settings.length(float(side)) for side in np.ptp(opening.ring, axis=0))
            words = (f"{number}  {width} × {height}", opening.what, *opening.layers, opening.when or "")
            self.list.addItem(", ".join(filter(None, words)))
        fit_rows(self.list, most=5)
        self.list.setCurrentRow(min(max(row, 0), len(piece.openings) - 1))
        self.list.blockSignals(False)
        self._title.setText(f"Openings ({len(piece.openings)})")
        self.setVisible(bool(piece.openings))
        self._show()

    @property
    def _selected(self) -> Opening | None:
        piece, row = self._document.piece, self.list.currentRow()
        return piece.openings[row] if isinstance(piece, Piece) and 0 <= row < len(piece.openings) else None

    def _show(self) -> None:
        opening = self._selected
        self.what.set_value(opening.what or None if opening else None)
        self.what.setEnabled(opening is not None)
        self.take_away.setEnabled(opening is not None)
        self.work.show_item(self._document.piece, opening)

    def _put(self, **fields: Any) -> None:
        if self._selected is not None:
            self._editor.change_opening(self.list.currentRow(), **fields)

    def _remove(self) -> None:
        if self._selected is not None:
            self._editor.remove_opening(self.list.currentRow())
