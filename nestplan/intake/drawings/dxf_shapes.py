"""One DXF entity as points: lines, circles, arcs, ellipses, splines, polylines with bulges, in its block's units.

Blocks, layers, units and bounds are in `dxf`.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from nestplan.errors import ShapeError
from nestplan.intake.drawings.flattening import (
    bezier_points,
    bulge_points,
    circle_points,
    curve_tolerance,
    ellipse_points,
    put_together,
)
from nestplan.intake.drawings.polylines import Points

__all__ = ["READERS", "EntityPoints"]

_MOST_DEGREE = 25
# Points in a knot span by which its bend is measured first.
_PROBES = 16

# What a reader of one kind of entity yields: points in the frame's own units, closed or not, circle or None.
EntityPoints = Iterator[tuple[Any, bool, tuple[Any, float] | None]]


def _in_drawing_plane(points: Points, entity: Any) -> list[Any]:
    """Points (n, 2) in the entity's own plane as points of the drawing."""
    ocs = entity.ocs()
    return list(ocs.points_to_wcs([(x, y, 0.0) for x, y in points.tolist()]))


def _line(entity: Any, tolerance: float) -> EntityPoints:
    yield [entity.dxf.start, entity.dxf.end], False, None


def _point(entity: Any, tolerance: float) -> EntityPoints:
    yield [entity.dxf.location], False, None


def _circle(entity: Any, tolerance: float) -> EntityPoints:
    center, radius = entity.dxf.center, abs(entity.dxf.radius)
    points = circle_points(center.x, center.y, radius, tolerance)
    yield _in_drawing_plane(points, entity), True, (entity.ocs().to_wcs((center.x, center.y, 0.0)), radius)


def _arc(entity: Any, tolerance: float) -> EntityPoints:
    start, end = entity.dxf.start_angle, entity.dxf.end_angle
    sweep = (end - start) % 360.0
    if sweep < 1e-9:
        yield from _circle(entity, tolerance)
        return
    center, radius = entity.dxf.center, abs(entity.dxf.radius)
    points = ellipse_points(
        (center.x, center.y),
        (radius, 0.0),
        (0.0, radius),
        math.radians(start),
        math.radians(sweep),
        tolerance,
    )
    yield _in_drawing_plane(points, entity), False, None


def _ellipse(entity: Any, tolerance: float) -> EntityPoints:
    # An ellipse is given in the drawing's own frame, not in a plane of its own.
    center, major, minor = entity.dxf.center, entity.dxf.major_axis, entity.minor_axis
    start = entity.dxf.start_param
    sweep = (entity.dxf.end_param - start) % math.tau
    whole = sweep < 1e-9 or math.tau - sweep < 1e-9
    points = ellipse_points(
        (center.x, center.y),
        (major.x, major.y),
        (minor.x, minor.y),
        start,
        math.tau if whole else sweep,
        tolerance,
    )
    round_one = whole and abs(major.magnitude - minor.magnitude) <= 1e-6 * major.magnitude
    circle = (center, major.magnitude) if round_one else None
    yield _flat(points[:-1] if whole else points), whole, circle


def _spline(entity: Any, tolerance: float) -> EntityPoints:
    budget_points = len(entity.control_points) + len(entity.fit_points)
    if entity.dxf.get("degree", 3) > _MOST_DEGREE or budget_points > 50_000:
        raise ShapeError("A spline is too heavy.", mend="Redraw it with fewer points, degree 3.")
    curve = entity.construction_tool()
    if curve.is_rational or not curve.is_clamped:
        points = _sampled(curve, tolerance)
    else:
        pieces = (
            bezier_points(np.array([(p.x, p.y) for p in controls]), tolerance)
            for controls in curve.bezier_decomposition()
        )
        points = put_together(piece[1 if number else 0 :] for number, piece in enumerate(pieces))
    closed = len(points) > 3 and bool(np.hypot(*(points[0] - points[-1])) < 1e-9)
    yield _flat(points[:-1] if closed else points), closed, None


def _sampled(curve: Any, tolerance: float) -> Points:
    """Points on any spline: each knot span in steps so fine that the measured bend keeps the
    tolerance."""
    # Before the degree-th knot and after the last but so many, an unclamped spline is not defined.
    degree = curve.degree
    knots = np.unique(np.array(curve.knots())[degree : len(curve.knots()) - degree])
    fine = curve_tolerance(np.array([(p.x, p.y) for p in curve.control_points]), tolerance)
    return put_together(_spans(curve, knots, fine))


def _spans(curve: Any, knots: Points, fine: float) -> Iterator[Points]:
    """The points of each knot span, without its first; before them the curve's first."""
    first = np.array([[p.x, p.y] for p in curve.points([knots[0]])])
    yield first
    for low, high in itertools.pairwise(knots):
        steps, points = _PROBES, first
        for _ in range(2):
            points = np.array([(p.x, p.y) for p in curve.points(np.linspace(low, high, steps + 1))])
            # A chord strays by an eighth of the second difference; half as much again for what lies between.
            stray = 1.5 * float(np.hypot(*np.diff(points, 2, axis=0).T).max(initial=0.0)) / 8.0
            if not math.isfinite(stray):
                break
            steps = min(max(math.ceil(steps * math.sqrt(stray / fine)), 2), 20_000)
        yield points[1:]


def _flat(points: Points) -> list[tuple[float, float, float]]:
    return [(x, y, 0.0) for x, y in points.tolist()]


def _lwpolyline(entity: Any, tolerance: float) -> EntityPoints:
    rows = np.array([(x, y, bulge) for x, y, bulge in entity.get_points("xyb")], dtype=np.float64).reshape(
        -1, 3
    )
    yield from _bulged(rows, bool(entity.closed), entity, tolerance)


def _polyline(entity: Any, tolerance: float) -> EntityPoints:
    if entity.is_2d_polyline:
        # Flag 16 marks the frame of a fitted spline: control points, not points of the line.
        rows = [
            (v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0))
            for v in entity.vertices
            if not v.dxf.get("flags", 0) & 16
        ]
        yield from _bulged(
            np.array(rows, dtype=np.float64).reshape(-1, 3), entity.is_closed, entity, tolerance
        )
    elif entity.is_3d_polyline:
        points = [v.dxf.location for v in entity.vertices if not v.dxf.get("flags", 0) & 16]
        yield points, bool(entity.is_closed), None


def _bulged(rows: Points, closed: bool, entity: Any, tolerance: float) -> EntityPoints:
    if len(rows) == 0:
        return
    spots, bulges = rows[:, :2], rows[:, 2]
    circle = _as_circle(spots, bulges, entity) if closed else None
    following = np.roll(spots, -1, axis=0) if closed else spots[1:]
    pieces = (
        bulge_points(start, end, float(bulge), tolerance)[:-1]
        for start, end, bulge in zip(spots, following, bulges, strict=False)
    )
    points = put_together(itertools.chain(pieces, [] if closed else [spots[-1:]]))
    yield _in_drawing_plane(points, entity), closed, circle


def _as_circle(spots: Points, bulges: Points, entity: Any) -> tuple[Any, float] | None:
    """A circle drawn as two half-circle bulges."""
    if len(spots) != 2 or not np.allclose(np.abs(bulges), 1.0, atol=1e-9) or bulges[0] != bulges[1]:
        return None
    middle = spots.mean(axis=0)
    return entity.ocs().to_wcs((middle[0], middle[1], 0.0)), float(np.hypot(*(spots[1] - spots[0])) / 2.0)


READERS = {
    "LINE": _line,
    "POINT": _point,
    "CIRCLE": _circle,
    "ARC": _arc,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
}
