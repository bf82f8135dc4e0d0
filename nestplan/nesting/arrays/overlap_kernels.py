"""Kernels that ask whether two turned shapes overlap, exactly, and how deep.

A pair is fully described by two rows of turned shapes and the offset (dx, dy) of the first against the second.

* `rings_overlap` is exact up to rounding of float64 (about 1e-9 mm for shapes of a metre): a corner on a line counts
  to one fixed side, so that no ring slips through another at a corner. The few micrometres by which the rings were
  grown beforehand make touching count as contact.
* `disc_overlap` is the smooth measure of how deep two shapes overlap: over all pairs of inscribed discs the sum of
  penetration depth times the smaller radius, where the depth goes on past contact as a decaying tail, so that
  every pair that collides has a slope to follow. After Imamichi, Yagiura and Nagamochi (2009), who measure overlap
  by penetration depth, and Gardeyn, Vanden Berghe and Wauters (2025), who measure it by inscribed discs.
"""

from __future__ import annotations

import math

import numpy as np

from nestplan.nesting.arrays.compile_options import FLAT
from nestplan.nesting.arrays.kernel_cache import kernel
from nestplan.nesting.arrays.records import TurnedRing, TurnedShapes
from nestplan.nesting.arrays.turned_shape_kernels import EDGES_PER_RUN, filled_up

TAIL = 0.01
"""Where a disc pair's depth passes into its tail, as a share of the larger shape's diameter."""


@kernel(**FLAT, fastmath=True, error_model="numpy", forceinline=True)
def disc_overlap(
    rows: TurnedShapes, first: int, second: int, dx: np.float32, dy: np.float32, tail: np.float32
) -> tuple[np.float32, np.float32]:
    """Smooth overlap of two disc covers (mm²), and the sum of all depths beyond the tail (mm): where there are any, the
    shapes surely overlap.

    `dx, dy` (float32) is the offset of the first row against the second, `tail` (float32, mm) where the depth passes
    into its tail. Written without branches or maxima, and over rows filled up to whole vectors, so that the inner loop
    is compiled to vector instructions.
    """
    total = np.float32(0.0)
    pierced = np.float32(0.0)
    count = filled_up(rows.disc_count[second])
    half = np.float32(0.5)
    square = tail * tail
    second_x = rows.disc_x[second]
    second_y = rows.disc_y[second]
    second_radius = rows.disc_radius[second]
    for p in range(rows.disc_count[first]):
        px = rows.disc_x[first, p] + dx
        py = rows.disc_y[first, p] + dy
        radius = rows.disc_radius[first, p]
        for q in range(count):
            ex = px - second_x[q]
            ey = py - second_y[q]
            other = second_radius[q]
            depth = radius + other - np.float32(math.sqrt(ex * ex + ey * ey))
            low = depth - tail
            over = half * (low + abs(low))
            pierced += over
            total += (over + square / (tail - (low - over))) * min(radius, other)
    return total, pierced


@kernel(**FLAT, forceinline=True)
def tight_boxes_apart(
    rows: TurnedShapes, first: int, others: TurnedShapes, second: int, dx: float, dy: float
) -> bool:
    """Whether a side of the smallest box about the shape in row `first` of `rows`, moved by (dx, dy), or of that about
    the shape in row `second` of `others` parts the two boxes: the shapes surely lie apart then."""
    one = rows.tight_box[first]
    other = others.tight_box[second]
    x = one[0] + dx - other[0]
    y = one[1] + dy - other[1]
    along = abs(one[2] * other[2] + one[3] * other[3])
    across = abs(one[2] * other[3] - one[3] * other[2])
    return (
        abs(x * one[2] + y * one[3]) > one[4] + along * other[4] + across * other[5]
        or abs(y * one[2] - x * one[3]) > one[5] + across * other[4] + along * other[5]
        or abs(x * other[2] + y * other[3]) > other[4] + along * one[4] + across * one[5]
        or abs(y * other[2] - x * other[3]) > other[5] + across * one[4] + along * one[5]
    )


@kernel(**FLAT)
def ring_holds_point(rows: TurnedShapes, row: int, x: float, y: float) -> bool:
    """Whether the ring in a row holds a point of the row's own frame (ray casting, half-open edges)."""
    count = rows.corner_count[row]
    inside = False
    ax = rows.corner_x[row, count - 1]
    ay = rows.corner_y[row, count - 1]
    for k in range(count):
        bx = rows.corner_x[row, k]
        by = rows.corner_y[row, k]
        if (by > y) != (ay > y) and x < (ax - bx) * (y - by) / (ay - by) + bx:
            inside = not inside
        ax = bx
        ay = by
    return inside


@kernel(**FLAT, forceinline=True)
def segments_cross(
    ax: float, ay: float, bx: float, by: float, cx: float, cy: float, dx: float, dy: float
) -> bool:
    """Whether segments ab and cd cross; a point on a line counts to its right side."""
    ux = bx - ax
    uy = by - ay
    left_c = ux * (cy - ay) - uy * (cx - ax) > 0.0
    left_d = ux * (dy - ay) - uy * (dx - ax) > 0.0
    if left_c == left_d:
        return False
    wx = dx - cx
    wy = dy - cy
    left_a = wx * (ay - cy) - wy * (ax - cx) > 0.0
    left_b = wx * (by - cy) - wy * (bx - cx) > 0.0
    return left_a != left_b


