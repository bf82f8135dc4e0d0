"""Where the table's y, which points up, becomes Qt's, which points down. The only place that knows it.

Everything else is in mm and degrees counter-clockwise, as seen from above the table.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QPainterPath, QPolygonF, QTransform

__all__ = [
    "line_path",
    "pixels_matrix",
    "ring_path",
    "scene_point",
    "scene_points",
    "scene_rect",
    "table_point",
]


def scene_point(at: Sequence[float]) -> QPointF:
    """A point (x, y) in mm as Qt wants it."""
    return QPointF(float(at[0]), -float(at[1]))


def scene_points(points: Iterable[Sequence[float]]) -> QPolygonF:
    """Points (n, 2) in mm as Qt wants them."""
    return QPolygonF([QPointF(x, -y) for x, y in np.asarray(points, dtype=float).reshape(-1, 2).tolist()])


def table_point(point: QPointF) -> tuple[float, float]:
    """A point of Qt's as (x, y) in mm."""
    return (point.x(), -point.y())


def ring_path(
    ring: Iterable[Sequence[float]], holes: Iterable[Iterable[Sequence[float]]] = ()
) -> QPainterPath:
    """The area of a ring (n, 2) in mm less its holes."""
    path = QPainterPath()
    for points in (ring, *holes):
        path.addPolygon(scene_points(points))
        path.closeSubpath()
    return path


def line_path(points: Iterable[Sequence[float]]) -> QPainterPath:
    """The open line through points (n, 2) in mm."""
    path = QPainterPath()
    path.addPolygon(scene_points(points))
    return path


def scene_rect(bounds: Sequence[float]) -> QRectF:
    """An upright box (xmin, ymin, xmax, ymax) in mm as Qt wants it."""
    xmin, ymin, xmax, ymax = bounds
    return QRectF(xmin, -ymax, xmax - xmin, ymax - ymin)


def pixels_matrix(matrix: Sequence[float]) -> QTransform:
    """The transform for a picture whose pixels (right, down) map to mm by the 3 × 3 `matrix`, row by row."""
    m = np.asarray(matrix, dtype=float).reshape(3, 3).copy()
    m[1] *= -1.0
    return QTransform(*m.T.reshape(-1).tolist())
