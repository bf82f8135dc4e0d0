"""One piece in another size: its outline spread, and what is on it brought along.

Marks that stand together, as a row of holes or a pattern of spots does, move as one and keep their distances. Those
beside an edge go with it and keep their distance from it; all others, and openings, keep their place in the whole.
One piece made larger between lines at stated places, all outside them exactly as it was, is in `grading`.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import msgspec
import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.geometry.edge_line import line_along_edge, line_length
from nestplan.geometry.ring import make_ring, perimeter, to_polygon, to_rings
from nestplan.geometry.sides import SIDE_NAMES, SideName, sides_of
from nestplan.geometry.spread import Spread, SpreadRing
from nestplan.model.mark_rows import Row, marks_of_row
from nestplan.model.piece import Mark, Opening, Part, Piece
from nestplan.model.sizes import Edge, RowsKeep
from nestplan.model.values import DECIMALS, Points, as_points

__all__ = ["GradedPiece", "side_of_row"]

Spots = NDArray[np.float64]

_BESIDE = 0.25
"""What is nearer to an edge than this share of the lesser of width and length stands beside it."""
_AT_EDGE = 1.0
"""mm: a line across the piece ends at its edge if it ends so near to it."""
_SAME_INSET = 0.25
"""Marks stand along an edge if their distances from it differ by at most this share of the mean, and 1 mm."""
_TOGETHER = 1.5
"""Marks stand together if they are at most so many times as far apart as is usual among their like."""
_SAME_DIRECTION = 1e-6
"""Radians: a turn by less is none."""
_OPPOSITE: tuple[set[SideName], ...] = ({"left", "right"}, {"bottom", "top"})


@dataclass(frozen=True)
class _Motion:
    """A turn (radians) about `centre` and a move to `to`."""

    centre: Spots
    to: Spots
    turn: float = 0.0

    def __call__(self, points: Spots) -> Spots:
        cos, sin = math.cos(self.turn), math.sin(self.turn)
        moved: Spots = (points - self.centre) @ np.array(((cos, sin), (-sin, cos))) + self.to
        return moved


class GradedPiece:
    """A piece whose outline is spread; its sides can still be trued before the piece is asked for.

    Raises RuleError where it would become too small.
    """

    def __init__(self, piece: Piece, width: Spread, length: Spread) -> None:
        self.drawn = piece
        self._spread = SpreadRing(piece.ring, width, length)
        self._beside = _BESIDE * float(np.ptp(piece.ring, axis=0).min())

    def edge_length(self, edge: Edge) -> float:
        """The length of one of its edges as it is now, mm."""
        points = self._points_of(edge)
        if edge.side is not None or edge.start is None or edge.end is None:
            return line_length(self._spread.ring[points])
        start, end = (self._spread.on_edge(spot) for spot in (edge.start, edge.end))
        return line_length(line_along_edge(self._spread.ring, tuple(start), tuple(end)))

    def lengthen(self, edge: Edge, by: float) -> None:
        """Make one of its edges longer by `by` mm."""
        self._spread.lengthen(self._points_of(edge), by)

    def _points_of(self, edge: Edge) -> NDArray[np.int64]:
        if edge.side is not None or edge.start is None or edge.end is None:
            return self._spread.sides.points(edge.side or "left")
        return self._spread.points_between(edge.start, edge.end)

    def moved_edge(self, edge: Edge) -> Edge:
        """The edge as the graded piece has it."""
        if edge.start is None or edge.end is None:
            return edge
        start, end = (
            np.round(self._spread.on_edge(spot), DECIMALS).tolist() for spot in (edge.start, edge.end)
        )
        return msgspec.structs.replace(edge, start=tuple(start), end=tuple(end))

    def piece(self, name: str, rows: RowsKeep) -> Piece:
        """The piece in its new size, under that name; `rows` says what its rows keep.

        Raises ShapeError where its outline would cross itself or something comes to lie outside it.
        """
        outline = make_ring(np.round(self._spread.ring, DECIMALS))
        piece = self.drawn
        return msgspec.structs.replace(
            piece,
            name=name,
            outline=as_points(outline),
            marks=self._marks(),
            rows=tuple(self._row(row, rows) for row in piece.rows),
            holes=tuple(
                msgspec.structs.replace(hole, outline=self._opening(hole.outline))
                if isinstance(hole, Opening)
                else self._opening(hole)
                for hole in piece.holes
            ),
            around=tuple(self._across(spot) for spot in piece.around),
            parts=tuple(self._part(part, outline) for part in piece.parts),
            seams=None
            if piece.seams is None
            else round(piece.seams * perimeter(outline) / perimeter(piece.ring), DECIMALS),
        )

    def _marks(self) -> tuple[Mark, ...]:
        moved = list(self.drawn.marks)
        shape = to_polygon(self._spread.ring)
        for group in _groups([_likeness(mark) for mark in moved], np.array([mark.at for mark in moved])):
            drawn = [self.drawn.marks[number].at for number in group]
            spots, turns = self._moved(drawn)
            if not all(shape.covers(shapely.Point(spot)) for spot in spots):
                # There is no room left for all of them together: each keeps its own place in the whole.
                spots, turns = np.array([self._spread.inside(at) for at in drawn]), [0.0] * len(drawn)
            for number, (x, y), turn in zip(group, np.round(spots, DECIMALS).tolist(), turns, strict=True):
                mark = moved[number]
                moved[number] = msgspec.structs.replace(mark, at=(x, y))
                if mark.kind.has_direction and abs(turn) > _SAME_DIRECTION:
                    turned = round(mark.angle + math.degrees(turn), DECIMALS)
                    moved[number] = msgspec.structs.replace(moved[number], angle=turned)
        return tuple(moved)

    def _row(self, row: Row, keep: RowsKeep) -> Row:
        """A row in the new size. Along the edge it keeps its distance from it, and those of its ends from the corners.
        One on a line from edge to edge reaches as far as it did; any other keeps its size and its place in the whole.
        """
        kept = _keeping(row, keep, self.drawn.ring)
        ends = [spot for spot in (row.start, row.end) if spot is not None]
        sides = [self._spread.nearest_side(spot) for spot in ends]
        if row.along == "edge":
            moved = np.array([self._spread.from_corner(*each) for each in zip(sides, ends, strict=True)])
        elif set(sides) in _OPPOSITE and all(
            self._spread.distance_to(*each) <= self._beside for each in zip(sides, ends, strict=True)
        ):
            moved = np.array(
                [self._along(*each)(each[1])[0] for each in zip(sides, np.array(ends)[:, None], strict=True)]
            )
        else:
            moved = self._as_one(ends)(np.array(ends, dtype=np.float64))
        spots = [(x, y) for x, y in np.round(moved, DECIMALS).tolist()]
        return msgspec.structs.replace(kept, start=spots[0], end=spots[1] if len(spots) > 1 else None)

    def _opening(self, outline: Points) -> Points:
        """An opening where the piece has it in its new size; its own size stays."""
        points = np.array(outline, dtype=np.float64)
        motion = self._as_one(points.tolist())
        return as_points(np.round(motion(points), DECIMALS))

    def _across(self, spot: tuple[float, float]) -> tuple[float, float]:
        """A point of the line across the piece: one at an edge stays at it."""
        side = self._spread.nearest_side(spot)
        at_edge = self._spread.distance_to(side, spot) < _AT_EDGE
        x, y = self._spread.on_side(side, spot).now if at_edge else self._spread.inside(spot)
        return round(float(x), DECIMALS), round(float(y), DECIMALS)

    def _part(self, part: Part, outline: Spots) -> Part:
        """A part of the piece, which stretches with it and stays inside it."""
        ring = make_ring([self._spread.inside(spot) for spot in part.ring])
        shape = to_polygon(outline).intersection(to_polygon(ring))
        largest = max(getattr(shape, "geoms", (shape,)), key=lambda each: each.area)
        return msgspec.structs.replace(part, outline=as_points(np.round(to_rings(largest)[0], DECIMALS)))

    def _moved(self, spots: Sequence[tuple[float, float]]) -> tuple[Spots, Sequence[float]]:
        """Where marks that stand together come to lie, and how each is turned, radians: as one, or, all round the edge,
        spread evenly along it."""
        nearest = [self._spread.nearest_side(spot) for spot in spots]
        beside = all(
            self._spread.distance_to(*each) <= self._beside for each in zip(nearest, spots, strict=True)
        )
        if not beside or self._side_of(spots):
            motion = self._as_one(spots)
            return motion(np.array(spots)), [motion.turn] * len(spots)
        moved, turns = np.array(spots, dtype=np.float64), [0.0] * len(spots)
        for side in dict.fromkeys(nearest):
            numbers = [number for number, other in enumerate(nearest) if other == side]
            moved[numbers], turned = self._spread.along_side(side, moved[numbers])
            for number, turn in zip(numbers, turned, strict=True):
                turns[number] = turn
        return moved, turns

    def _as_one(self, spots: Sequence[Sequence[float]]) -> _Motion:
        """How spots move that keep their distances: with the edge they stand along, or with the middle of them."""
        places = np.array(spots, dtype=np.float64)
        side = self._side_of(spots)
        if side:
            return self._along(side, places)
        middle = places.min(axis=0) + np.ptp(places, axis=0) / 2.0
        return _Motion(middle, self._spread.inside(middle))

    def _side_of(self, spots: Sequence[Sequence[float]]) -> SideName | None:
        """The side along which spots stand, all about as far from it; None if they stand along none."""
        found: list[tuple[float, SideName]] = []
        for side in SIDE_NAMES:
            distances = np.array([self._spread.distance_to(side, spot) for spot in spots])
            mean = float(distances.mean())
            if distances.max() <= self._beside and np.ptp(distances) <= _SAME_INSET * mean + 1.0:
                found.append((mean, side))
        return min(found)[1] if found else None

    def _along(self, side: SideName, spots: Spots) -> _Motion:
        """The motion with which spots beside a side go with it."""
        ends = _ends_of(spots)
        first, last = (self._spread.on_side(side, spots[end]) for end in ends)
        before, now = last.drawn - first.drawn, last.now - first.now
        if np.hypot(*before) < 1.0:
            turn = first.direction - first.drawn_direction
        else:
            turn = math.atan2(now[1], now[0]) - math.atan2(before[1], before[0])
        return _Motion((first.drawn + last.drawn) / 2.0, (first.now + last.now) / 2.0, turn)


def side_of_row(piece: Piece, row: str) -> SideName | None:
    """The side of a piece along which one of its rows runs; None for one round a corner, or across the piece."""
    marks = piece.marks_of_rows[[each.name for each in piece.rows].index(row)]
    sides, spots = sides_of(piece.ring), shapely.points([mark.at for mark in marks])
    for side in SIDE_NAMES:
        points = sides.points(side)
        if len(points) < 2:
            continue
        distances = shapely.distance(shapely.LineString(piece.ring[points]), spots)
        if float(distances.max()) <= piece.row(row).inset + _AT_EDGE:
            return side
    return None


def _keeping(row: Row, keep: RowsKeep, ring: Spots) -> Row:
    """The row given by what it is to keep: its pitch, or its number of marks."""
    if keep == "as drawn" or (keep == "pitch") == (row.pitch is not None):
        return row
    count = len(marks_of_row(row, ring))
    if row.along == "line" and row.end is not None:
        length = math.dist(row.start, row.end)
    else:
        length = line_length(
            line_along_edge(ring, row.start, row.end, inset=row.inset, clockwise=row.clockwise)
        )
    if keep == "pitch":
        steps = count if row.end is None else count - 1
        return msgspec.structs.replace(
            row, pitch=round((length - 2.0 * row.ends) / steps, DECIMALS), number=None
        )
    free = 0.0 if row.end is None or row.pitch is None else (length - row.pitch * (count - 1)) / 2.0
    return msgspec.structs.replace(row, pitch=None, number=count, ends=round(free, DECIMALS))


def _likeness(mark: Mark) -> Hashable:
    """What is the same for marks that may stand together."""
    return (mark.do, round(mark.size or 0.0, 3), mark.what, mark.layers, mark.when)


def _groups(likeness: Sequence[Hashable], spots: Spots) -> list[list[int]]:
    """The numbers of the spots that stand together: alike, and each near to another of the group."""
    groups = []
    for kind in dict.fromkeys(likeness):
        alike = [number for number, other in enumerate(likeness) if other == kind]
        groups += [[alike[each] for each in group] for group in _near_each_other(spots[alike])]
    return groups


def _near_each_other(spots: Spots) -> list[list[int]]:
    if len(spots) < 2:
        return [list(range(len(spots)))]
    distances = np.hypot(*(spots[:, None] - spots[None]).transpose(2, 0, 1))
    np.fill_diagonal(distances, np.inf)
    reach = _TOGETHER * float(np.median(distances.min(axis=1)))
    groups: list[list[int]] = []
    left = set(range(len(spots)))
    while left:
        group = [left.pop()]
        for number in group:
            found = [other for other in left if distances[number, other] <= reach]
            left.difference_update(found)
            group += found
        groups.append(sorted(group))
    return groups


def _ends_of(spots: Spots) -> tuple[int, int]:
    """The numbers of the two spots farthest from each other, one of them farthest from the middle."""
    first = int(np.hypot(*(spots - spots.mean(axis=0)).T).argmax())
    return first, int(np.hypot(*(spots - spots[first]).T).argmax())
