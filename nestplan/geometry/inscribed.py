"""What fits inside an area: its largest disc, a cover of discs, its parts wider than a width.

Areas are shapely Polygons or MultiPolygons in mm, holes included. Every shape found here truly lies inside
the area; how near it is to the largest is said at each function. The largest rectangle is found in
`nestplan.geometry.rectangle` and offered here too.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

from nestplan.errors import InputError, ShapeError
from nestplan.geometry.areas import polygons_in
from nestplan.geometry.rectangle import Rectangle, largest_rectangle

if TYPE_CHECKING:
    import shapely

__all__ = ["Rectangle", "largest_disc", "largest_rectangle", "opening", "poles"]

Array = npt.NDArray[np.float64]

_FIRST_CELLS = 8
_MOST_CELLS = 200_000
_SEGMENTS_OF_QUARTER = 12


def largest_disc(
    polygon: shapely.Polygon | shapely.MultiPolygon, tolerance: float = 0.1
) -> tuple[float, float, float]:
    """The centre x, y and the radius of the largest disc inside the area, mm; its pole of inaccessibility.

    The disc lies inside, and no disc inside has a radius greater by more than `tolerance` mm. Found by
    halving square cells and dropping those that cannot hold a better centre (Garcia-Castellanos and Lombardo,
    Poles of inaccessibility, 2007, with the bound that clearance grows no faster than distance). Raises
    ShapeError for an empty area, InputError where `tolerance` is not positive.
    """
    x, y, radius = _best_center(polygon, tolerance, np.empty((0, 3)))
    return x, y, max(radius, 0.0)


def poles(
    polygon: shapely.Polygon | shapely.MultiPolygon | Array,
    most: int = 24,
    share: float = 0.9,
    least_radius: float = 0.0,
    tolerance: float | None = None,
) -> Array:
    """Discs inside an area that stand in for it, greatest first: (m, 3) of x, y, radius in mm.

    Each is the largest disc that overlaps none before it, to `tolerance` mm (by default 1/50 of the first
    radius). They end at `most` discs, when they cover `share` of the area, or before a radius below
    `least_radius`. `polygon` may also be a ring (n, 2). At least one disc is given. Raises ShapeError for an
    empty area.
    """
    import shapely

    whole = shapely.Polygon(polygon) if isinstance(polygon, np.ndarray) else polygon
    _refuse_empty(whole)
    if tolerance is None:
        xmin, ymin, xmax, ymax = whole.bounds
        rough = largest_disc(whole, max(min(xmax - xmin, ymax - ymin), 1e-6) / 50)[2]
        tolerance = max(rough, 1e-6) / 50
    found = np.array([largest_disc(whole, tolerance)])
    while len(found) < most and math.pi * float((found[:, 2] ** 2).sum()) < share * whole.area:
        disc = _best_center(whole, tolerance, found)
        if disc[2] <= max(least_radius, tolerance):
            break
        found = np.concatenate((found, [disc]))
    return found


def opening(
    polygon: shapely.Polygon | shapely.MultiPolygon,
    width: float,
    side: Literal["inside", "outside"] = "inside",
) -> shapely.MultiPolygon:
    """The part of the area that a disc of diameter `width` mm can reach: eroded, then dilated by `width / 2`.

    With `side` "inside" the outcome lies within the true opening but for rounding of 1/50 of the width
    (useful leather is never promised where it is not); with "outside" it contains the true opening (no
    leather that could be used is left out of a bound). Either lies within `polygon`. Width 0 gives the area
    itself; an area that is narrower everywhere gives an empty MultiPolygon. Opening by a disc: Serra, Image
    Analysis and Mathematical Morphology, 1982. Raises InputError for a negative width.
    """
    import shapely

    if not (width >= 0 and math.isfinite(width)):
        raise InputError(f"A width cannot be {width:g} mm.")
    if width == 0 or polygon.is_empty:
        return polygons_in(polygon)
    # GEOS smooths an outline by a hundredth of the distance before it is moved, and draws arcs by chords inside.
    slack = 0.01 * width if side == "outside" else 0.0
    eroded = shapely.buffer(polygon, -width / 2 + slack, quad_segs=_SEGMENTS_OF_QUARTER)
    dilated = shapely.buffer(eroded, width / 2 + slack, quad_segs=_SEGMENTS_OF_QUARTER)
    return polygons_in(shapely.intersection(dilated, polygon))


def _refuse_empty(polygon: shapely.Geometry) -> None:
    if polygon.is_empty or polygon.area <= 0:
        raise ShapeError("Nothing fits in an empty area.")


def _best_center(
    polygon: shapely.Polygon | shapely.MultiPolygon, tolerance: float, taken: Array
) -> tuple[float, float, float]:
    """The point farthest from the edge of the area and from the discs `taken` (k, 3), with that distance."""
    import shapely

    if not tolerance > 0:
        raise InputError(f"A tolerance is above zero, not {tolerance:g} mm.")
    _refuse_empty(polygon)
    shapely.prepare(polygon)
    edge = polygon.boundary
    xmin, ymin, xmax, ymax = polygon.bounds
    half = min(max(xmax - xmin, ymax - ymin) / _FIRST_CELLS, xmax - xmin, ymax - ymin) / 2
    gx = np.arange(xmin + half, xmax + half, 2 * half)
    gy = np.arange(ymin + half, ymax + half, 2 * half)
    centers = np.stack(np.meshgrid(gx, gy), axis=-1).reshape(-1, 2)
    spot = shapely.point_on_surface(polygon)
    best = np.array((spot.x, spot.y))
    best_clear = float(_clearance(polygon, edge, best[None], taken)[0])
    while len(centers):
        clear = _clearance(polygon, edge, centers, taken)
        top = int(np.argmax(clear))
        if clear[top] > best_clear:
            best, best_clear = centers[top], float(clear[top])
        hopeful = centers[clear + half * math.sqrt(2.0) > best_clear + tolerance]
        if len(hopeful) > _MOST_CELLS:
            # A very long even strip: any of its middle points will do, and none is better by a cell.
            break
        half /= 2
        steps = half * np.array(((-1, -1), (-1, 1), (1, -1), (1, 1)))
        centers = (hopeful[:, None, :] + steps).reshape(-1, 2)
    return float(best[0]), float(best[1]), best_clear


def _clearance(polygon: shapely.Polygon, edge: shapely.Geometry, points: Array, taken: Array) -> Array:
    """Distance (k,) of each point (k, 2) from `edge` and from the discs `taken`, negative outside the area."""
    import shapely

    clear: Array = shapely.distance(edge, shapely.points(points))
    clear = np.where(shapely.contains_xy(polygon, points[:, 0], points[:, 1]), clear, -clear)
    if len(taken):
        apart = np.hypot(points[:, :1] - taken[:, 0], points[:, 1:] - taken[:, 1]) - taken[:, 2]
        clear = np.minimum(clear, apart.min(axis=1))
    return clear
