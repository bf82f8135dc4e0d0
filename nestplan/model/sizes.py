"""The sizes of an article that is drawn in one size: what the other sizes add to the wearer's measures, which pieces
take their share of it, and which edges meet and so stay as long as each other.

How a piece is made larger or smaller by it is in `estimate.article_sizes`.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING, Literal

import msgspec

from nestplan.errors import InputError
from nestplan.geometry.sides import SideName, sides_of
from nestplan.model.values import (
    Length,
    Name,
    Record,
    need,
    need_at_most,
    need_finite,
    need_range,
    need_unique,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from nestplan.model.piece import Piece

__all__ = [
    "LENGTH_WORDS",
    "Edge",
    "Growth",
    "Measure",
    "RowsKeep",
    "Seam",
    "Size",
    "Sizes",
    "Where",
    "edge_line",
    "measure_named",
]

_MOST_SIZES = 100
_MOST_EDGES = 50
_MOST_CHANGE = 2_000.0
"""Bounds on what a file may hold, beyond any real article."""

LENGTH_WORDS = ("length", "height", "rise", "drop", "depth")
"""Measures that run lengthwise unless it is said otherwise; all others, such as waist and hip, run round the wearer."""

RowsKeep = Literal["as drawn", "pitch", "number"]
"""What rows of holes keep in another size."""

Where = Literal["both sides", "middle", "left", "right", "bottom", "top"]
"""Where a piece is spread: on both sides of its middle, in its middle, or near one edge."""


class Edge(Record, frozen=True, kw_only=True):
    """An edge of a piece as it is drawn: one of its four sides, from corner to corner."""

    piece: Name
    side: SideName

    @property
    def words(self) -> str:
        """The edge in words, such as `front, right edge`."""
        return f"{self.piece}, {self.side} edge"


class Seam(Record, frozen=True, kw_only=True):
    """Edges that meet: those of `first`, one after the other, are as long as those of `second`."""

    first: tuple[Edge, ...]
    second: tuple[Edge, ...]

    def __post_init__(self) -> None:
        for place, edges in (("first", self.first), ("second", self.second)):
            need(
                bool(edges), "A seam joins edges; none is named here.", place=place, mend="Name one or more."
            )
            need_at_most(place, edges, _MOST_EDGES)

    @property
    def edges(self) -> tuple[Edge, ...]:
        """All its edges."""
        return (*self.first, *self.second)


class Growth(Record, frozen=True, kw_only=True):
    """How one piece, or strip, takes its part of a change of a measure.

    `share` is how much of the change one copy takes: 1 takes all of it, 0 none. Left out, a piece takes its part of
    the circumference of a change in width, and all of a change in length. `where` it is spread counts for pieces.
    """

    name: Name
    share: float | None = None
    where: Where = "both sides"

    def __post_init__(self) -> None:
        need_finite("share", self.share)
        need_range("share", self.share, -10.0, 10.0, "")


class Measure(Record, frozen=True, kw_only=True):
    """A measure of the wearer: whether it runs round (`width`) or lengthwise, and the pieces that follow it.

    None named: the pieces that seams or laced joins hold together, or all where there are none.
    """

    name: Name
    along: Literal["width", "length"] = "width"
    pieces: tuple[Growth, ...] = ()

    def __post_init__(self) -> None:
        need_unique((growth.name for growth in self.pieces), "pieces")


class Size(Record, frozen=True, kw_only=True):
    """One size: its name, and by how much (mm) each of the wearer's measures differs from the drawn size."""

    name: Name
    changes: dict[Name, Length] = {}

    def __post_init__(self) -> None:
        need_finite("changes", *self.changes.values())
        for measure, change in self.changes.items():
            need_range(f"changes.{measure}", change, -_MOST_CHANGE, _MOST_CHANGE)


class Sizes(Record, frozen=True, kw_only=True):
    """The other sizes of an article, and how its pieces follow the measures.

    `rows` says what rows of holes keep: `as drawn`, those drawn by pitch their pitch and those by number their number;
    `pitch` or `number`, all of them.
    """

    others: tuple[Size, ...]
    measures: tuple[Measure, ...] = ()
    rows: RowsKeep = "as drawn"

    def __post_init__(self) -> None:
        need(
            bool(self.others),
            "There are no other sizes.",
            place="others",
            mend="Name one, or leave sizes out.",
        )
        need_at_most("others", self.others, _MOST_SIZES)
        need_unique((size.name for size in self.others), "others")
        need_unique((measure.name for measure in self.measures), "measures")

    def measure(self, name: str) -> Measure:
        """The measure of that name, as recorded or as it is usual."""
        return next((measure for measure in self.measures if measure.name == name), measure_named(name))

    def keeping(self, names: Collection[str]) -> Sizes:
        """The sizes of an article that has only pieces and strips of these names left."""
        measures = tuple(
            msgspec.structs.replace(
                measure, pieces=tuple(growth for growth in measure.pieces if growth.name in names)
            )
            for measure in self.measures
        )
        return msgspec.structs.replace(self, measures=measures)


def measure_named(name: str) -> Measure:
    """A measure as it is usual: lengthwise if its name says so, round the wearer otherwise."""
    lengthwise = name.lower().split()[-1] in LENGTH_WORDS if name.split() else False
    return Measure(name=name, along="length" if lengthwise else "width")


def edge_line(piece: Piece, edge: Edge) -> NDArray[np.float64]:
    """The edge (n, 2) of a piece, mm, counter-clockwise from its start to its end.

    Raises InputError where the piece has no such side, as a triangle has no top.
    """
    points = sides_of(piece.ring).points(edge.side)
    if len(points) < 2:
        raise InputError(
            f"The piece '{piece.name}' has no {edge.side} edge, only a point.", mend="Name another edge."
        )
    return piece.ring[points]
