"""A panel made wider or longer by leather put in along lines across it, as a pattern is cut apart and spread.

Opposite sides are moved apart as they are, so what is joined along them keeps its length. Straight edges stay
straight, curves smooth: what is put in along a line is spread smoothly over a band about it. A slanted edge that
crosses such a line stays straight and turns a little, and the angles at its ends with it: it cannot keep both. A round
piece, which has no straight edges to keep, is spread evenly. Rings are (n, 2) float64, mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from nestplan.errors import RuleError, told_length
from nestplan.geometry.edge_line import line_length, spots_along
from nestplan.geometry.ring import to_polygon
from nestplan.geometry.sides import SIDE_NAMES, SideName, Sides, crossings, sides_of, straight_runs

__all__ = ["SideSpot", "Spread", "SpreadRing"]

Ring = npt.NDArray[np.float64]

_BAND = 0.8
"""Width of the band about a line, as a share of the room to the next line or side: the rest keeps its shape."""
_EXACT = 0.01
"""mm: so exactly a ring becomes wider and longer."""
_LEAST_LEFT = 0.25
"""A narrower panel keeps at least this share of its measure at every place."""


@dataclass(frozen=True)
class Spread:
    """How one measure of a panel changes: by `amount` mm, put in along `lines`, each a share from 0 to 1 of the way
    across it from left or from below, an equal part at each."""

    amount: float
    lines: tuple[float, ...] = (0.25, 0.75)

    def share(self, places: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """The share of the amount that lies before each of `places` (shares of the way across): 0 at the one side, 1
        at the other, smooth between."""
        at = np.clip(np.asarray(places, dtype=np.float64), 0.0, 1.0)
        passed = np.zeros_like(at)
        for line, half in self._bands:
            step = np.clip((at - line + half) / (2.0 * half), 0.0, 1.0)
            passed += step * step * (3.0 - 2.0 * step)
        return passed / len(self.lines)

    @cached_property
    def _bands(self) -> tuple[tuple[float, float], ...]:
        """Each line with half the width of its band."""
        lines = sorted(self.lines)
        middles = [(before + after) / 2.0 for before, after in pairwise(lines)]
        borders = [0.0, *middles, 1.0]
        return tuple(
            (line, _BAND * min(line - low, high - line))
            for line, low, high in zip(lines, borders, borders[1:], strict=False)
        )

    def require_room(self, measure: float) -> None:
        """Raise RuleError where a panel of that measure (mm) cannot become so much smaller."""
        steepest = max(1.5 / (2.0 * half) for _, half in self._bands) / len(self.lines)
        least = -measure * (1.0 - _LEAST_LEFT) / steepest
        if self.amount < least:
            raise RuleError(
                f"It is {told_length(measure)} across; {told_length(-self.amount)} cannot be taken out of it.",
                mend=f"Take out at most {told_length(-least)}, or start from a smaller drawn size.",
            )


class SpreadRing:
    """A ring spread in width and length, and where what lies on it or in it comes to lie.

    Its lower left corner of the bounding box stays where it was. Raises RuleError where it would become too small.
    """

    def __init__(self, ring: Ring, width: Spread, length: Spread) -> None:
        for spread, measure in zip((width, length), np.ptp(ring, axis=0), strict=True):
            spread.require_room(float(measure))
        self.drawn = ring
        self._spreads = (width, length)
        self.sides: Sides = sides_of(ring)
        self._by_place = self.sides.rounded
        moved = self._moved()
        if not self._as_asked(moved):
            # A shape without real sides, such as a star: every point by its place alone keeps it whole.
            self._by_place = True
            moved = self._moved()
        self._back = ring.min(axis=0) - moved.min(axis=0)
        self.ring: Ring = moved + self._back

    def _as_asked(self, moved: Ring) -> bool:
        """Whether a ring is whole, and as much wider and longer as was asked."""
        asked = np.ptp(self.drawn, axis=0) + np.array([spread.amount for spread in self._spreads])
        return bool(np.abs(np.ptp(moved, axis=0) - asked).max() < _EXACT and to_polygon(moved).is_valid)

    def _moved(self) -> Ring:
        """The points spread, wherever they come to lie as a whole."""
        moved = self.drawn + np.column_stack([self._shifts(0), self._shifts(1)])
        for run in straight_runs(self.drawn):
            _straighten(self.drawn, moved, run)
        return moved

    def _shifts(self, axis: int) -> npt.NDArray[np.float64]:
        """How far each point moves along an axis, from half the amount one way to half the other."""
        spread, values = self._spreads[axis], self.drawn[:, axis]
        low, high, between = _SIDES_ACROSS[axis]
        if self._by_place or not self.sides.apart(low, high):
            shares = self._share(axis, (values - values.min()) / np.ptp(values))
            return np.asarray(spread.amount * (shares - 0.5))
        shares = np.zeros(len(values))
        for side in between:
            points = self.sides.points(side)
            start, end = values[points[0]], values[points[-1]]
            if axis == _AXIS_FROM_HIGH_TO_LOW[side]:
                start, end = end, start
            shares[points] = spread.share((values[points] - start) / (end - start) if end != start else 0.5)
        shares[self.sides.points(low)] = 0.0
        shares[self.sides.points(high)] = 1.0
        return np.asarray(spread.amount * (shares - 0.5))

    def _share(self, axis: int, places: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """The share of the amount that lies before each of `places`; a round piece is spread evenly."""
        return (
            np.asarray(places, dtype=np.float64) if self.sides.rounded else self._spreads[axis].share(places)
        )

    def inside(self, at: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """Where a spot (2,) inside the drawn ring comes to lie: its share of the way across counts, both ways."""
        spot = np.asarray(at, dtype=np.float64)
        shift = [
            spread.amount * (float(self._share(axis, self._share_across(spot, axis))) - 0.5)
            for axis, spread in enumerate(self._spreads)
        ]
        return np.asarray(spot + shift + self._back)

    def _share_across(self, spot: npt.NDArray[np.float64], axis: int) -> float:
        """The share of the way across, along an axis, at which a spot lies, between the outline's outermost edges."""
        ends = crossings(self.drawn, 1 - axis, float(spot[1 - axis]), axis)
        low, high = (
            (ends.min(), ends.max())
            if len(ends) > 1 and not self._by_place
            else (self.drawn[:, axis].min(), self.drawn[:, axis].max())
        )
        return float((spot[axis] - low) / (high - low)) if high > low else 0.5

    def on_side(self, side: SideName, at: npt.ArrayLike) -> SideSpot:
        """The spot of a side that was nearest to `at` (2,), and where it is now."""
        points = self.sides.points(side)
        x, y = np.asarray(at, dtype=np.float64)
        return _spot_on(self.drawn[points], self.ring[points], (float(x), float(y)))

    def from_corner(self, side: SideName, at: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """The spot (2,) of a side that is as far from the nearer of its corners, along it, as the drawn spot nearest to
        `at` is."""
        spots, _ = self.along_side(side, np.asarray(at, dtype=np.float64)[None], inset=False)
        return np.asarray(spots[0])

    def along_side(
        self, side: SideName, spots: npt.NDArray[np.float64], *, inset: bool = True
    ) -> tuple[npt.NDArray[np.float64], list[float]]:
        """Drawn spots (k, 2) beside a side, spread along it: the first and the last stay as far from their corners, the
        others share what is between; with `inset` each stays as far from the side, without it comes to lie on it. And
        how far the side has turned at each, radians.

        A spot by itself stays as far from the corner that is nearer.
        """
        points = self.sides.points(side)
        drawn, now = self.drawn[points], self.ring[points]
        found = [_nearest_on(drawn, (float(x), float(y))) for x, y in spots]
        reached = np.array(
            [line_length(drawn[: n + 1]) + np.hypot(*(spot - drawn[n])) for n, spot, _ in found]
        )
        whole, length = line_length(drawn), line_length(now)
        first, last = float(reached.min()), float(reached.max())
        if last - first < 1e-6:
            kept = reached if first <= whole / 2.0 else reached + length - whole
        else:
            kept = first + (reached - first) / (last - first) * (last - first + length - whole)
        places, directions = spots_along(now, np.clip(kept, 0.0, length))
        _, before = spots_along(drawn, reached)
        turns = np.radians(directions - before)
        if inset:
            away = np.array([distance for _, _, distance in found])
            normals = np.radians(directions) + np.pi / 2.0
            places = places + away[:, None] * np.column_stack((np.cos(normals), np.sin(normals)))
        return places, turns.tolist()

    def distance_to(self, side: SideName, at: npt.ArrayLike) -> float:
        """How far a drawn spot (2,) is from a side, mm; infinite where the side is but a point."""
        points = self.sides.points(side)
        if len(points) < 2:
            return float("inf")
        x, y = np.asarray(at, dtype=np.float64)
        return _nearest_on(self.drawn[points], (float(x), float(y)))[2]

    def nearest_side(self, at: npt.ArrayLike) -> SideName:
        """The side nearest to a drawn spot (2,)."""
        return min(SIDE_NAMES, key=lambda side: self.distance_to(side, at))

    def points_between(self, start: npt.ArrayLike, end: npt.ArrayLike) -> npt.NDArray[np.int64]:
        """The numbers of the points of the ring from the one nearest to the drawn spot `start` (2,) to that nearest to
        `end`, counter-clockwise."""
        first, last = (
            int(np.hypot(*(self.drawn - np.asarray(spot, dtype=np.float64)).T).argmin())
            for spot in (start, end)
        )
        count = len(self.drawn)
        return (first + np.arange((last - first) % count + 1)) % count

    def on_edge(self, at: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """Where the spot of the drawn edge nearest to `at` (2,) is now."""
        closed, now = np.vstack((self.drawn, self.drawn[:1])), np.vstack((self.ring, self.ring[:1]))
        x, y = np.asarray(at, dtype=np.float64)
        return _spot_on(closed, now, (float(x), float(y))).now

    def lengthen(self, points: npt.NDArray[np.int64], by: float) -> None:
        """Make the edge along some points of the ring, in their order, longer by `by` mm (shorter where it is
        negative), half of it at each end, where it goes on the way it runs; what is beside it gives way, less and less
        as far as the next corner of the piece."""
        if len(points) < 2:
            return
        line = self.ring[points].copy()
        first, last = line[0] - line[1], line[-1] - line[-2]
        first, last = first / np.hypot(*first), last / np.hypot(*last)
        shares = 2.0 * _shares_along(line)[:, None]
        self.ring[points] += (
            by / 2.0 * (np.maximum(1.0 - shares, 0.0) * first + np.maximum(shares - 1.0, 0.0) * last)
        )
        for way, start, pull in ((-1, int(points[0]), first), (1, int(points[-1]), last)):
            beside = self._to_next_corner(start, way, len(self.drawn) - len(points) + 1)
            if len(beside) > 1:
                self.ring[beside[1:]] += by / 2.0 * (1.0 - _shares_along(self.ring[beside])[1:, None]) * pull

    def _to_next_corner(self, start: int, way: int, most: int) -> npt.NDArray[np.int64]:
        """The numbers of the points from `start` to the next corner of the piece, forwards or (`way` -1) backwards;
        `most` steps at most."""
        corners = {int(self.sides.points(side)[0]) for side in SIDE_NAMES}
        found = [start]
        while len(found) <= most:
            found.append((found[-1] + way) % len(self.drawn))
            if found[-1] in corners:
                break
        return np.array(found[: most + 1])


@dataclass(frozen=True)
class SideSpot:
    """A spot of a side: where it was drawn and is now (2,), mm, and the direction of the side there, before and now,
    radians."""

    drawn: npt.NDArray[np.float64]
    now: npt.NDArray[np.float64]
    drawn_direction: float
    direction: float


_SIDES_ACROSS: tuple[tuple[SideName, SideName, tuple[SideName, SideName]], ...] = (
    ("left", "right", ("top", "bottom")),
    ("bottom", "top", ("left", "right")),
)
"""For width and length: the side before, the side after, and the two that run from the one to the other."""
_AXIS_FROM_HIGH_TO_LOW: dict[SideName, int] = {"top": 0, "left": 1, "bottom": -1, "right": -1}
"""The axis along which a side, followed counter-clockwise, runs from the greater value to the less; -1: none."""


def _straighten(drawn: Ring, moved: Ring, run: npt.NDArray[np.int64]) -> None:
    """Lay the points on the way of a straight edge on the line between its moved ends again, at their shares."""
    if len(run) < 3:
        return
    reach = drawn[run[-1]] - drawn[run[0]]
    shares = ((drawn[run] - drawn[run[0]]) @ reach) / (reach @ reach)
    moved[run] = moved[run[0]] + shares[:, None] * (moved[run[-1]] - moved[run[0]])


def _shares_along(line: Ring) -> npt.NDArray[np.float64]:
    """How far along an open line each of its points is, as a share of its length."""
    reached = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))))
    shares: npt.NDArray[np.float64] = reached / reached[-1]
    return shares


def _nearest_on(line: Ring, at: tuple[float, float]) -> tuple[int, npt.NDArray[np.float64], float]:
    """The spot of an open line nearest to `at`: the number of its part, the spot (2,) and its distance, mm."""
    along = np.diff(line, axis=0)
    square = np.maximum((along**2).sum(axis=1), 1e-18)
    shares = np.clip(((np.asarray(at) - line[:-1]) * along).sum(axis=1) / square, 0.0, 1.0)
    spots = line[:-1] + along * shares[:, None]
    distances = np.hypot(*(spots - np.asarray(at)).T)
    part = int(distances.argmin())
    return part, spots[part], float(distances[part])


def _spot_on(drawn: Ring, now: Ring, at: tuple[float, float]) -> SideSpot:
    """The spot of an open line nearest to `at`, and where it is once the points of the line have moved."""
    part, spot, _ = _nearest_on(drawn, at)
    along, moved = drawn[part + 1] - drawn[part], now[part + 1] - now[part]
    share = float(np.hypot(*(spot - drawn[part])) / max(float(np.hypot(*along)), 1e-9))
    return SideSpot(
        spot,
        now[part] + share * moved,
        float(np.arctan2(along[1], along[0])),
        float(np.arctan2(moved[1], moved[0])),
    )
