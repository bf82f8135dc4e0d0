"""The proofs of `capacity` put together, as a test asks them of one outline in one area."""

from __future__ import annotations

from shapely.geometry.base import BaseGeometry

from nestplan.geometry.areas import grown
from nestplan.geometry.ring import Ring
from nestplan.yields.capacity import (
    QUARTER_SEGMENTS,
    SLACK,
    OutlineMeasures,
    center_area,
    drawn_roughly,
    eroded,
    large_enough,
    least_area,
    most_by_area,
    most_by_spacing,
    near_discs,
    outline_measures,
    within_reaches,
)


def reachable(area: BaseGeometry, shape: OutlineMeasures) -> BaseGeometry:
    """A part of `area` outside which no copy of the shape inside `area` has a point."""
    rough = drawn_roughly(area)
    return large_enough(within_reaches(area, shape, lambda r, e: near_discs(eroded(rough, r), r, e)), shape)


def most_copies(ring: Ring, area: BaseGeometry, gap: float = 0.0, overcut: float = 0.0) -> int:
    """An upper bound on the copies of the outline `ring`, turned at will, that fit into `area` at once.

    Each copy lies inside the area, and two copies are at least `gap + 2 * overcut` mm apart (each is cut
    `overcut` wider and the cuts keep the `gap`); their bands may leave the area. Exact figures are not
    claimed: no arrangement holds more, few hold as many.
    """
    shape = outline_measures(ring)
    room = reachable(area, shape)
    band = max(gap / 2 + overcut - SLACK, 0.0)
    used = least_area(ring, band)
    by_area = most_by_area(grown(room, band + SLACK, quarter_segments=QUARTER_SEGMENTS), used)
    return min(by_area, most_by_spacing(center_area(room, shape), 2 * (shape.radius - SLACK + band)))
