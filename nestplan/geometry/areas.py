"""Areas with holes and parts, as shapely polygons: what has area in them, and growing that never falls short."""

from __future__ import annotations

import functools
import math
from typing import TYPE_CHECKING

from nestplan.geometry.offset import outer_offset

if TYPE_CHECKING:
    import shapely

    from nestplan.geometry.offset import Ring

__all__ = ["grown", "kept_away_from", "polygons_in", "simplified_inside"]

_STEPS = ((0.4, 0.41), (0.25, 0.45))
"""Shares of a tolerance by which an edge is thinned and then moved inward, tried one after the other: a little more, as
GEOS smooths an outline by a hundredth of the distance before it is moved."""
_MITRE_LIMIT = 1.4
"""How far the corners of what is moved may reach, as a multiple of the distance."""
_LEAST_POCKET = 1.0
"""mm²: smaller pockets are of no use to anyone."""


def grown(area: shapely.Geometry, distance: float, *, quarter_segments: int = 16) -> shapely.Geometry:
    """`area` grown by `distance` mm, never less than the true offset: the chords of its arcs stand outside them.

    A quarter circle is drawn with `quarter_segments` chords. A distance of 0 or less gives the area itself. Of an
    arc GEOS makes as many chords as fit into it, rounded, so that one chord may span one and a half of the angles
    that a quarter is parted into.
    """
    import shapely

    if distance <= 0:
        return area
    widest = 1.5 * math.pi / 2 / quarter_segments
    return shapely.buffer(area, distance / math.cos(widest / 2), quad_segs=quarter_segments)


def kept_away_from(ring: Ring, margin: float, tolerance: float = 0.05) -> shapely.Polygon:
    """Everything within `margin` mm of the ring's area, and no more than `tolerance` mm more at its outer edge.

    Pockets that the growing closes off stay free where they are surely farther away than the margin. The same one is
    asked for again and again, by rules, figures and strips: it is remembered.
    """
    import numpy as np

    return _kept_away_from(np.ascontiguousarray(ring, np.float64).tobytes(), margin, tolerance)


@functools.lru_cache(maxsize=4096)
def _kept_away_from(corners: bytes, margin: float, tolerance: float) -> shapely.Polygon:
    import numpy as np
    import shapely

    ring = np.frombuffer(corners).reshape(-1, 2)
    whole = shapely.Polygon(ring)
    if margin <= 0:
        return whole
    outer = shapely.Polygon(outer_offset(ring, margin, tolerance))
    pockets = shapely.get_parts(shapely.difference(outer, grown(whole, margin)))
    free = [
        pocket.exterior for pocket in pockets if pocket.geom_type == "Polygon" and pocket.area > _LEAST_POCKET
    ]
    inside = [edge for edge in free if outer.exterior.distance(edge) > tolerance]
    return shapely.Polygon(outer.exterior, inside) if inside else outer


def simplified_inside(
    area: shapely.Polygon | shapely.MultiPolygon, tolerance: float
) -> shapely.Polygon | shapely.MultiPolygon:
    """An area with fewer points that lies within `area`, its edge nowhere more than `tolerance` mm inside; the area
    itself where that saves nothing.

    It is thinned by the rule of Douglas and Peucker (1973), which leaves every point of the old edge within a distance
    of the new one, then shrunk by that distance: what is farther from the new edge is on the same side of the old one.
    The outcome is checked. Parts and necks narrower than the tolerance may be lost.
    """
    import shapely

    shapely.prepare(area)
    for thinning, shrinking in _STEPS:
        thin = shapely.simplify(area, thinning * tolerance)
        shrunk = shapely.buffer(thin, -shrinking * tolerance, join_style="mitre", mitre_limit=_MITRE_LIMIT)
        fewer = shapely.get_num_coordinates(shrunk) < shapely.get_num_coordinates(area)
        if not shrunk.is_empty and fewer and area.covers(shrunk):
            return polygons_in(shrunk)
    return area


def polygons_in(area: shapely.Geometry) -> shapely.MultiPolygon:
    """What has area in a geometry, as a MultiPolygon: points, lines and empty polygons are left out."""
    import shapely

    parts = shapely.get_parts(area)
    return shapely.MultiPolygon([part for part in parts if part.geom_type == "Polygon" and part.area > 0])
