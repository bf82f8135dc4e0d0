"""Collision kernels: do two rings overlap, does a ring lie within an area, and how deep is the fault.

What lives here: plain compiled functions over arrays, knowing neither leather nor search. What does not: the
building of those arrays (`packed_kernels`, `packed`), the search that calls them (`search_kernels`).

Conventions, shared by all kernels of this folder:

* Shapes are rows of padded two-dimensional arrays, `vx[k, :n]`, in mm, already turned but not yet moved, so that
  a pair is fully described by two rows and the offset (dx, dy) of the first against the second.
* `edges_cross` and `ring_holds_point` are exact up to rounding of float64 (about 1e-9 mm for shapes of a metre):
  a vertex on the line counts to one fixed side, so that no ring slips through another at a corner. The few
  micrometres by which the rings were grown beforehand make touching count as contact.
* `disc_depth` is the smooth measure of how deep two shapes overlap: over all pairs of inscribed discs the sum of
  penetration depth times the smaller radius, where the depth goes on past contact as a decaying tail, so that
  every pair that collides has a slope to follow. After Imamichi, Yagiura and Nagamochi (2009), who measure overlap
  by penetration depth, and Gardeyn, Vanden Berghe and Wauters (2025), who measure it by inscribed discs.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

FLAT = {"cache": True, "nogil": True, "_nrt": False}
"""Options of every kernel. Without reference counts, which kernels that allocate nothing do not need, they run five
times as fast: a named tuple of arrays would have each of its arrays counted at every call."""

INNER = {**FLAT, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}
"""Options of kernels that only kernels call: no door from Python is compiled for them."""


@njit(**FLAT, forceinline=True)
def cosine_sine(degrees):
    """Cosine and sine of an angle in degrees; exact at multiples of 90."""
    quarter = degrees / 90.0
    whole = math.floor(quarter + 0.5)
    if quarter == whole:
        turn = int(whole) % 4
        if turn == 0:
            return 1.0, 0.0
        if turn == 1:
            return 0.0, 1.0
        if turn == 2:
            return -1.0, 0.0
        return 0.0, -1.0
    radians = math.radians(degrees)
    return math.cos(radians), math.sin(radians)


@njit(**INNER, forceinline=True)
def turn_row(from_x, from_y, row, count, cosine, sine, to_x, to_y, to_row):
    """Turn the first `count` points of one row into another row."""
    for k in range(count):
        px = from_x[row, k]
        py = from_y[row, k]
        to_x[to_row, k] = cosine * px - sine * py
        to_y[to_row, k] = sine * px + cosine * py


@njit(**INNER, fastmath=True, error_model="numpy", forceinline=True)
def disc_depth(ax, ay, ar, a, an, bx, by, br, b, bn, dx, dy, eps):
    """Smooth overlap of two disc covers (mm²), and the sum of all true penetration depths (mm, 0 if none).

    Shapes: `ax, ay (·, ·) float32` turned disc centres and `ar` radii, row `a`, `an` discs; `b` likewise; the
    first shape lies at offset (dx, dy) from the second. `eps` (mm) is where the depth passes into its tail.
    Written without branches or maxima, so that the inner loop is compiled to vector instructions.
    """
    total = np.float32(0.0)
    pierced = np.float32(0.0)
    half = np.float32(0.5)
    square = eps * eps
    bxr = bx[b]
    byr = by[b]
    brr = br[b]
    for p in range(an):
        px = ax[a, p] + dx
        py = ay[a, p] + dy
        pr = ar[a, p]
        for q in range(bn):
            ex = px - bxr[q]
            ey = py - byr[q]
            qr = brr[q]
            depth = pr + qr - np.float32(math.sqrt(ex * ex + ey * ey))
            low = depth - eps
            over = half * (low + abs(low))
            total += (over + square / (eps - (low - over))) * min(pr, qr)
            pierced += depth + abs(depth)
    return total, pierced


@njit(**INNER)
def ring_holds_point(vx, vy, row, count, px, py):
    """Whether the ring in a row holds the point (ray casting, half-open edges)."""
    inside = False
    qx = vx[row, count - 1]
    qy = vy[row, count - 1]
    for k in range(count):
        rx = vx[row, k]
        ry = vy[row, k]
        if (ry > py) != (qy > py) and px < (qx - rx) * (py - ry) / (qy - ry) + rx:
            inside = not inside
        qx = rx
        qy = ry
    return inside


@njit(**INNER, forceinline=True)
def segments_cross(ax, ay, bx, by, cx, cy, dx, dy):
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


@njit(**INNER)
def edges_cross(avx, avy, a, an, bvx, bvy, b, bn, dx, dy, x0, y0, x1, y1, keep):
    """Whether any edges of two rings cross inside the window [x0, x1] × [y0, y1].

    The window and the rings are in the frame of the second ring; the first lies at (dx, dy). The window is the
    common part of the two bounding boxes. `keep (·,) int64` is scratch for the second ring's edges.
    """
    kept = 0
    qx = bvx[b, bn - 1]
    qy = bvy[b, bn - 1]
    for k in range(bn):
        rx = bvx[b, k]
        ry = bvy[b, k]
        if max(qx, rx) >= x0 and min(qx, rx) <= x1 and max(qy, ry) >= y0 and min(qy, ry) <= y1:
            keep[kept] = k
            kept += 1
        qx = rx
        qy = ry
    if kept == 0:
        return False
    px = avx[a, an - 1] + dx
    py = avy[a, an - 1] + dy
    for i in range(an):
        sx = avx[a, i] + dx
        sy = avy[a, i] + dy
        ex0 = min(px, sx)
        ex1 = max(px, sx)
        ey0 = min(py, sy)
        ey1 = max(py, sy)
        if ex1 >= x0 and ex0 <= x1 and ey1 >= y0 and ey0 <= y1:
            for m in range(kept):
                k = keep[m]
                before = k - 1 if k > 0 else bn - 1
                cx = bvx[b, before]
                cy = bvy[b, before]
                ex = bvx[b, k]
                ey = bvy[b, k]
                if (
                    max(cx, ex) >= ex0
                    and min(cx, ex) <= ex1
                    and max(cy, ey) >= ey0
                    and min(cy, ey) <= ey1
                    and segments_cross(px, py, sx, sy, cx, cy, ex, ey)
                ):
                    return True
        px = sx
        py = sy
    return False


@njit(**INNER)
def row_box(vx, vy, row, count, box):
    """Write the bounding box (xmin, ymin, xmax, ymax) of a row's first `count` points into `box (4,)`."""
    x0 = x1 = vx[row, 0]
    y0 = y1 = vy[row, 0]
    for k in range(1, count):
        px = vx[row, k]
        py = vy[row, k]
        x0 = min(x0, px)
        x1 = max(x1, px)
        y0 = min(y0, py)
        y1 = max(y1, py)
    box[0] = x0
    box[1] = y0
    box[2] = x1
    box[3] = y1


