"""Arcs, ellipses and Bezier curves as points, no chord further from the curve than a stated tolerance."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable

import numpy as np

from nestplan.errors import ShapeError
from nestplan.intake.drawings.polylines import Points

__all__ = [
    "arc_points",
    "bezier_points",
    "bulge_points",
    "circle_points",
    "curve_tolerance",
    "ellipse_points",
    "put_together",
]

# A circle of straight steps loses step^2 / 6 of its area: 4 degrees keep it within 0.082 %.
_WIDEST_STEP = math.radians(4.0)
# Steps finer than this are not asked for by the area rule alone: a corner of 0.5 mm needs no 23 points.
_FINEST_CHORD = 0.2
# Likewise for free curves: chords stray by no more than this share of the curve's half size, but the tolerance
# is never asked to be finer than so much of what the caller wants.
_SHARE_OF_SIZE = 0.0004
_FINEST_SHARE = 0.02


_MOST_POINTS = 500_000
"""Of one line: as many as a whole drawing may have."""

_MOST_STEPS = 20_000.0
"""Of one curve: enough for one of 100 m at the finest tolerance."""


def put_together(pieces: Iterable[Points]) -> Points:
    """The points (n, 2) of pieces of one line, one after another.

    Raises ShapeError if they are more than a whole drawing may have, before all are made.
    """
    made: list[Points] = []
    count = 0
    for piece in pieces:
        count += len(piece)
        if count > _MOST_POINTS:
            raise ShapeError(
                f"One line of the drawing needs more than {_MOST_POINTS} points.",
                mend="Simplify its curves, or raise the flattening tolerance.",
            )
        made.append(piece)
    return np.vstack(made)


def _steps(radius: float, sweep: float, tolerance: float) -> int:
    """Number of chords so that each stays within `tolerance` of the arc and the area within 0.1 %."""
    if not (radius > 0.0 and math.isfinite(radius) and math.isfinite(sweep)):
        return 1
    widest = 2.0 * math.acos(max(1.0 - tolerance / radius, -1.0)) if tolerance < radius else math.pi / 2.0
    by_area = max(_WIDEST_STEP, _FINEST_CHORD / radius)
    step = min(widest, by_area, math.pi / 2.0)
    return max(1, math.ceil(min(abs(sweep), 2.0 * math.pi) / max(step, 1e-4) - 1e-9))


def arc_points(
    center: tuple[float, float], radius: float, start: float, sweep: float, tolerance: float
) -> Points:
    """Points (n, 2) on a circular arc, both ends included; `start` and `sweep` in radians, ccw positive.

    No chord lies further than `tolerance` from the arc (sagitta, r (1 - cos(step / 2))).
    """
    angles = start + sweep * np.linspace(0.0, 1.0, _steps(radius, sweep, tolerance) + 1)
    return np.column_stack([center[0] + radius * np.cos(angles), center[1] + radius * np.sin(angles)])


def ellipse_points(
    center: tuple[float, float],
    major: tuple[float, float],
    minor: tuple[float, float],
    start: float,
    sweep: float,
    tolerance: float,
) -> Points:
    """Points (n, 2) center + major cos t + minor sin t for t from `start` over `sweep` radians, ends
    included.

    An ellipse is an affine image of a circle: the sagitta of its chords is at most that of the circle with
    the longer axis as radius, so the circle's count holds.
    """
    radius = max(math.hypot(*major), math.hypot(*minor))
    t = start + sweep * np.linspace(0.0, 1.0, _steps(radius, sweep, tolerance) + 1)
    across = np.outer(np.cos(t), major) + np.outer(np.sin(t), minor)
    points: Points = np.asarray(center) + across
    return points


def circle_points(x: float, y: float, radius: float, tolerance: float) -> Points:
    """Closed ring (n, 2), ccw, of points on a full circle; its first point is not repeated.

    However small the circle, its area is kept within 0.1 %.
    """
    count = max(_steps(radius, 2.0 * math.pi, tolerance), math.ceil(2.0 * math.pi / _WIDEST_STEP))
    # Whole quarters, so that the ring is as wide and as high as the circle.
    count = -4 * (-count // 4)
    angles = np.linspace(0.0, 2.0 * math.pi, count, endpoint=False)
    return np.column_stack([x + radius * np.cos(angles), y + radius * np.sin(angles)])


def curve_tolerance(controls: Points, tolerance: float) -> float:
    """The tolerance that also keeps the area of a small shape within 0.1 %: a share of its curve's size.

    Chords at a distance s from a round shape of radius R lose 4/3 s / R of its area.
    """
    half = float(np.hypot(*np.ptp(controls, axis=0))) / 2.0
    return min(tolerance, max(_SHARE_OF_SIZE * half, _FINEST_SHARE * tolerance))


def bezier_points(controls: Points, tolerance: float) -> Points:
    """Points on a polynomial Bezier curve with the given control points (d + 1, 2), both ends included.

    The number of equal parameter steps is G. Wang's bound (Wang 1984, as in Goldman, Pyramid Algorithms,
    2003): sqrt(d (d - 1) / 8 * max |second difference| / tolerance), so no chord is further off than
    `tolerance`.
    """
    controls = np.asarray(controls, dtype=np.float64)
    degree = len(controls) - 1
    if degree < 2:
        return controls
    bend = float(np.hypot(*np.diff(controls, 2, axis=0).T).max())
    if not math.isfinite(bend):
        return controls[[0, -1]]
    fine = curve_tolerance(controls, tolerance)
    steps = min(max(1.0, math.sqrt(degree * (degree - 1) / 8.0 * bend / fine)), _MOST_STEPS)
    t = np.linspace(0.0, 1.0, math.ceil(steps) + 1)[:, None]
    levels = [np.broadcast_to(point, (len(t), 2)) for point in controls]
    while len(levels) > 1:
        levels = [(1.0 - t) * a + t * b for a, b in itertools.pairwise(levels)]
    points = np.array(levels[0])
    points[0], points[-1] = controls[0], controls[-1]
    return points


def bulge_points(start: Points, end: Points, bulge: float, tolerance: float) -> Points:
    """Points on the arc from `start` to `end` with the given bulge, both included.

    The bulge is the tangent of a quarter of the arc's angle, positive when the arc runs ccw (DXF reference,
    LWPOLYLINE group 42).
    """
    chord = np.asarray(end, dtype=np.float64) - start
    length = float(np.hypot(*chord))
    if abs(bulge) < 1e-9 or length == 0.0 or not math.isfinite(bulge):
        return np.vstack([start, end])
    sweep = 4.0 * math.atan(bulge)
    # The centre lies on the perpendicular through the chord's middle, (1 - b^2) / 4b chord lengths to its
    # left.
    left = np.array([-chord[1], chord[0]])
    center = (np.asarray(start) + end) / 2.0 + left * (1.0 - bulge * bulge) / (4.0 * bulge)
    radius = length * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    first = math.atan2(start[1] - center[1], start[0] - center[0])
    points = arc_points((float(center[0]), float(center[1])), radius, first, sweep, tolerance)
    points[0], points[-1] = start, end
    return points
