"""Areas with holes and parts, as shapely polygons: what has area in them, and growing that never falls short."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import shapely

__all__ = ["grown", "polygons_in"]


def grown(area: shapely.Geometry, distance: float, *, quarter_segments: int = 16) -> shapely.Geometry:
    """`area` grown by `distance` mm, never less than the true offset: the chords of its arcs stand outside them.

    A quarter circle is drawn with `quarter_segments` chords. A distance of 0 or less gives the area itself.
    """
    import shapely

    if distance <= 0:
        return area
    return shapely.buffer(
        area, distance / math.cos(math.pi / 4 / quarter_segments), quad_segs=quarter_segments
    )


def polygons_in(area: shapely.Geometry) -> shapely.MultiPolygon:
    """What has area in a geometry, as a MultiPolygon: points, lines and empty polygons are left out."""
    import shapely

    parts = shapely.get_parts(area)
    return shapely.MultiPolygon([part for part in parts if part.geom_type == "Polygon" and part.area > 0])
