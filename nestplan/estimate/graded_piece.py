"""One piece in another size: its outline spread, and what is on it brought along.

Marks that stand together, as a row of holes or a pattern of spots does, move as one and keep their distances. Those
beside an edge go with it and keep their distance from it; all others, and openings, keep their place in the whole.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

from nestplan.geometry.ring import make_ring, perimeter, to_polygon, to_rings
from nestplan.geometry.sides import SIDE_NAMES, SideName
from nestplan.geometry.spread import Spread, SpreadRing
from nestplan.model.piece import Mark, Opening, Part, Piece
from nestplan.model.values import DECIMALS, Points, as_points

__all__ = ["GradedPiece"]

Spots = NDArray[np.float64]

_BESIDE = 0.25
"""What is nearer to an edge than this share of the lesser of width and length stands beside it."""
_SAME_INSET = 0.25
"""Marks stand along an edge if their distances from it differ by at most this share of the mean, and 1 mm."""
_TOGETHER = 1.5
"""Marks stand together if they are at most so many times as far apart as is usual among their like."""
_SAME_DIRECTION = 1e-6


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

    def side_length(self, side: SideName) -> float:
        """The length of one of its sides as it is now, mm."""
        return self._spread.side_length(side)

    def lengthen_side(self, side: SideName, by: float) -> None:
        """Make one of its sides longer by `by` mm."""
        self._spread.lengthen_side(side, by)

    def piece(self, name: str, rows: Literal["as drawn", "pitch", "number"]) -> Piece:
        """The piece in its new size, under that name.

        Raises ShapeError where its outline would cross itself or something comes to lie outside it.
        """
        outline = make_ring(np.round(self._spread.ring, DECIMALS))
        piece = self.drawn
        return msgspec.structs.replace(
            piece,
            name=name,
            outline=as_points(outline),
            marks=self._marks(),
            holes=tuple(
                msgspec.structs.replace(hole, outline=self._opening(hole.outline))
                if isinstance(hole, Opening)
                else self._opening(hole)
                for hole in piece.holes
            ),
            parts=tuple(self._part(part, outline) for part in piece.parts),
            seams=None
            if piece.seams is None
            else round(piece.seams * perimeter(outline) / perimeter(piece.ring), DECIMALS),
        )

    def _marks(self) -> tuple[Mark, ...]:
        moved = list(self.drawn.marks)
        for group in _groups([_likeness(mark) for mark in moved], np.array([mark.at for mark in moved])):
            for numbers, motion in self._motions([moved[number].at for number in group]):
                for number in (group[each] for each in numbers):
                    mark = self.drawn.marks[number]
                    x, y = np.round(motion(np.array([mark.at])), DECIMALS)[0].tolist()
                    moved[number] = msgspec.structs.replace(mark, at=(x, y))
                    if mark.kind.has_direction and abs(motion.turn) > _SAME_DIRECTION:
                        turned = round(mark.angle + math.degrees(motion.turn), DECIMALS)
                        moved[number] = msgspec.structs.replace(moved[number], angle=turned)
        return tuple(moved)

    def _opening(self, outline: Points) -> Points:
        """An opening where the piece has it in its new size; its own size stays."""
        points = np.array(outline, dtype=np.float64)
        middle = points.min(axis=0) + np.ptp(points, axis=0) / 2.0
        side = self._side_of(points.tolist())
        motion = self._along(side, middle[None]) if side else _Motion(middle, self._spread.inside(middle))
        return as_points(np.round(motion(points), DECIMALS))

    def _part(self, part: Part, outline: Spots) -> Part:
        """A part of the piece, which stretches with it and stays inside it."""
        ring = make_ring([self._spread.inside(spot) for spot in part.ring])
        shape = to_polygon(outline).intersection(to_polygon(ring))
        largest = max(getattr(shape, "geoms", (shape,)), key=lambda each: each.area)
        return msgspec.structs.replace(part, outline=as_points(np.round(to_rings(largest)[0], DECIMALS)))

    def _motions(self, spots: Sequence[tuple[float, float]]) -> list[tuple[list[int], _Motion]]:
        """How marks that stand together move: as one, or, all round the edge, side by side; with their numbers."""
        places = np.array(spots)
        side = self._side_of(spots)
        if side:
            return [(list(range(len(spots))), self._along(side, places))]
        nearest = [self._nearest_side(spot) for spot in spots]
        if all(distance <= self._beside for _, distance in nearest):
            return [
                (numbers, self._along(name, places[numbers]))
                for name in SIDE_NAMES
                for numbers in ([number for number, (other, _) in enumerate(nearest) if other == name],)
                if numbers
            ]
        middle = places.min(axis=0) + np.ptp(places, axis=0) / 2.0
        return [(list(range(len(spots))), _Motion(middle, self._spread.inside(middle)))]

    def _side_of(self, spots: Sequence[Sequence[float]]) -> SideName | None:
        """The side along which spots stand, all about as far from it; None if they stand along none."""
        found: list[tuple[float, SideName]] = []
        for side in SIDE_NAMES:
            distances = np.array([self._distance(side, spot) for spot in spots])
            mean = float(distances.mean())
            if distances.max() <= self._beside and np.ptp(distances) <= _SAME_INSET * mean + 1.0:
                found.append((mean, side))
        return min(found)[1] if found else None

    def _nearest_side(self, spot: Sequence[float]) -> tuple[SideName, float]:
        distances = {side: self._distance(side, spot) for side in SIDE_NAMES}
        side = min(distances, key=lambda each: distances[each])
        return side, distances[side]

    def _distance(self, side: SideName, spot: Sequence[float]) -> float:
        if len(self._spread.sides.points(side)) < 2:
            return math.inf
        return float(np.hypot(*(self._spread.on_side(side, spot).drawn - spot)))

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
