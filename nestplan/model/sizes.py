"""The sizes of an article that is drawn in one size: what the other sizes add to the wearer's measures, which pieces
take their share of it, and which edges meet and so stay as long as each other.

How a piece is made larger or smaller by it is in `estimate.article_sizes`.
"""

from __future__ import annotations

from collections.abc import Collection
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import msgspec

from nestplan.errors import InputError
from nestplan.geometry.edge_line import line_along_edge
from nestplan.geometry.sides import SIDE_NAMES, SideName, sides_of
from nestplan.model.values import (
    Length,
    Name,
    Point,
    Record,
    need,
    need_at_most,
    need_finite,
    need_near,
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
_MOST_LINES = 20
_MOST_CHANGE = 2_000.0
"""Bounds on what a file may hold, beyond any real article."""

LENGTH_WORDS = ("length", "height", "rise", "drop", "depth")
"""Measures that run lengthwise unless it is said otherwise; all others, such as waist and hip, run round the wearer."""

RowsKeep = Literal["as drawn", "pitch", "number"]
"""What rows of holes keep in another size."""

Where = Literal["both sides", "middle", "left", "right", "bottom", "top"]
"""Where a piece is spread: on both sides of its middle, in its middle, or near one edge."""


class Edge(Record, frozen=True, kw_only=True):
    """An edge of a piece as it is drawn: one of its four sides, from corner to corner, or the part of its outline from
    the spot nearest to `start` to that nearest to `end`, counter-clockwise."""

    piece: Name
    side: SideName | None = None
    start: Point | None = None
    end: Point | None = None

    def __post_init__(self) -> None:
        by_points = self.start is not None and self.end is not None
        need(
            by_points if self.side is None else self.start is None and self.end is None,
            "An edge is one of the sides, or runs from a start to an end.",
            place="side",
            mend=f"Give one of {', '.join(SIDE_NAMES)}, or a start and an end.",
        )
        need_near("start", [each for each in (self.start, self.end) if each is not None])

    @property
    def words(self) -> str:
        """The edge in words, such as `front, right edge`."""
        if self.side is not None or self.start is None or self.end is None:
            return f"{self.piece}, {self.side} edge"
        start, end = (f"({x:g}, {y:g})" for x, y in (self.start, self.end))
        return f"{self.piece}, edge from {start} to {end} mm"


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
    the circumference of a change in width, and all of a change in length. `where` a piece is spread may be said more
    exactly by `lines` across it, each a share from 0 to 1 of the way from its left or its lower edge.
    """

    name: Name
    share: float | None = None
    where: Where = "both sides"
    lines: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        need_finite("share", self.share, *self.lines)
        need_range("share", self.share, -10.0, 10.0, "")
        need_at_most("lines", self.lines, _MOST_LINES)
        need(
            all(one < other for one, other in pairwise((0.0, *self.lines, 1.0))),
            "Lines across a piece lie between 0 and 1, the lesser first.",
            place="lines",
            mend="Give such as [0.25, 0.75].",
        )


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
    if edge.side is None and edge.start is not None:
        return line_along_edge(piece.ring, edge.start, edge.end)
    points = sides_of(piece.ring).points(edge.side or "left")
    if len(points) < 2:
        raise InputError(
            f"The piece '{piece.name}' has no {edge.side} edge, only a point.", mend="Name another edge."
        )
    return piece.ring[points]
