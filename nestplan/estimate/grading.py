"""Grading: a pattern made larger or smaller between control lines, with its seams and holes kept.

A pattern is a ring and points (hole centres, mark ends) in mm. Between two control lines it stretches;
outside them it only moves. So what a seam joins stays as it was: edges, holes and their distances outside the
free bands are untouched, an edge bends where it crosses a control line, and an opening inside a free band stretches.
This is for one piece and for lines that the user draws; `article_sizes` makes whole articles in the sizes of their
wearers, where straight edges stay straight, spots and openings keep their size, and edges that meet are kept equal.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray

from nestplan.errors import InputError, RuleError
from nestplan.geometry.units import show_length
from nestplan.model.piece import Opening, Piece

__all__ = ["SizeChange", "grade_piece", "grade_points", "grade_ring"]

Points = NDArray[np.float64]


@dataclass(frozen=True)
class SizeChange:
    """A change of size along an axis: `change` mm, shared out over the `free` bands (from, to) by their
    width.

    Outside the bands the pattern keeps its measures. Raises InputError for bands that overlap or are empty,
    RuleError, told in `units`, where making smaller would close a band altogether.
    """

    axis: Literal["x", "y"]
    free: tuple[tuple[float, float], ...]
    change: float
    units: Literal["mm", "in"] = "mm"

    def __post_init__(self) -> None:
        flat = [place for band in sorted(self.free) for place in band]
        rising = all(low < high for low, high in self.free) and flat == sorted(flat)
        if not flat or not rising or not np.isfinite([*flat, self.change]).all():
            raise InputError(
                "The control lines need free bands (from, to), one after the other.",
                mend="Order them, and let none overlap.",
                place="free",
            )
        if self.change <= -self.room:
            away, room = show_length(-self.change, self.units), show_length(self.room, self.units)
            raise RuleError(
                f"Taking away {away} leaves nothing of the free {room}.",
                mend="Set the control lines further apart or start from a smaller size.",
            )

    @property
    def room(self) -> float:
        """Width of all free bands together, mm."""
        return sum(high - low for low, high in self.free)

    @property
    def lines(self) -> tuple[float, ...]:
        """The control lines, rising."""
        return tuple(place for band in sorted(self.free) for place in band)


def grade_points(points: ArrayLike, stretches: Sequence[SizeChange]) -> Points:
    """Points (n, 2) where the graded pattern has them, mm; what lies outside the free bands only moves.

    What lies before the first control line stays in its place.
    """
    graded: Points = np.array(points, dtype=np.float64).reshape(-1, 2)
    for stretch in stretches:
        axis = 0 if stretch.axis == "x" else 1
        old = np.array(stretch.lines)
        growth = np.zeros_like(old)
        widths = old[1::2] - old[::2]
        growth[1::2] = widths * (stretch.change / stretch.room)
        moved = np.cumsum(growth)
        # Beyond the last line np.interp holds the last value: those points move by the whole change.
        graded[:, axis] += np.interp(graded[:, axis], old, moved)
    return graded


def grade_ring(ring: ArrayLike, stretches: Sequence[SizeChange]) -> Points:
    """The ring (n, 2) graded. Where an edge crosses a control line a point is added, so that the edge bends
    there and both sides stay true."""
    graded: Points = np.array(ring, dtype=np.float64).reshape(-1, 2)
    for stretch in stretches:
        graded = grade_points(_cut_at(graded, 0 if stretch.axis == "x" else 1, stretch.lines), [stretch])
    return graded


def _cut_at(ring: Points, axis: int, lines: Sequence[float]) -> Points:
    """The same ring with a point wherever an edge crosses one of the lines."""
    points: list[Points] = []
    for start, end in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        points.append(start)
        low, high = start[axis], end[axis]
        if low == high:
            continue
        shares = sorted((line - low) / (high - low) for line in lines)
        points += [start + share * (end - start) for share in shares if 1e-9 < share < 1.0 - 1e-9]
    return np.array(points)


def grade_piece(piece: Piece, stretches: Sequence[SizeChange], *, name: str = "") -> Piece:
    """The piece in another size: outline, openings, parts and marks graded, everything else as it was.

    Of a row its two ends are graded: its marks keep their inset, and their pitch or their number.
    Openings that lie in a free band stretch with it, so control lines belong beside them. A stated length of
    seams is kept, since which edges it means is not known; None, the whole edge, follows by itself.

    Raises ShapeError where the graded outline crosses itself.
    """

    def graded(points: Points) -> tuple[tuple[float, float], ...]:
        return tuple((float(x), float(y)) for x, y in points)

    def ring(outline: ArrayLike) -> tuple[tuple[float, float], ...]:
        return graded(grade_ring(outline, stretches))

    return msgspec.structs.replace(
        piece,
        name=name or piece.name,
        outline=ring(piece.outline),
        holes=tuple(
            msgspec.structs.replace(hole, outline=ring(hole.outline))
            if isinstance(hole, Opening)
            else ring(hole)
            for hole in piece.holes
        ),
        parts=tuple(msgspec.structs.replace(part, outline=ring(part.outline)) for part in piece.parts),
        marks=tuple(
            msgspec.structs.replace(mark, at=graded(grade_points([mark.at], stretches))[0])
            for mark in piece.marks
        ),
        around=graded(grade_points(piece.around, stretches)) if piece.around else (),
        rows=tuple(
            msgspec.structs.replace(
                row,
                start=graded(grade_points([row.start], stretches))[0],
                end=None if row.end is None else graded(grade_points([row.end], stretches))[0],
            )
            for row in piece.rows
        ),
    )
