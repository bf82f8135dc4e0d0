"""An outline found in a photograph, mended by hand: a stroke of a brush grows it or cuts it back.

What is painted is binding: no edge is looked for in it again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from nestplan.errors import InputError
from nestplan.intake.photo.outline import Outline

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["brushed_outline"]

_LEAST_OPENING = 40.0
"""Openings and slivers smaller than this, mm², that strokes leave behind are dropped."""
_SIMPLE = 0.2
"""How far, mm, the outline may change where a stroke's round end is drawn with fewer points."""


def brushed_outline(
    outline: Outline, stroke: Sequence[tuple[float, float]], width: float, *, grows: bool
) -> Outline:
    """The outline with a stroke (points on the floor, mm) of a brush `width` mm wide taken in, or cut away.

    A stroke that grows closes openings it covers, and reaches as far as it touches the hide; one that cuts in the
    middle of the hide makes an opening. Of what a cut parts, the largest part is kept.

    Raises InputError if a stroke that grows lies apart from the hide, or nothing is left of it.
    """
    import shapely

    points = np.asarray(stroke, dtype=np.float64).reshape(-1, 2)
    line = shapely.LineString(points) if len(points) > 1 else shapely.Point(points[0])
    paint = shapely.buffer(line, width / 2, quad_segs=6)
    hide = shapely.make_valid(shapely.Polygon(outline.exterior, outline.holes))
    if grows and not hide.intersects(paint):
        raise InputError(
            "This stroke does not touch the hide.", mend="Begin it on the hide and paint outward."
        )
    shape = hide.union(paint) if grows else hide.difference(paint)
    parts = [part for part in shapely.get_parts(shape).tolist() if isinstance(part, shapely.Polygon)]
    largest = max(parts, key=lambda part: float(part.area), default=shapely.Polygon())
    if largest.area < _LEAST_OPENING:
        raise InputError("Nothing would be left of the hide.", mend="Use a narrower brush.")
    if not shapely.intersects(largest.exterior, paint) and not grows:
        exterior = outline.exterior
    else:
        exterior = _ring(shapely.simplify(shapely.Polygon(largest.exterior), _SIMPLE))
    holes = [
        _ring(shapely.Polygon(hole))
        for hole in largest.interiors
        if shapely.Polygon(hole).area > _LEAST_OPENING
    ]
    return replace(outline, exterior=exterior, holes=tuple(holes))


def _ring(shape: object) -> Floats:
    """The outer ring (n, 2) of a polygon, counter-clockwise."""
    import shapely

    assert isinstance(shape, shapely.Polygon)
    return np.asarray(shapely.orient_polygons(shape).exterior.coords, dtype=np.float64)[:-1]