@njit(**INNER)
def rings_overlap(avx, avy, a, an, a_box, ain, bvx, bvy, b, bn, b_box, bin_, dx, dy, keep):
    """Whether two rings overlap, exactly: their edges cross, or one lies within the other.

    `a_box`, `b_box (4,)` are the boxes of the unmoved rows; `ain`, `bin_` a point well inside each (x, y).
    """
    x0 = max(a_box[0] + dx, b_box[0])
    y0 = max(a_box[1] + dy, b_box[1])
    x1 = min(a_box[2] + dx, b_box[2])
    y1 = min(a_box[3] + dy, b_box[3])
    if x0 > x1 or y0 > y1:
        return False
    if edges_cross(avx, avy, a, an, bvx, bvy, b, bn, dx, dy, x0, y0, x1, y1, keep):
        return True
    if a_box[0] + dx >= b_box[0] and a_box[2] + dx <= b_box[2]:
        if a_box[1] + dy >= b_box[1] and a_box[3] + dy <= b_box[3]:
            return ring_holds_point(bvx, bvy, b, bn, ain[0] + dx, ain[1] + dy)
    if b_box[0] >= a_box[0] + dx and b_box[2] <= a_box[2] + dx:
        if b_box[1] >= a_box[1] + dy and b_box[3] <= a_box[3] + dy:
            return ring_holds_point(avx, avy, a, an, bin_[0] - dx, bin_[1] - dy)
    return False


@njit(**INNER, forceinline=True)
def signed_distance(A, area, px, py):
    """Signed distance of a point to the edge of an area, positive inside, by the area's grid.

    Within the grid the error is at most 0.71 of the grid's cell; beyond it the distance to the grid is taken off.
    """
    cell = A.cell[area]
    gx = (px - A.x0[area]) / cell
    gy = (py - A.y0[area]) / cell
    nx = A.nx[area]
    ny = A.ny[area]
    beyond = 0.0
    if gx < 0.0:
        beyond += -gx
        gx = 0.0
    elif gx > nx:
        beyond += gx - nx
        gx = float(nx)
    if gy < 0.0:
        beyond += -gy
        gy = 0.0
    elif gy > ny:
        beyond += gy - ny
        gy = float(ny)
    ix = min(int(gx), nx - 1)
    iy = min(int(gy), ny - 1)
    fx = gx - ix
    fy = gy - iy
    at = A.node_start[area] + iy * (nx + 1) + ix
    low = A.distance[at] * (1.0 - fx) + A.distance[at + 1] * fx
    at += nx + 1
    high = A.distance[at] * (1.0 - fx) + A.distance[at + 1] * fx
    return low * (1.0 - fy) + high * fy - beyond * cell


