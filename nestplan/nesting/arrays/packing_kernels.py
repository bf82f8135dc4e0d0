"""Kernels that build the engine's arrays once per problem: disc covers, distance grids, edge bins.

What lives here: the compiled part of `packed`. What does not: anything called during the search.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from nestplan.nesting.arrays.sort_kernels import rising_order


@njit(cache=True, nogil=True)
def segment_distance(px, py, ax, ay, bx, by):
    """Distance of a point to a segment."""
    ux = bx - ax
    uy = by - ay
    length = ux * ux + uy * uy
    t = 0.0
    if length > 0.0:
        t = min(1.0, max(0.0, ((px - ax) * ux + (py - ay) * uy) / length))
    ex = ax + t * ux - px
    ey = ay + t * uy - py
    return math.sqrt(ex * ex + ey * ey)


@njit(cache=True, nogil=True)
def inner_clearance(ring, px, py):
    """Signed distance of a point to a ring `(n, 2)`, positive inside."""
    n = ring.shape[0]
    inside = False
    best = 1e300
    ax = ring[n - 1, 0]
    ay = ring[n - 1, 1]
    for k in range(n):
        bx = ring[k, 0]
        by = ring[k, 1]
        if (by > py) != (ay > py) and px < (ax - bx) * (py - by) / (ay - by) + bx:
            inside = not inside
        best = min(best, segment_distance(px, py, ax, ay, bx, by))
        ax = bx
        ay = by
    return best if inside else -best


@njit(cache=True, nogil=True)
def _free_radius(ring, discs, count, px, py):
    """Largest disc at a point that stays in the ring and clear of the first `count` discs."""
    d = inner_clearance(ring, px, py)
    for k in range(count):
        d = min(d, math.sqrt((px - discs[k, 0]) ** 2 + (py - discs[k, 1]) ** 2) - discs[k, 2])
    return d


@njit(cache=True, nogil=True)
def inscribed_discs(ring, most, least_share, grid):
    """Discs `(m, 3)` (x, y, radius) inside a ring, each the largest clear of those before, at most `most`.

    Ends early when the discs cover `least_share` of the ring's area, or when the next would be under a fifteenth
    of the first. Centres are sought on a `grid` × `grid` raster and refined to a thousandth of a raster step.
    """
    n = ring.shape[0]
    x0 = x1 = ring[0, 0]
    y0 = y1 = ring[0, 1]
    area = 0.0
    for k in range(n):
        x0 = min(x0, ring[k, 0])
        x1 = max(x1, ring[k, 0])
        y0 = min(y0, ring[k, 1])
        y1 = max(y1, ring[k, 1])
        m = (k + 1) % n
        area += 0.5 * (ring[k, 0] * ring[m, 1] - ring[m, 0] * ring[k, 1])
    area = abs(area)
    step_x = (x1 - x0) / grid
    step_y = (y1 - y0) / grid
    free = np.empty((grid, grid))
    for i in range(grid):
        for j in range(grid):
            free[i, j] = inner_clearance(ring, x0 + (i + 0.5) * step_x, y0 + (j + 0.5) * step_y)
    discs = np.zeros((most, 3))
    covered = 0.0
    count = 0
    while count < most:
        best = -1.0
        bx = by = 0.0
        for i in range(grid):
            for j in range(grid):
                if free[i, j] > best:
                    best = free[i, j]
                    bx = x0 + (i + 0.5) * step_x
                    by = y0 + (j + 0.5) * step_y
        step = max(step_x, step_y)
        best = _free_radius(ring, discs, count, bx, by)
        while step > 0.001 * max(step_x, step_y):
            moved = False
            for way in range(8):
                tx = bx + step * math.cos(way * math.pi / 4.0)
                ty = by + step * math.sin(way * math.pi / 4.0)
                value = _free_radius(ring, discs, count, tx, ty)
                if value > best:
                    best = value
                    bx = tx
                    by = ty
                    moved = True
            if not moved:
                step *= 0.5
        if best <= 0.0 or (count > 0 and best < discs[0, 2] / 15.0):
            break
        discs[count, 0] = bx
        discs[count, 1] = by
        discs[count, 2] = best
        count += 1
        covered += math.pi * best * best
        if covered >= least_share * area:
            break
        for i in range(grid):
            for j in range(grid):
                px = x0 + (i + 0.5) * step_x
                py = y0 + (j + 0.5) * step_y
                free[i, j] = min(free[i, j], math.sqrt((px - bx) ** 2 + (py - by) ** 2) - best)
    return discs[:count]


@njit(cache=True, nogil=True)
def distance_nodes(ax, ay, bx, by, x0, y0, cell, nx, ny):
    """Signed distances `(ny + 1, nx + 1)` at grid nodes to the edges a→b of an area, positive inside, exact.

    Blocks of nodes keep only the edges that can be nearest to one of them; the sign comes from a scan by rows.
    """
    count = ax.shape[0]
    out = np.empty((ny + 1, nx + 1))
    block = 8
    reach = cell * block * 0.71
    near = np.empty(count, np.int64)
    gap = np.empty(count)
    for by0 in range(0, ny + 1, block):
        for bx0 in range(0, nx + 1, block):
            cx = x0 + (bx0 + 0.5 * (block - 1)) * cell
            cy = y0 + (by0 + 0.5 * (block - 1)) * cell
            best = 1e300
            for e in range(count):
                gap[e] = segment_distance(cx, cy, ax[e], ay[e], bx[e], by[e])
                best = min(best, gap[e])
            kept = 0
            for e in range(count):
                if gap[e] <= best + 2.0 * reach:
                    near[kept] = e
                    kept += 1
            for iy in range(by0, min(by0 + block, ny + 1)):
                for ix in range(bx0, min(bx0 + block, nx + 1)):
                    d = 1e300
                    for m in range(kept):
                        e = near[m]
                        d = min(
                            d, segment_distance(x0 + ix * cell, y0 + iy * cell, ax[e], ay[e], bx[e], by[e])
                        )
                    out[iy, ix] = d
    cuts = np.empty(count)
    for iy in range(ny + 1):
        y = y0 + iy * cell
        found = 0
        for e in range(count):
            if (ay[e] > y) != (by[e] > y):
                cuts[found] = (bx[e] - ax[e]) * (y - ay[e]) / (by[e] - ay[e]) + ax[e]
                found += 1
        order = rising_order(cuts[:found])
        passed = 0
        for ix in range(nx + 1):
            x = x0 + ix * cell
            while passed < found and cuts[order[passed]] <= x:
                passed += 1
            if passed % 2 == 0:
                out[iy, ix] = -out[iy, ix]
    return out


@njit(cache=True, nogil=True)
def bin_edges(ax, ay, bx, by, x0, y0, cell, nx, ny):
    """Edges by grid cell in compressed rows: `starts (nx * ny + 1,)`, `edges (m,)`; an edge is put in every cell
    of its bounding box that lies within 0.71 cells of it."""
    starts = np.zeros(nx * ny + 1, np.int64)
    edges = np.empty(0, np.int64)
    for fill in range(2):
        if fill == 1:
            total = 0
            for c in range(nx * ny):
                here = starts[c + 1]
                starts[c + 1] = total
                total += here
            edges = np.empty(total, np.int64)
        for e in range(ax.shape[0]):
            ix0 = max(math.floor((min(ax[e], bx[e]) - x0) / cell - 1e-9), 0)
            ix1 = min(math.floor((max(ax[e], bx[e]) - x0) / cell + 1e-9), nx - 1)
            iy0 = max(math.floor((min(ay[e], by[e]) - y0) / cell - 1e-9), 0)
            iy1 = min(math.floor((max(ay[e], by[e]) - y0) / cell + 1e-9), ny - 1)
            for iy in range(iy0, iy1 + 1):
                for ix in range(ix0, ix1 + 1):
                    cx = x0 + (ix + 0.5) * cell
                    cy = y0 + (iy + 0.5) * cell
                    if segment_distance(cx, cy, ax[e], ay[e], bx[e], by[e]) <= 0.7072 * cell:
                        c = iy * nx + ix
                        if fill == 0:
                            starts[c + 1] += 1
                        else:
                            edges[starts[c + 1]] = e
                            starts[c + 1] += 1
    return starts, edges
