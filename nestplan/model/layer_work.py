"""What is done to which layer of a piece, and when: openings, holes, slits and spots by layer and time.

A mark or an opening may name its layers and its time. Where it does not, they follow from what it is:

- What goes through (a hole, a slit) is done to every layer at once, after the layers are glued and trimmed. One that
  names some of several layers, but not all, is done to each of them at the table, before they are glued.
- A spot, whose prongs or post the lining covers, and an opening are done to the layer that is seen, which is the first
  of the piece's cuts, at the table.
- In a piece of one layer there is nothing to glue: all is done at the table, but what is cut in a piece with an
  overcut, which is cut after trimming.
- One that is said to be done after trimming goes through every layer.

After trimming the first of its layers guides the hand: there, and on no other layer, it is drawn at the table.
Common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from typing import get_args

from nestplan.geometry.ring import area, joint_area
from nestplan.model.marks import Mark, Opening, When
from nestplan.model.piece import Piece

__all__ = [
    "LayerWork",
    "drawing_layer",
    "layers_of",
    "net_area_of_layer",
    "openings_of_layer",
    "read_drawing_layer",
    "time_of",
    "work_after_trimming",
    "work_at_table",
    "work_drawn_for_later",
]


@dataclass(frozen=True)
class LayerWork:
    """Openings and marks that are done, or drawn, together."""

    openings: tuple[Opening, ...]
    marks: tuple[Mark, ...]

    def __bool__(self) -> bool:
        return bool(self.openings or self.marks)

    def __iter__(self) -> Iterator[Opening | Mark]:
        return iter((*self.openings, *self.marks))


def layers_of(piece: Piece, item: Mark | Opening) -> tuple[str, ...]:
    """The layers of the piece that an opening or a mark is done to, in the order of the piece's cuts."""
    every = tuple(cut.layer for cut in piece.cuts)
    if item.layers:
        return tuple(layer for layer in every if layer in item.layers)
    return every if _goes_through(item) or item.when == "after trimming" else every[:1]


def time_of(piece: Piece, item: Mark | Opening) -> When:
    """When an opening or a mark is done."""
    if item.when is not None:
        return item.when
    if len(piece.cuts) == 1:
        later = piece.cuts[0].overcut is not None and (isinstance(item, Opening) or item.kind.cuts)
    else:
        later = _goes_through(item) and len(layers_of(piece, item)) == len(piece.cuts)
    return "after trimming" if later else "before gluing"


def work_at_table(piece: Piece, layer: str) -> LayerWork:
    """What is done to one layer by itself, before the layers are glued."""
    return _chosen(piece, lambda item: layer in layers_of(piece, item), "before gluing")


def work_drawn_for_later(piece: Piece, layer: str) -> LayerWork:
    """What is only drawn on one layer, to be done once the layers are glued and trimmed."""
    return _chosen(piece, lambda item: layers_of(piece, item)[:1] == (layer,), "after trimming")


def work_after_trimming(piece: Piece) -> LayerWork:
    """What is done to the glued and trimmed piece."""
    return _chosen(piece, lambda item: True, "after trimming")


def openings_of_layer(piece: Piece, layer: str) -> tuple[Opening, ...]:
    """The openings that one layer of the finished piece has."""
    return tuple(opening for opening in piece.openings if layer in layers_of(piece, opening))


def net_area_of_layer(piece: Piece, layer: str) -> float:
    """Area of the finished piece in one of its layers, less the openings of that layer, mm²."""
    return area(piece.ring) - joint_area([opening.ring for opening in openings_of_layer(piece, layer)])


def drawing_layer(word: str, piece: Piece, item: Mark | Opening) -> str:
    """The layer of a drawing file on which an opening or a mark lies: its `word`, such as `hole`; of a lined piece also
    to which layers it is done and when, `hole (outer+lining) after trimming`; of another, when it is done later."""
    when = time_of(piece, item)
    if len(piece.cuts) == 1:
        return word if when == "before gluing" else f"{word} {when}"
    return f"{word} ({'+'.join(layers_of(piece, item))}) {when}"


def read_drawing_layer(name: str, layers: Collection[str]) -> tuple[tuple[str, ...], When | None]:
    """Which of `layers` the name of a drawing's layer speaks of (none: of none of them), and when; None where it does
    not say."""
    found = re.search(r"\(([^)]*)\)", name)
    named = tuple(each for each in (found[1].split("+") if found else ()) if each in layers)
    when = next((each for each in get_args(When) if name.lower().endswith(each)), None)
    return named, when


def _goes_through(item: Mark | Opening) -> bool:
    return isinstance(item, Mark) and item.kind.goes_through


def _chosen(piece: Piece, wanted: Callable[[Mark | Opening], bool], when: When) -> LayerWork:
    def chosen(item: Mark | Opening) -> bool:
        return time_of(piece, item) == when and wanted(item)

    return LayerWork(tuple(filter(chosen, piece.openings)), tuple(filter(chosen, piece.all_marks)))
