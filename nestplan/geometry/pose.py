"""How a shape lies on the leather: turned over or not, turned, moved; and the turns it is allowed.

Angles are degrees counter-clockwise. Only numpy is needed here; outlines themselves are in
`nestplan.geometry.ring`, and which turns a piece may take is decided in `nestplan.model.rules`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from nestplan.errors import InputError, RuleError

__all__ = ["Pose", "Turns"]

_SAME_ANGLE = 1e-9


@dataclass(frozen=True)
class Pose:
    """A rigid placing of the plane: mirror first (x becomes -x), then turn by `angle` about the origin, then
    move.

    `x` and `y` are mm, `angle` degrees counter-clockwise, any finite value. Quarter turns are exact.
    """

    x: float
    y: float
    angle: float = 0.0
    mirrored: bool = False

    def __post_init__(self) -> None:
        if not (math.isfinite(self.x) and math.isfinite(self.y) and math.isfinite(self.angle)):
            raise InputError(f"A pose needs finite figures, not {self.x}, {self.y}, {self.angle}.")

    def apply(self, points: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """`points` (n, 2), placed, in the same order: a mirrored ring comes out clockwise."""
        c, s = _cos_sin(self.angle)
        turn_x = -1.0 if self.mirrored else 1.0
        matrix = np.array(((turn_x * c, turn_x * s), (-s, c)))
        placed: npt.NDArray[np.float64] = np.asarray(points, dtype=np.float64) @ matrix + (self.x, self.y)
        return placed

    def apply_ring(self, ring: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """The ring (n, 2), placed and counter-clockwise again: a mirrored ring's points come in reverse
        order.
        """
        placed = self.apply(ring)
        return np.ascontiguousarray(placed[::-1]) if self.mirrored else placed

    def inverse(self) -> Pose:
        """The pose that brings placed points back."""
        angle = self.angle if self.mirrored else -self.angle
        x, y = Pose(0.0, 0.0, angle, self.mirrored).apply([(self.x, self.y)])[0]
        return Pose(-float(x), -float(y), angle, self.mirrored)

    def then(self, other: Pose) -> Pose:
        """This pose followed by `other`: `a.then(b).apply(p)` is `b.apply(a.apply(p))`. Its angle is in [0,
        360).
        """
        angle = other.angle + (-self.angle if other.mirrored else self.angle)
        x, y = other.apply([(self.x, self.y)])[0]
        return Pose(float(x), float(y), _within_circle(angle), self.mirrored != other.mirrored)


@dataclass(frozen=True)
class Turns:
    """A set of allowed turns, as sorted disjoint closed intervals of degrees within [0, 360].

    Made by `any`, `none`, `of` or `around`, which put the intervals in order. A single turn is an interval of
    no length. Turns are a circle: an interval across 0 is held as one up to 360 and one from 0, and where 360
    is in the set so is 0. Empty sets are false.
    """

    intervals: tuple[tuple[float, float], ...]

    @classmethod
    def any(cls) -> Turns:
        """Every turn."""
        return cls(((0.0, 360.0),))

    @classmethod
    def none(cls) -> Turns:
        """No turn at all."""
        return cls(())

    @classmethod
    def of(cls, intervals: Iterable[Sequence[float]]) -> Turns:
        """The union of closed intervals `(from, to)` in degrees, `from <= to`, of any size and anywhere on
        the circle.

        An interval of 360 degrees or more is every turn. Raises InputError for `to < from` and for NaN.
        """
        cut: list[tuple[float, float]] = []
        for low, high in intervals:
            if not (math.isfinite(low) and math.isfinite(high) and low <= high):
                raise InputError(
                    f"{low:g} to {high:g} degrees is no interval.",
                    mend="Write the smaller first; across 0 as 350 to 370.",
                )
            if high - low >= 360.0:
                return cls.any()
            start = _within_circle(low)
            end = start + (high - low)
            cut.append((start, min(end, 360.0)))
            if end >= 360.0:
                cut.append((0.0, end - 360.0))
        return cls(_merged(cut))

    @classmethod
    def around(cls, angle: float, tolerance: float, period: float = 360.0) -> Turns:
        """Turns within `tolerance` degrees of `angle`, or of `angle` plus any multiple of `period`.

        `period` is 360 for a direction, 180 for an axis, which may lie either way about. Raises InputError
        for a negative tolerance or a period that does not divide 360.
        """
        if not tolerance >= 0:
            raise InputError(f"A tolerance cannot be {tolerance:g} degrees.")
        copies = round(360.0 / period) if period > 0 else 0
        if copies < 1 or abs(copies * period - 360.0) > _SAME_ANGLE:
            raise InputError(f"A period of {period:g} degrees does not divide the circle.")
        if 2.0 * tolerance >= period:
            return cls.any()
        return cls.of((angle + k * period - tolerance, angle + k * period + tolerance) for k in range(copies))

    @property
    def measure(self) -> float:
        """How many degrees the set covers; 0 for single turns."""
        return math.fsum(high - low for low, high in self.intervals)

    def __bool__(self) -> bool:
        return bool(self.intervals)

    def contains(self, angle: float) -> bool:
        """Whether the turn by `angle` degrees, of any size, is allowed, to 1e-9 of a degree."""
        turn = angle % 360.0
        return any(
            low - _SAME_ANGLE <= at <= high + _SAME_ANGLE
            for low, high in self.intervals
            for at in (turn, turn - 360.0, turn + 360.0)
        )

    def intersect(self, other: Turns) -> Turns:
        """The turns allowed by both."""
        shared = [
            (max(a, c), min(b, d))
            for a, b in self.intervals
            for c, d in other.intervals
            if max(a, c) <= min(b, d)
        ]
        return Turns.of(shared)

    def union(self, other: Turns) -> Turns:
        """The turns allowed by either."""
        return Turns.of((*self.intervals, *other.intervals))

    def shift(self, degrees: float) -> Turns:
        """Every turn of the set, turned on by `degrees`."""
        return Turns.of((low + degrees, high + degrees) for low, high in self.intervals)

    def nearest(self, angle: float) -> float:
        """The allowed turn nearest to `angle` round the circle, in [0, 360); `angle` itself where it is
        allowed.

        Of two equally near the lesser is given. Raises RuleError where no turn is allowed.
        """
        if not self.intervals:
            raise RuleError("No turn is allowed here.")
        turn = _within_circle(angle)
        if self.contains(turn):
            return turn
        ends = sorted(_within_circle(end) for interval in self.intervals for end in interval)
        return min(ends, key=lambda end: min((end - turn) % 360.0, (turn - end) % 360.0))


def _within_circle(angle: float) -> float:
    """`angle` in [0, 360), degrees."""
    turn = angle % 360.0
    # -1e-20 % 360 is 360.0 in floating point.
    return turn if turn < 360.0 else 0.0


def _cos_sin(angle: float) -> tuple[float, float]:
    """Cosine and sine of `angle` in degrees, exact at quarter turns."""
    quarter, rest = divmod(angle % 360.0, 90.0)
    c, s = (1.0, 0.0) if rest == 0 else (math.cos(math.radians(rest)), math.sin(math.radians(rest)))
    return ((c, s), (-s, c), (-c, -s), (s, -c))[int(quarter) % 4]


def _merged(intervals: list[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Intervals within [0, 360] sorted and joined where they touch; 0 is added where 360 is in them."""
    if any(high >= 360.0 for _, high in intervals):
        intervals = [*intervals, (0.0, 0.0)]
    merged: list[tuple[float, float]] = []
    for low, high in sorted(intervals):
        if merged and low <= merged[-1][1] + _SAME_ANGLE:
            merged[-1] = (merged[-1][0], max(merged[-1][1], high))
        else:
            merged.append((low, high))
    return tuple(merged)
