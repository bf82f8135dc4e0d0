"""The four sides of a panel: its outline parted at its corners into left, right, top and bottom.

Width runs along x and length along y, as the panel is drawn. A ring is (n, 2) float64, mm, counter-clockwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

__all__ = ["SIDE_NAMES", "SideName", "Sides", "crossings", "line_across", "sides_of", "straight_runs"]

Ring = npt.NDArray[np.float64]
SideName = Literal["left", "right", "top", "bottom"]
SIDE_NAMES: tuple[SideName, ...] = ("left", "right", "top", "bottom")

_STRAIGHT = np.radians(0.1)
"""An edge that turns less than this from the one before it goes straight on."""
_LONG = 0.2
"""A straight edge at least this share of the lesser of width and length may end in a corner."""
_NEAR_CORNER = 0.2
"""The end of a long straight edge is the corner if it is at most so much farther from the corner of the bounding box,
in shares of its sides, than the nearest point is."""
_UPRIGHT = 0.05
"""How much the end of an upright edge is preferred: what two panels are joined by runs upright as a rule."""


@dataclass(frozen=True)
class Sides:
    """The points of a ring that are its four corners, by their numbers. Two are the same where a side is but a point,
    as the top of a triangle is. `rounded`: none of them ends a long straight edge, as in a round piece."""

    count: int
    bottom_left: int
    bottom_right: int
    top_right: int
    top_left: int
    rounded: bool = False

    def points(self, side: SideName) -> npt.NDArray[np.int64]:
        """The numbers of the points of a side, from corner to corner, counter-clockwise."""
        first, last = {
            "bottom": (self.bottom_left, self.bottom_right),
            "right": (self.bottom_right, self.top_right),
            "top": (self.top_right, self.top_left),
            "left": (self.top_left, self.bottom_left),
        }[side]
        return (first + np.arange((last - first) % self.count + 1)) % self.count

    def apart(self, side: SideName, other: SideName) -> bool:
        """Whether two opposite sides have no point in common."""
        return not np.intersect1d(self.points(side), self.points(other)).size


def straight_runs(ring: Ring) -> list[npt.NDArray[np.int64]]:
    """The straight edges of the ring, each as the numbers of its points in order, those on the way too."""
    count = len(ring)
    along = np.roll(ring, -1, axis=0) - ring
    before = np.roll(along, 1, axis=0)
    turn = np.abs(
        np.arctan2(before[:, 0] * along[:, 1] - before[:, 1] * along[:, 0], (before * along).sum(axis=1))
    )
    ends = np.flatnonzero(turn > _STRAIGHT)
    return [
        (first + np.arange((last - first) % count + 1)) % count
        for first, last in zip(ends, np.roll(ends, -1), strict=True)
    ]


def sides_of(ring: Ring) -> Sides:
    """The four sides of a ring.

    A corner is the point nearest to the corner of the bounding box, each way by shares of its sides; the end of a
    long straight edge nearby is preferred, and an upright one before a level one.
    """
    low, size = ring.min(axis=0), np.ptp(ring, axis=0)
    places = (ring - low) / size
    preferred = _ends_of_long_edges(ring, float(size.min()))
    corners = [_corner(places, np.array(target), preferred) for target in ((0, 0), (1, 0), (1, 1), (0, 1))]
    from_first = [(corner - corners[0]) % len(ring) for corner in corners]
    if from_first != sorted(from_first):
        # A shape without four sides in this order, such as a spiral: its outermost points part it.
        corners = [
            int(np.argmin(np.abs(places - target).sum(axis=1))) for target in ((0, 0), (1, 0), (1, 1), (0, 1))
        ]
        from_first = [(corner - corners[0]) % len(ring) for corner in corners]
        corners = [(corners[0] + step) % len(ring) for step in sorted(from_first)]
    first, second, third, fourth = corners
    return Sides(len(ring), first, second, third, fourth, preferred.keys().isdisjoint(corners))


def crossings(ring: Ring, axis: int, value: float, other: int) -> npt.NDArray[np.float64]:
    """The other coordinate of wherever the edge crosses the line on which the coordinate `axis` is `value`."""
    start, end = ring, np.roll(ring, -1, axis=0)
    crosses = (start[:, axis] <= value) != (end[:, axis] <= value)
    begin, stop = start[crosses], end[crosses]
    part = (value - begin[:, axis]) / (stop[:, axis] - begin[:, axis])
    return np.asarray(begin[:, other] + part * (stop[:, other] - begin[:, other]))


def line_across(ring: Ring, share: float) -> Ring:
    """The level line (2, 2) across a ring from its left to its right edge, at a share of its height from below."""
    low, size = ring.min(axis=0), np.ptp(ring, axis=0)
    height = float(low[1] + np.clip(share, 1e-6, 1.0 - 1e-6) * size[1])
    ends = crossings(ring, 1, height, 0)
    return np.array(((ends.min(), height), (ends.max(), height)))


def _ends_of_long_edges(ring: Ring, least_size: float) -> dict[int, float]:
    """The points in which a long straight edge ends, each with how much it is preferred."""
    preferred: dict[int, float] = {}
    for run in straight_runs(ring):
        reach = ring[run[-1]] - ring[run[0]]
        if np.hypot(*reach) < _LONG * least_size:
            continue
        upright = _UPRIGHT if abs(reach[1]) > abs(reach[0]) else 0.0
        for end in (int(run[0]), int(run[-1])):
            preferred[end] = max(preferred.get(end, 0.0), upright)
    return preferred


def _corner(places: Ring, target: npt.NDArray[np.int64], preferred: dict[int, float]) -> int:
    """The number of the point that is the corner towards `target` of the unit square."""
    away = np.abs(places - target).sum(axis=1)
    nearest = int(np.argmin(away))
    near = [number for number in preferred if away[number] <= away[nearest] + _NEAR_CORNER]
    return min(near, key=lambda number: away[number] - preferred[number]) if near else nearest
