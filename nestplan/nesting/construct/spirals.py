"""Spiral lace: cut round and round from a disc.

Pure geometry: how long a lace a disc gives, and which clear discs of an area to take.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import shapely

from nestplan.geometry.inscribed import largest_disc

__all__ = ["LaceDisc", "lay_laces", "spiral_diameter", "spiral_length"]

DRAWN_LARGER = 1.0013
"""By how much a circle of 128 points is drawn larger so that the true one lies within."""


@dataclass(frozen=True)
class LaceDisc:
    """A disc from which one lace is cut in a spiral: centre, outer and inner diameter, and the lace, mm."""

    x: float
    y: float
    diameter: float
    hole: float
    length: float


def spiral_length(diameter: float, hole: float, width: float, tail: float = 0.0) -> float:
    """Length of lace of `width` cut in a spiral from a disc with a centre `hole`, less the starting tail, mm.

    pi / 4 (D^2 - d^2) / w: the area of the ring over the width.
    """
    return max(math.pi / 4.0 * (diameter**2 - hole**2) / width - tail, 0.0)


def spiral_diameter(length: float, hole: float, width: float, tail: float = 0.0) -> float:
    """Outer diameter of the disc that gives `length` of lace: spiral_length solved for the diameter, mm."""
    return math.sqrt(4.0 / math.pi * width * (length + tail) + hole**2)


def lay_laces(
    area: Any,
    width: float,
    lengths: Sequence[float],
    *,
    hole: float = 50.8,
    tail: float = 0.0,
    least: float = math.inf,
    lap: float = 0.0,
    most_parts: int = 1,
    gap: float = 0.0,
) -> tuple[tuple[tuple[int, LaceDisc], ...], tuple[float, ...]]:
    """Discs for spiral laces of the given lengths (number of the lace, disc), and what stays missing, mm.

    Each lace takes the smallest clear disc of the area that gives it, so that large clear places stay whole. A
    lace longer than any disc gives may be made up from up to `most_parts` discs of at least `least` mm of lace
    each, a join losing `lap`. Discs keep `gap` apart. The default hole is 2 in (common practice for spiral lace).
    """
    rule = _LaceRule(width, hole, tail, least, lap, most_parts, gap)
    free = area
    discs: list[tuple[int, LaceDisc]] = []
    missing = list(lengths)
    for index in sorted(range(len(lengths)), key=lambda i: (-lengths[i], i)):
        for most in rule.longest_parts(lengths[index]):
            own = rule.discs_of(free, lengths[index], most)
            if own:
                missing[index] = 0.0
                discs += [(index, disc) for disc in own]
                free = rule.without(free, own)
                break
    return tuple(discs), tuple(missing)


class _LaceRule(NamedTuple):
    """What holds for each lace: its width and hole, the tail of a disc, and the parts it may be joined from, mm."""

    width: float
    hole: float
    tail: float
    least: float
    lap: float
    most_parts: int
    gap: float

    def longest_parts(self, length: float) -> Iterator[float]:
        """How long parts may be at most, one after another to be tried: as long as they go, then the equal shares of
        two, three and more parts, since a first part as long as it goes may leave less than two more."""
        yield math.inf
        for parts in range(2, self.most_parts + 1):
            share = (length + (parts - 1) * self.lap) / parts
            if share < self.least:
                return
            yield share

    def discs_of(self, area: Any, length: float, most: float) -> list[LaceDisc]:
        """The discs of one lace in an area, none of which gives more than `most` mm; none where they do not suffice."""
        free, missing, own = area, length, list[LaceDisc]()
        while missing > 1e-9:
            disc = self._next_disc(free, missing, most, last=len(own) == self.most_parts - 1)
            if disc is None:
                return []
            own.append(disc)
            missing = 0.0 if disc.length >= missing - 1e-9 else missing - disc.length + self.lap
            free = self.without(free, [disc])
        return own

    def _next_disc(self, area: Any, missing: float, most: float, *, last: bool) -> LaceDisc | None:
        """The smallest clear disc that gives all that is missing (at most `most` mm), else the one that gives most.

        None where what it gives, or what would still be missing then, were less than a part may be.
        """
        # What stays to be cut must not be a stub either.
        partly = missing + self.lap - self.least
        whole = last or partly < self.least
        wanted = missing if whole or missing <= most + 1e-6 else min(most, partly)
        spots = _clear_discs(area, self._diameter(wanted if whole else min(self.least, wanted)))
        if not spots:
            return None
        enough = [spot for spot in spots if 2.0 * spot[2] >= self._diameter(wanted)]
        x, y, r = min(enough, key=lambda s: s[2]) if enough else max(spots, key=lambda s: s[2])
        length = wanted if enough else min(spiral_length(2.0 * r, self.hole, self.width, self.tail), partly)
        return LaceDisc(x, y, self._diameter(length), self.hole, length)

    def _diameter(self, length: float) -> float:
        return spiral_diameter(length, self.hole, self.width, self.tail)

    def without(self, area: Any, discs: Sequence[LaceDisc]) -> Any:
        """The area less discs and the gap round them."""
        for disc in discs:
            spot = shapely.Point(disc.x, disc.y)
            area = area.difference(spot.buffer(disc.diameter / 2.0 * DRAWN_LARGER + self.gap, quad_segs=32))
        return area


def _clear_discs(area: Any, diameter: float, most: int = 12) -> list[tuple[float, float, float]]:
    """Separate inscribed discs of at least `diameter`, largest first in each part."""
    spots: list[tuple[float, float, float]] = []
    parts = [p for p in getattr(area, "geoms", [area]) if p.area >= math.pi / 4.0 * diameter**2]
    while parts and len(spots) < most:
        part = parts.pop(0)
        x, y, r = largest_disc(part)
        if 2.0 * r < diameter:
            continue
        spots.append((x, y, r))
        rest = part.difference(shapely.Point(x, y).buffer(r))
        parts += [p for p in getattr(rest, "geoms", [rest]) if p.area >= math.pi / 4.0 * diameter**2]
    return spots