@njit(**INNER)
def edge_leaves(A, area, px, py, qx, qy):
    """Whether the segment pq crosses the edge of an area (exact, through the bins of the area's grid)."""
    cell = A.cell[area]
    nx = A.nx[area]
    ny = A.ny[area]
    ix0 = min(max(math.floor((min(px, qx) - A.x0[area]) / cell), 0), nx - 1)
    ix1 = min(max(math.floor((max(px, qx) - A.x0[area]) / cell), 0), nx - 1)
    iy0 = min(max(math.floor((min(py, qy) - A.y0[area]) / cell), 0), ny - 1)
    iy1 = min(max(math.floor((max(py, qy) - A.y0[area]) / cell), 0), ny - 1)
    for iy in range(iy0, iy1 + 1):
        at = A.bin_start[area] + iy * nx
        for ix in range(ix0, ix1 + 1):
            for m in range(A.bin_edges[at + ix], A.bin_edges[at + ix + 1]):
                e = A.edge_of[m]
                if segments_cross(px, py, qx, qy, A.ex0[e], A.ey0[e], A.ex1[e], A.ey1[e]):
                    return True
    return False


SLACK = 0.72
"""Share of a grid's cell by which `signed_distance` may be wrong at the most."""
RUN = 8
"""Edges that `area_holds_ring` asks about together."""


@njit(**INNER)
def area_holds_ring(A, area, vx, vy, row, count, dx, dy, box):
    """Whether an area holds the ring of a row moved by (dx, dy), exactly; `box (4,)` is the unmoved row's box."""
    x0 = box[0] + dx
    y0 = box[1] + dy
    x1 = box[2] + dx
    y1 = box[3] + dy
    if x0 < A.bx0[area] or y0 < A.by0[area] or x1 > A.bx1[area] or y1 > A.by1[area]:
        return False
    if A.plain[area]:
        return True
    slack = SLACK * A.cell[area]
    px = vx[row, count - 1] + dx
    py = vy[row, count - 1] + dy
    known = False
    for start in range(0, count, RUN):
        end = min(start + RUN, count)
        # Where a run of edges lies in a disc that the area holds, none of them need be asked.
        rx0 = rx1 = px
        ry0 = ry1 = py
        for k in range(start, end):
            qx = vx[row, k] + dx
            qy = vy[row, k] + dy
            rx0 = min(rx0, qx)
            rx1 = max(rx1, qx)
            ry0 = min(ry0, qy)
            ry1 = max(ry1, qy)
        half = 0.5 * math.sqrt((rx1 - rx0) ** 2 + (ry1 - ry0) ** 2)
        if signed_distance(A, area, 0.5 * (rx0 + rx1), 0.5 * (ry0 + ry1)) > half + slack:
            known = True
            px = vx[row, end - 1] + dx
            py = vy[row, end - 1] + dy
            continue
        for k in range(start, end):
            qx = vx[row, k] + dx
            qy = vy[row, k] + dy
            half = 0.5 * math.sqrt((qx - px) ** 2 + (qy - py) ** 2)
            d = signed_distance(A, area, 0.5 * (px + qx), 0.5 * (py + qy))
            if d < -slack:
                return False
            if d > slack:
                known = True
            if d <= half + slack and edge_leaves(A, area, px, py, qx, qy):
                return False
            px = qx
            py = qy
    if not known:
        # No midpoint was clearly inside: ask by ray casting over all the area's edges.
        inside = False
        for e in range(A.edge_start[area], A.edge_start[area + 1]):
            ay = A.ey0[e]
            by = A.ey1[e]
            if (ay > py) != (by > py) and px < (A.ex1[e] - A.ex0[e]) * (py - ay) / (by - ay) + A.ex0[e]:
                inside = not inside
        if not inside:
            return False
    for h in range(A.hole_start[area], A.hole_start[area + 1]):
        hx = A.hole_x[h]
        hy = A.hole_y[h]
        if hx > x0 and hx < x1 and hy > y0 and hy < y1:
            if ring_holds_point(vx, vy, row, count, hx - dx, hy - dy):
                return False
    return True


@njit(**INNER)
def outside_depth(A, area, px, py, pr, row, count, dx, dy, eps):
    """Smooth measure of how far a disc cover sticks out of an area: sum of depth times radius, with a tail."""
    total = 0.0
    for p in range(count):
        cx = px[row, p] + dx
        cy = py[row, p] + dy
        r = pr[row, p]
        if A.plain[area]:
            d = min(min(cx - A.bx0[area], A.bx1[area] - cx), min(cy - A.by0[area], A.by1[area] - cy))
        else:
            d = signed_distance(A, area, cx, cy)
        depth = r - d
        total += (depth if depth >= eps else eps * eps / (2.0 * eps - depth)) * r
    return total


@njit(**INNER)
def beyond_depth(nx, ny, limit, px, py, pr, row, count, dx, dy, eps):
    """Smooth measure of how far a disc cover lies beyond the line n·p = limit, as `outside_depth`."""
    total = 0.0
    for p in range(count):
        r = pr[row, p]
        depth = r + nx * (px[row, p] + dx) + ny * (py[row, p] + dy) - limit
        total += (depth if depth >= eps else eps * eps / (2.0 * eps - depth)) * r
    return total


@njit(**INNER)
def reach(vx, vy, row, count, nx, ny):
    """The largest n·p over a row's points."""
    far = -1e300
    for k in range(count):
        far = max(far, nx * vx[row, k] + ny * vy[row, k])
    return far