@kernel(**FLAT)
def rings_overlap(
    rows: TurnedShapes, first: int, others: TurnedShapes, second: int, dx: float, dy: float
) -> bool:
    """Whether the ring in row `first` of `rows`, moved by (dx, dy), and that in row `second` of `others` overlap.

    Exact: their edges cross, or one lies within the other. Of each, the middle of its largest disc lies well inside.
    """
    x0 = max(rows.box[first, 0] + dx, others.box[second, 0])
    y0 = max(rows.box[first, 1] + dy, others.box[second, 1])
    x1 = min(rows.box[first, 2] + dx, others.box[second, 2])
    y1 = min(rows.box[first, 3] + dy, others.box[second, 3])
    if x0 > x1 or y0 > y1:
        return False
    if edges_cross(ring_in(rows, first), ring_in(others, second), dx, dy, (x0, y0, x1, y1)):
        return True
    first_within = x0 == rows.box[first, 0] + dx and x1 == rows.box[first, 2] + dx
    if first_within and y0 == rows.box[first, 1] + dy and y1 == rows.box[first, 3] + dy:
        x = np.float64(rows.disc_x[first, 0])
        y = np.float64(rows.disc_y[first, 0])
        return ring_holds_point(others, second, x + dx, y + dy)
    second_within = x0 == others.box[second, 0] and x1 == others.box[second, 2]
    if second_within and y0 == others.box[second, 1] and y1 == others.box[second, 3]:
        x = np.float64(others.disc_x[second, 0])
        y = np.float64(others.disc_y[second, 0])
        return ring_holds_point(rows, first, x - dx, y - dy)
    return False


@kernel(**FLAT, forceinline=True)
def ring_in(rows: TurnedShapes, row: int) -> TurnedRing:
    """The ring in a row."""
    count = rows.corner_count[row]
    runs = (count + EDGES_PER_RUN - 1) // EDGES_PER_RUN
    return TurnedRing(rows.corner_x[row, :count], rows.corner_y[row, :count], rows.run_box[row, :runs])


@kernel(**FLAT)
def edges_cross(
    ring: TurnedRing, other: TurnedRing, dx: float, dy: float, window: tuple[float, float, float, float]
) -> bool:
    """Whether any edges of a `TurnedRing`, moved by (dx, dy), and another cross inside a window (left, bottom, right,
    top)."""
    x0, y0, x1, y1 = window
    box = ring.run_box
    other_box = other.run_box
    for i in range(box.shape[0]):
        ax0 = max(box[i, 0] + dx, x0)
        ay0 = max(box[i, 1] + dy, y0)
        ax1 = min(box[i, 2] + dx, x1)
        ay1 = min(box[i, 3] + dy, y1)
        if ax0 > ax1 or ay0 > ay1:
            continue
        for k in range(other_box.shape[0]):
            if other_box[k, 0] > ax1 or other_box[k, 2] < ax0:
                continue
            if other_box[k, 1] > ay1 or other_box[k, 3] < ay0:
                continue
            within = (
                max(other_box[k, 0], ax0),
                max(other_box[k, 1], ay0),
                min(other_box[k, 2], ax1),
                min(other_box[k, 3], ay1),
            )
            if edges_of_runs_cross(ring, i, other, k, (dx, dy), within):
                return True
    return False


@kernel(**FLAT)
def edges_of_runs_cross(
    ring: TurnedRing,
    run: int,
    other: TurnedRing,
    other_run: int,
    offset: tuple[float, float],
    within: tuple[float, float, float, float],
) -> bool:
    """Whether any edges of a run of the first ring, moved by an offset, and of one of the other cross; what both boxes
    have in common, `within`, holds every point where they do."""
    dx, dy = offset
    x0, y0, x1, y1 = within
    start = run * EDGES_PER_RUN
    end = min(start + EDGES_PER_RUN, ring.x.shape[0])
    before = start - 1 if start > 0 else ring.x.shape[0] - 1
    other_start = other_run * EDGES_PER_RUN
    other_end = min(other_start + EDGES_PER_RUN, other.x.shape[0])
    other_before = other_start - 1 if other_start > 0 else other.x.shape[0] - 1
    ax = ring.x[before] + dx
    ay = ring.y[before] + dy
    for k in range(start, end):
        bx = ring.x[k] + dx
        by = ring.y[k] + dy
        left = min(ax, bx)
        right = max(ax, bx)
        bottom = min(ay, by)
        top = max(ay, by)
        if right >= x0 and left <= x1 and top >= y0 and bottom <= y1:
            cx = other.x[other_before]
            cy = other.y[other_before]
            for m in range(other_start, other_end):
                ex = other.x[m]
                ey = other.y[m]
                if (
                    max(cx, ex) >= left
                    and min(cx, ex) <= right
                    and max(cy, ey) >= bottom
                    and min(cy, ey) <= top
                    and segments_cross(ax, ay, bx, by, cx, cy, ex, ey)
                ):
                    return True
                cx = ex
                cy = ey
        ax = bx
        ay = by
    return False
