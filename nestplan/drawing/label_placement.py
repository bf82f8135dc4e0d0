"""Where a word may stand so that it overprints nothing: boxes that are taken, and the roomiest place in a shape.

Boxes are upright: xmin, ymin, xmax, ymax in mm of the drawing they are for.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable

import numpy as np
import shapely

from nestplan.drawing.primitives import Box, Points

__all__ = [
    "OccupiedBoxes",
    "boxes_inside",
    "centred_box",
    "largest_disc_in_ring",
    "largest_inner_disc",
]


class OccupiedBoxes:
    """Remembers which boxes words already take."""

    def __init__(self) -> None:
        self._boxes: list[Box] = []

    def take(self, box: Box) -> None:
        self._boxes.append(box)

    def is_clear(self, box: Box, clearance: float = 0.0) -> bool:
        """Whether `box` with `clearance` mm round it meets none of the taken boxes."""
        return all(
            box[0] - clearance >= other[2]
            or box[2] + clearance <= other[0]
            or box[1] - clearance >= other[3]
            or box[3] + clearance <= other[1]
            for other in self._boxes
        )

    def take_first_clear(self, boxes: Iterable[Box], clearance: float = 0.0) -> Box | None:
        """The first of these boxes that is clear; it is taken at once. None if none is."""
        for box in boxes:
            if self.is_clear(box, clearance):
                self.take(box)
                return box
        return None


def centred_box(x: float, y: float, width: float, height: float) -> Box:
    """The box of that size round a centre."""
    return x - width / 2, y - height / 2, x + width / 2, y + height / 2


def largest_inner_disc(shape: shapely.Geometry, tolerance: float = 0.5) -> tuple[float, float, float]:
    """Centre and radius of the largest disc in a polygon or in the largest part of several; zeros if empty."""
    parts = [
        part for part in shapely.get_parts(shape) if isinstance(part, shapely.Polygon) and not part.is_empty
    ]
    if not parts:
        return 0.0, 0.0, 0.0
    part = max(parts, key=lambda part: part.area)
    line = shapely.maximum_inscribed_circle(part, tolerance=tolerance)
    (x, y), (ex, ey) = shapely.get_coordinates(line)[:2]
    radius = math.hypot(ex - x, ey - y)
    # In a long shape the largest disc may lie anywhere along it; the middle looks better if it is as roomy.
    middle = part.centroid
    if part.contains(middle) and part.boundary.distance(middle) >= 0.93 * radius:
        return float(middle.x), float(middle.y), float(part.boundary.distance(middle))
    return float(x), float(y), radius


def boxes_inside(shape: shapely.Geometry, width: float, height: float, most: int = 400) -> list[Box]:
    """Boxes of that size wholly inside a shape, the ones farthest from its edge first; at most `most` are tried."""
    if shape.is_empty:
        return []
    xmin, ymin, xmax, ymax = shape.bounds
    if xmax - xmin < width or ymax - ymin < height:
        return []
    across = max(1, min(40, int(math.sqrt(most * (xmax - xmin + 1e-9) / (ymax - ymin + 1e-9)))))
    down = max(1, most // across)
    xs = np.linspace(xmin + width / 2, xmax - width / 2, across)
    ys = np.linspace(ymin + height / 2, ymax - height / 2, down)
    gx, gy = (grid.ravel() for grid in np.meshgrid(xs, ys))
    shapely.prepare(shape)
    # Points are asked in a fraction of the time of boxes.
    centred = shapely.contains_xy(shape, gx, gy)
    gx, gy = gx[centred], gy[centred]
    sides = gx - width / 2, gy - height / 2, gx + width / 2, gy + height / 2
    boxes = shapely.box(*sides)
    inside = np.flatnonzero(shapely.contains(shape, boxes))
    edge = shapely.boundary(shape)
    shapely.prepare(edge)
    clearance = shapely.distance(edge, boxes[inside])
    roomiest_first = inside[np.argsort(-clearance, kind="stable")]
    return [
        (xmin, ymin, xmax, ymax)
        for xmin, ymin, xmax, ymax in np.stack(sides, axis=1)[roomiest_first].tolist()
    ]


@functools.lru_cache(maxsize=4096)
def _roomiest_of(corners: bytes) -> tuple[float, float, float]:
    ring = np.frombuffer(corners, dtype=np.float64).reshape(-1, 2)
    return largest_inner_disc(shapely.make_valid(shapely.Polygon(ring)), tolerance=0.5)


def largest_disc_in_ring(ring: Points) -> tuple[float, float, float]:
    """Centre and radius of the largest disc inside one ring; remembered, since copies share their shape."""
    return _roomiest_of(np.ascontiguousarray(ring, dtype=np.float64).tobytes())
