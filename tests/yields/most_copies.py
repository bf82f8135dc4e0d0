"""Both proofs of `capacity` together, as a test asks them of one outline in one area."""

from __future__ import annotations

from shapely.geometry.base import BaseGeometry

from nestplan.geometry.areas import grown
from nestplan.geometry.ring import Ring
from nestplan.yields.capacity import (
    QUARTER_SEGMENTS,
    SLACK,
    center_area,
    least_area,
    most_by_area,
    most_by_spacing,
    outline_measures,
    reachable,
)


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
