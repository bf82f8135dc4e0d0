"""Kernels that tabulate a pair of turned shapes over all their offsets, so that the search can look losses up.

What lives here: building one table and reading it. What does not: which pairs get one (`tables`).

Where items may only take single turns, a pair of turned shapes has but two degrees of freedom. A table holds, over
a grid of offsets, the loss at every second node and for each cell whether the two shapes are apart (`APART`) or collide
(`HIT`) at *every* offset in it, or whether the edges must be asked (`ASK`). The verdict of two polygons can only
change at offsets where a corner of one touches an edge of the other; a cell that no such segment passes has one
verdict throughout, so the table is as exact as the test it spares. This is the no-fit polygon of the pair (Art
1966), held as a raster.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from nestplan.nesting.arrays.collision_kernels import FLAT, INNER, disc_depth, rings_overlap, row_box

APART, HIT, ASK = 0, 1, 2

COARSE = 2
"""Cells from one node to the next along a side. Losses are smooth, verdicts are not; small tables stay in the cache."""


@njit(**FLAT, forceinline=True)
def nodes_along(cells):
    """Nodes along a side of so many cells."""
    return (cells + COARSE - 1) // COARSE + 1


@njit(**INNER)
def mark_segment(code, start, nx, ny, x0, y0, cell, ax, ay, bx, by):
    """Set every cell that the segment ab passes to ASK, with a margin of a ten-thousandth of a cell."""
    margin = 1e-4
    px = (ax - x0) / cell
    py = (ay - y0) / cell
    qx = (bx - x0) / cell
    qy = (by - y0) / cell
    if py > qy:
        px, py, qx, qy = qx, qy, px, py
    low = max(0, math.floor(py - margin))
    high = min(ny - 1, math.floor(qy + margin))
    for iy in range(low, high + 1):
        if qy - py > 1e-12:
            t0 = min(1.0, max(0.0, (iy - margin - py) / (qy - py)))
            t1 = min(1.0, max(0.0, (iy + 1.0 + margin - py) / (qy - py)))
        else:
            t0 = 0.0
            t1 = 1.0
        u0 = px + t0 * (qx - px)
        u1 = px + t1 * (qx - px)
        first = max(0, math.floor(min(u0, u1) - margin))
        last = min(nx - 1, math.floor(max(u0, u1) + margin))
        for ix in range(first, last + 1):
            code[start + iy * nx + ix] = ASK


@njit(**INNER)
def deepest_disc(px, py, pr, a, an, b, bn, dx, dy):
    """Deepest penetration of any two discs of two rows, the first at (dx, dy)."""
    deepest = -math.inf
    for p in range(an):
        for q in range(bn):
            ex = px[a, p] + dx - px[b, q]
            ey = py[a, p] + dy - py[b, q]
            deepest = max(deepest, pr[a, p] + pr[b, q] - math.sqrt(ex * ex + ey * ey))
    return deepest


@njit(**FLAT)
def fill_table(
    vx, vy, vn, px, py, pr, pn, a, b, boxes, keep, x0, y0, cell, nx, ny, eps, scale, value, node, code, start
):  # fmt: skip
    """Fill one table for row `a` at offsets from row `b`: `value` from `node`, `code` from `start`.

    `vx … pn` are rows of turned shapes, `boxes (·, 4)` theirs, `keep` scratch; `eps` and `scale` are those of the
    pair's loss.
    """
    wide = nodes_along(nx)
    for iy in range(nodes_along(ny)):
        for ix in range(wide):
            depth, _ = disc_depth(
                px, py, pr, a, pn[a], px, py, pr, b, pn[b],
                np.float32(x0 + ix * COARSE * cell), np.float32(y0 + iy * COARSE * cell), np.float32(eps),
            )  # fmt: skip
            value[node + iy * wide + ix] = math.sqrt(depth) * scale
    for c in range(nx * ny):
        code[start + c] = APART
    for i in range(vn[a]):
        for k in range(vn[b]):
            m = k + 1 if k + 1 < vn[b] else 0
            mark_segment(
                code, start, nx, ny, x0, y0, cell,
                vx[b, k] - vx[a, i], vy[b, k] - vy[a, i], vx[b, m] - vx[a, i], vy[b, m] - vy[a, i],
            )  # fmt: skip
            m = i + 1 if i + 1 < vn[a] else 0
            mark_segment(
                code, start, nx, ny, x0, y0, cell,
                vx[b, k] - vx[a, i], vy[b, k] - vy[a, i], vx[b, k] - vx[a, m], vy[b, k] - vy[a, m],
            )  # fmt: skip
    row_box(vx, vy, a, vn[a], boxes[a])
    row_box(vx, vy, b, vn[b], boxes[b])
    ain = (np.float64(px[a, 0]), np.float64(py[a, 0]))
    bin_ = (np.float64(px[b, 0]), np.float64(py[b, 0]))
    for iy in range(ny):
        before = -1
        for ix in range(nx):
            at = start + iy * nx + ix
            dx = x0 + (ix + 0.5) * cell
            dy = y0 + (iy + 0.5) * cell
            if code[at] == ASK:
                before = -1
                if deepest_disc(px, py, pr, a, pn[a], b, pn[b], dx, dy) > 0.708 * cell + 0.001:
                    code[at] = HIT
            elif before >= 0:
                code[at] = before
            else:
                hit = rings_overlap(
                    vx, vy, a, vn[a], boxes[a], ain, vx, vy, b, vn[b], boxes[b], bin_, dx, dy, keep
                )  # fmt: skip
                before = HIT if hit else APART
                code[at] = before


@njit(**INNER, forceinline=True)
def look_up(B, table, u, v):
    """Verdict and loss of a pair at offset (u, v) in a table's own frame; the loss is 0 when APART."""
    gx = (u - B.x0[table]) * B.per[table]
    gy = (v - B.y0[table]) * B.per[table]
    nx = B.nx[table]
    if gx <= 0.0 or gy <= 0.0:
        return APART, 0.0
    ix = int(gx)
    iy = int(gy)
    if ix >= nx or iy >= B.ny[table]:
        return APART, 0.0
    code = B.code[B.code_start[table] + iy * nx + ix]
    if code == APART:
        return APART, 0.0
    gx *= 1.0 / COARSE
    gy *= 1.0 / COARSE
    ix = int(gx)
    iy = int(gy)
    fx = gx - ix
    fy = gy - iy
    wide = nodes_along(nx)
    at = B.node_start[table] + iy * wide + ix
    low = B.value[at] * (1.0 - fx) + B.value[at + 1] * fx
    at += wide
    high = B.value[at] * (1.0 - fx) + B.value[at + 1] * fx
    return int(code), low * (1.0 - fy) + high * fy
