"""To which layers something on a piece is done, and when: two lists, alike for marks, rows and openings."""

from __future__ import annotations

from typing import Any, get_args

import msgspec
from PySide6.QtCore import QObject, Signal

from nestplan.desk.controls.fields import Choice
from nestplan.model.layer_work import layers_of, time_of
from nestplan.model.piece import Mark, Opening, Piece, When

__all__ = ["WorkChoices"]

_USUAL = {"": "as usual"}


class WorkChoices(QObject):
    """The lists `layers` and `when`; `edited` carries what is chosen by hand, as fields of a record."""

    edited = Signal(object)

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self.layers = Choice(_USUAL, tip="To which layers it is done")
        self.when = Choice(_USUAL, tip="At the table, or through the glued and trimmed piece")
        for choice in (self.layers, self.when):
            choice.edited.connect(lambda _: self.edited.emit(self.fields()))

    def show_item(self, piece: object, item: Mark | Opening | None) -> None:
        """Show what can be chosen for a mark or an opening; nothing for none, or where there is one layer only."""
        several = item is not None and isinstance(piece, Piece) and len(piece.cuts) > 1
        self.layers.setEnabled(several)
        self.when.setEnabled(several)
        if item is None or not isinstance(piece, Piece) or not several:
            self.layers.set_words(_USUAL)
            self.when.set_words(_USUAL)
            return
        usual = msgspec.structs.replace(item, layers=())
        names = [cut.layer for cut in piece.cuts]
        words = {"": f"as usual: {' and '.join(layers_of(piece, usual))}"}
        words |= {name: f"{name} only" for name in names}
        words["\n".join(names)] = "every layer"
        words.setdefault("\n".join(item.layers), " and ".join(item.layers))
        self.layers.set_words(words)
        self.layers.set_value("\n".join(item.layers))
        by_itself = time_of(piece, msgspec.structs.replace(item, when=None))
        self.when.set_words({"": f"as usual: {by_itself}", **{when: when for when in get_args(When)}})
        self.when.set_value(item.when or "")

    def fields(self) -> dict[str, Any]:
        """What is chosen, as fields of a mark, a row or an opening; nothing where there is nothing to choose."""
        if not self.layers.isEnabled():
            return {}
        chosen = self.layers.value or ""
        return {"layers": tuple(chosen.split("\n")) if chosen else (), "when": self.when.value or None}
