"""Kernels that ask whether two rings of many edges overlap, chunk by chunk.

What lives here: boxes about runs of edges of a turned row, and the exact test that uses them. What does not: the test
for few edges, and all else about collisions (`kernels`).

Two detailed rings lying close together have boxes that overlap widely, yet few edges that could cross. Chunks of
`CHUNK` edges with a box each leave only those to be compared: for outlines of a hundred corners and more, a third of
the time.
"""

from __future__ import annotations

from numba import njit

from nestplan.nesting.arrays.collision_kernels import INNER, ring_holds_point, segments_cross

CHUNK = 8


@njit(**INNER, fastmath={"nnan", "nsz", "reassoc"})
def chunk_boxes(vx, vy, row, count, chunks, box):
    """Write the boxes of a row's chunks into `chunks (·, 4)` and the box of all its `count` points into `box (4,)`.

    Chunk c holds the edges that end at points c · CHUNK to (c + 1) · CHUNK - 1."""
    x0 = x1 = vx[row, 0]
    y0 = y1 = vy[row, 0]
    for c in range((count + CHUNK - 1) // CHUNK):
        start = c * CHUNK
        before = start - 1 if start > 0 else count - 1
        cx0 = cx1 = vx[row, before]
        cy0 = cy1 = vy[row, before]
        for k in range(start, min(start + CHUNK, count)):
            px = vx[row, k]
            py = vy[row, k]
            cx0 = min(cx0, px)
            cx1 = max(cx1, px)
            cy0 = min(cy0, py)
            cy1 = max(cy1, py)
        chunks[c, 0] = cx0
        chunks[c, 1] = cy0
        chunks[c, 2] = cx1
        chunks[c, 3] = cy1
        x0 = min(x0, cx0)
        x1 = max(x1, cx1)
        y0 = min(y0, cy0)
        y1 = max(y1, cy1)
    box[0] = x0
    box[1] = y0
    box[2] = x1
    box[3] = y1


@njit(**INNER)
def chunks_cross(vx, vy, a, an, b, bn, chunk, dx, dy, x0, y0, x1, y1):
    """Whether any edges of rows `a`, moved by (dx, dy), and `b` cross inside the window [x0, x1] × [y0, y1]."""
    for i in range((an + CHUNK - 1) // CHUNK):
        ax0 = max(chunk[a, i, 0] + dx, x0)
        ay0 = max(chunk[a, i, 1] + dy, y0)
        ax1 = min(chunk[a, i, 2] + dx, x1)
        ay1 = min(chunk[a, i, 3] + dy, y1)
        if ax0 > ax1 or ay0 > ay1:
            continue
        for k in range((bn + CHUNK - 1) // CHUNK):
            if chunk[b, k, 0] > ax1 or chunk[b, k, 2] < ax0 or chunk[b, k, 1] > ay1 or chunk[b, k, 3] < ay0:
                continue
            if edges_of_chunks_cross(vx, vy, a, an, i, b, bn, k, dx, dy, chunk):
                return True
    return False


@njit(**INNER)
def edges_of_chunks_cross(vx, vy, a, an, i, b, bn, k, dx, dy, chunk):
    """Whether any edges of chunk `i` of row `a`, moved by (dx, dy), and chunk `k` of row `b` cross."""
    x0 = chunk[b, k, 0]
    y0 = chunk[b, k, 1]
    x1 = chunk[b, k, 2]
    y1 = chunk[b, k, 3]
    start = i * CHUNK
    before = start - 1 if start > 0 else an - 1
    px = vx[a, before] + dx
    py = vy[a, before] + dy
    first = k * CHUNK
    last = min(first + CHUNK, bn)
    before = first - 1 if first > 0 else bn - 1
    for m in range(start, min(start + CHUNK, an)):
        sx = vx[a, m] + dx
        sy = vy[a, m] + dy
        ex0 = min(px, sx)
        ex1 = max(px, sx)
        ey0 = min(py, sy)
        ey1 = max(py, sy)
        if ex1 >= x0 and ex0 <= x1 and ey1 >= y0 and ey0 <= y1:
            cx = vx[b, before]
            cy = vy[b, before]
            for n in range(first, last):
                fx = vx[b, n]
                fy = vy[b, n]
                if (
                    max(cx, fx) >= ex0
                    and min(cx, fx) <= ex1
                    and max(cy, fy) >= ey0
                    and min(cy, fy) <= ey1
                    and segments_cross(px, py, sx, sy, cx, cy, fx, fy)
                ):
                    return True
                cx = fx
                cy = fy
        px = sx
        py = sy
    return False


@njit(**INNER)
def chunked_overlap(T, a, ain_x, ain_y, b, bin_x, bin_y, dx, dy):
    """Whether the rings in rows `a`, moved by (dx, dy), and `b` of a state overlap, exactly.

    (ain_x, ain_y), (bin_x, bin_y): a point well inside each, unmoved."""
    ax0 = T.box[a, 0] + dx
    ay0 = T.box[a, 1] + dy
    ax1 = T.box[a, 2] + dx
    ay1 = T.box[a, 3] + dy
    x0 = max(ax0, T.box[b, 0])
    y0 = max(ay0, T.box[b, 1])
    x1 = min(ax1, T.box[b, 2])
    y1 = min(ay1, T.box[b, 3])
    if x0 > x1 or y0 > y1:
        return False
    if chunks_cross(T.vx, T.vy, a, T.vn[a], b, T.vn[b], T.chunk, dx, dy, x0, y0, x1, y1):
        return True
    if x0 == ax0 and y0 == ay0 and x1 == ax1 and y1 == ay1:
        return ring_holds_point(T.vx, T.vy, b, T.vn[b], ain_x + dx, ain_y + dy)
    if x0 == T.box[b, 0] and y0 == T.box[b, 1] and x1 == T.box[b, 2] and y1 == T.box[b, 3]:
        return ring_holds_point(T.vx, T.vy, a, T.vn[a], bin_x - dx, bin_y - dy)
    return False
