"""The roughness of digitised outlines: dips and bumps that no straight edge reaches, taken out on the safe side."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from nestplan.geometry.areas import polygons_in
from nestplan.geometry.ring import Ring, to_rings

if TYPE_CHECKING:
    import shapely

__all__ = ["DEPTH", "WIDTH", "area_without_bumps", "area_without_dips", "without_bumps", "without_dips"]

DEPTH, WIDTH = 0.6, 15.0
"""mm: a dip or a bump no deeper and no wider is roughness; points that are off by 0.3 mm to either side make such."""

_MANY_POINTS = 100
"""Points from which a ring is looked at."""


def without_dips(ring: Ring) -> Ring:
    """A ring of some of the points of `ring` (n, 2) mm, counter-clockwise, that contains it: shallow and narrow dips
    are bridged, each from the highest point on one of its sides to the highest on the other.

    The ring itself where a bridge would meet another part of it.
    """
    return _bridged(ring, 1.0)


def without_bumps(ring: Ring) -> Ring:
    """A ring of some of the points of `ring` (n, 2) mm, counter-clockwise, that lies within it: shallow and narrow
    bumps are cut off, each from the lowest point on one of its sides to the lowest on the other.

    The ring itself where a cut would meet another part of it.
    """
    return _bridged(ring, -1.0)


def area_without_bumps(area: shapely.Geometry) -> shapely.MultiPolygon:
    """An area of fewer points within `area`: bumps of its outlines are cut off, dips of its holes filled up."""
    return _smoother(area, without_bumps, without_dips)


def area_without_dips(area: shapely.Geometry) -> shapely.MultiPolygon:
    """An area of fewer points all around `area`: dips of its outlines are filled up, bumps of its holes cut off."""
    return _smoother(area, without_dips, without_bumps)


def _smoother(
    area: shapely.Geometry, outer: Callable[[Ring], Ring], inner: Callable[[Ring], Ring]
) -> shapely.MultiPolygon:
    """What has area in a geometry, with other outlines and holes where these make areas."""
    import shapely

    parts = []
    for part in polygons_in(area).geoms:
        outline, holes = to_rings(part)
        other = shapely.Polygon(outer(outline), [inner(hole) for hole in holes])
        parts.append(other if shapely.is_valid(other) else part)
    smoother = shapely.MultiPolygon(parts)
    return smoother if len(parts) == 1 or shapely.is_valid(smoother) else polygons_in(area)


def _bridged(ring: Ring, side: float) -> Ring:
    """The ring without dips (`side` 1) or without bumps (-1)."""
    if len(ring) < _MANY_POINTS:
        return ring
    first = int(np.argmin(ring[:, 0] + ring[:, 1]))
    found = _bridged_from_corner(np.roll(ring, -first, axis=0).tobytes(), side)
    return ring if found is None else found


@functools.lru_cache(maxsize=1024)
def _bridged_from_corner(points: bytes, side: float) -> Ring | None:
    """The ring of these points, the first of which is one of its hull, without dips or bumps; None where that is no
    ring. The same outlines are asked for again and again, for each area of a hide and for each hand of a piece."""
    import shapely

    ring = np.frombuffer(points).reshape(-1, 2)
    x, y = np.concatenate((ring, ring[:1])).T.tolist()
    found = ring[_kept_points(x, y, side)]
    return found if len(found) > 2 and shapely.is_valid(shapely.Polygon(found)) else None


def _kept_points(x: list[float], y: list[float], side: float) -> list[int]:
    """Numbers of the points of a closed line that are kept, as a scan for a convex hull does that bridges nothing
    deeper or wider than roughness."""
    kept, depths = [0], [0.0]
    for v in range(1, len(x)):
        depth = 0.0
        while len(kept) > 1:
            a, b = kept[-2], kept[-1]
            along_x, along_y = x[v] - x[a], y[v] - y[a]
            length = math.hypot(along_x, along_y)
            low = side * (along_x * (y[b] - y[a]) - along_y * (x[b] - x[a]))
            if low < 0.0 or not 0.0 < length <= WIDTH:
                break
            # What is below a shorter bridge is no deeper below the longer one than by as much as they differ.
            deepest = low / length + max(depth, depths[-1])
            if deepest > DEPTH:
                deepest = _deepest(x, y, a, v, side) / length
                if deepest > DEPTH:
                    break
            kept.pop()
            depths.pop()
            depth = deepest
        kept.append(v)
        depths.append(depth)
    return kept[:-1]


def _deepest(x: list[float], y: list[float], a: int, v: int, side: float) -> float:
    """How deep the points from the one numbered `a` to `v` lie below the bridge between them, times its length."""
    along_x, along_y, from_x, from_y = x[v] - x[a], y[v] - y[a], x[a], y[a]
    return max(side * (along_x * (y[k] - from_y) - along_y * (x[k] - from_x)) for k in range(a, v))
