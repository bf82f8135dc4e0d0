"""Spiral lace: cut round and round from a disc.

Pure geometry: how long a lace a disc gives, and which clear discs of an area to take.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

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
    free = area
    discs: list[tuple[int, LaceDisc]] = []
    missing = list(lengths)
    for index in sorted(range(len(lengths)), key=lambda i: (-lengths[i], i)):
        own: list[tuple[int, LaceDisc]] = []
        before = free
        while missing[index] > 1e-9 and len(own) < most_parts:
            last = len(own) == most_parts - 1
            small = missing[index] if last else min(least, missing[index])
            spots = _clear_discs(free, spiral_diameter(small, hole, width, tail))
            if not spots:
                break
            need = spiral_diameter(missing[index], hole, width, tail)
            whole = [spot for spot in spots if 2.0 * spot[2] >= need]
            x, y, r = min(whole, key=lambda s: s[2]) if whole else max(spots, key=lambda s: s[2])
            length = missing[index] if whole else spiral_length(2.0 * r, hole, width, tail)
            if not whole:
                # What stays to be cut must not be a stub either.
                length = min(length, max(missing[index] + lap - least, least))
            missing[index] = 0.0 if whole else missing[index] - length + lap
            disc = LaceDisc(x, y, spiral_diameter(length, hole, width, tail), hole, length)
            own.append((index, disc))
            free = free.difference(
                shapely.Point(x, y).buffer(disc.diameter / 2.0 * DRAWN_LARGER + gap, quad_segs=32)
            )
        if missing[index] > 1e-9:
            free, missing[index], own = before, lengths[index], []
        discs += own
    return tuple(discs), tuple(missing)


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
