"""Kernels that build the engine's arrays once per problem: disc covers, distance grids, edge bins."""

from __future__ import annotations

import math

import numpy as np

from nestplan.nesting.arrays.compile_options import ALLOCATING, FLAT, INNER
from nestplan.nesting.arrays.kernel_cache import kernel
from nestplan.nesting.arrays.records import Grid
from nestplan.nesting.arrays.sort_kernels import rising_order
from nestplan.nesting.problem import Floats, Ints

FINEST_STEP = 0.001
"""To which share of a raster step the middle of an inscribed disc is refined."""

FIRST_OVER_LEAST = 15.0
"""How many times as large as the least inscribed disc the first may be."""

BLOCK = 8
"""Grid nodes along a side of a block that looks at the same edges."""


@kernel(**FLAT)
def segment_distance(px: float, py: float, ax: float, ay: float, bx: float, by: float) -> float:
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


@kernel(**FLAT)
def inner_clearance(ring: Floats, px: float, py: float) -> float:
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


@kernel(**INNER)
def free_radius(ring: Floats, discs: Floats, count: int, px: float, py: float) -> float:
    """Largest disc at a point that stays in the ring and clear of the first `count` discs."""
    d = inner_clearance(ring, px, py)
    for k in range(count):
        d = min(d, math.sqrt((px - discs[k, 0]) ** 2 + (py - discs[k, 1]) ** 2) - discs[k, 2])
    return d


@kernel(**INNER)
def ring_area(ring: Floats) -> float:
    """Area that a ring `(n, 2)` encloses."""
    n = ring.shape[0]
    area = 0.0
    for k in range(n):
        m = (k + 1) % n
        area += 0.5 * (ring[k, 0] * ring[m, 1] - ring[m, 0] * ring[k, 1])
    return abs(area)


@kernel(**INNER)
def extent_of(ring: Floats) -> tuple[float, float, float, float]:
    """The box of a ring `(n, 2)`: left, bottom, right, top."""
    x0 = x1 = ring[0, 0]
    y0 = y1 = ring[0, 1]
    for k in range(ring.shape[0]):
        x0 = min(x0, ring[k, 0])
        x1 = max(x1, ring[k, 0])
        y0 = min(y0, ring[k, 1])
        y1 = max(y1, ring[k, 1])
    return x0, y0, x1, y1


@kernel(**INNER)
def most_free(free: Floats, left: float, bottom: float, step_x: float, step_y: float) -> tuple[float, float]:
    """The point of a raster (its cells' middles) with the highest value, the first of equals; the origin where all are
    below -1 mm."""
    best = -1.0
    x = y = 0.0
    for i in range(free.shape[0]):
        for j in range(free.shape[1]):
            if free[i, j] > best:
                best = free[i, j]
                x = left + (i + 0.5) * step_x
                y = bottom + (j + 0.5) * step_y
    return x, y


@kernel(**INNER)
def refined_disc(
    ring: Floats, discs: Floats, count: int, x: float, y: float, step: float
) -> tuple[float, float, float]:
    """The middle and radius of the largest disc near a point that is clear of the first `count` discs: a pattern search
    from `step` (mm) down to `FINEST_STEP` of it."""
    best = free_radius(ring, discs, count, x, y)
    least = FINEST_STEP * step
    while step > least:
        moved = False
        for way in range(8):
            tx = x + step * math.cos(way * math.pi / 4.0)
            ty = y + step * math.sin(way * math.pi / 4.0)
            value = free_radius(ring, discs, count, tx, ty)
            if value > best:
                best = value
                x = tx
                y = ty
                moved = True
        if not moved:
            step *= 0.5
    return x, y, best


@kernel(**ALLOCATING)
def inscribed_discs(ring: Floats, most: int, least_share: float, side: int) -> Floats:
    """Discs `(m, 3)` (x, y, radius) inside a ring, each the largest clear of those before, at most `most`.

    Ends early when the discs cover `least_share` of the ring's area, or when the next would be too small beside
    the first. Centres are sought on a raster of `side` × `side` points and refined.
    """
    x0, y0, x1, y1 = extent_of(ring)
    step_x = (x1 - x0) / side
    step_y = (y1 - y0) / side
    free = np.empty((side, side))
    for i in range(side):
        for j in range(side):
            free[i, j] = inner_clearance(ring, x0 + (i + 0.5) * step_x, y0 + (j + 0.5) * step_y)
    enough = least_share * ring_area(ring)
    discs = np.zeros((most, 3))
    covered = 0.0
    for count in range(most):
        x, y = most_free(free, x0, y0, step_x, step_y)
        x, y, radius = refined_disc(ring, discs, count, x, y, max(step_x, step_y))
        if radius <= 0.0 or (count > 0 and radius < discs[0, 2] / FIRST_OVER_LEAST):
            return discs[:count]
        discs[count, 0] = x
        discs[count, 1] = y
        discs[count, 2] = radius
        covered += math.pi * radius * radius
        if covered >= enough:
            return discs[: count + 1]
        for i in range(side):
            for j in range(side):
                px = x0 + (i + 0.5) * step_x
                py = y0 + (j + 0.5) * step_y
                free[i, j] = min(free[i, j], math.sqrt((px - x) ** 2 + (py - y) ** 2) - radius)
    return discs


@kernel(**INNER)
def distance_to_edge(edges: Floats, e: int, x: float, y: float) -> float:
    """Distance of a point to one of the edges (m, 4)."""
    return segment_distance(x, y, edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3])


@kernel(**INNER)
def list_near_edges(edges: Floats, x: float, y: float, within: float, distances: Floats, near: Ints) -> int:
    """Write the numbers of the edges that are at most `within` mm further from a point than the nearest into `near`;
    how many. `distances (m,)` is for use meanwhile."""
    count = edges.shape[0]
    best = 1e300
    for e in range(count):
        distances[e] = distance_to_edge(edges, e, x, y)
        best = min(best, distances[e])
    kept = 0
    for e in range(count):
        if distances[e] <= best + within:
            near[kept] = e
            kept += 1
    return kept


@kernel(**ALLOCATING)
def fill_distances(edges: Floats, grid: Grid, out: Floats) -> None:
    """Fill `out (rows + 1, columns + 1)` with the distances of a grid's nodes to the nearest edge, not signed."""
    reach = grid.cell * BLOCK * 0.71
    near = np.empty(edges.shape[0], np.int64)
    distances = np.empty(edges.shape[0])
    for j0 in range(0, grid.rows + 1, BLOCK):
        for i0 in range(0, grid.columns + 1, BLOCK):
            x = grid.left + (i0 + 0.5 * (BLOCK - 1)) * grid.cell
            y = grid.bottom + (j0 + 0.5 * (BLOCK - 1)) * grid.cell
            kept = near[: list_near_edges(edges, x, y, 2.0 * reach, distances, near)]
            for j in range(j0, min(j0 + BLOCK, grid.rows + 1)):
                for i in range(i0, min(i0 + BLOCK, grid.columns + 1)):
                    out[j, i] = nearest_of(
                        edges, kept, grid.left + i * grid.cell, grid.bottom + j * grid.cell
                    )


@kernel(**INNER)
def nearest_of(edges: Floats, kept: Ints, x: float, y: float) -> float:
    """Distance of a point to the nearest of the edges whose numbers are kept."""
    least = 1e300
    for e in kept:
        least = min(least, distance_to_edge(edges, e, x, y))
    return least


@kernel(**ALLOCATING)
def signed_distances(edges: Floats, grid: Grid) -> Floats:
    """Signed distances `(rows + 1, columns + 1)` at a grid's nodes to the edges (m, 4) of an area, positive inside,
    exact.

    Blocks of nodes keep only the edges that can be nearest to one of them; the sign comes from a scan by rows.
    """
    out = np.empty((grid.rows + 1, grid.columns + 1))
    fill_distances(edges, grid, out)
    cuts = np.empty(edges.shape[0])
    for j in range(grid.rows + 1):
        y = grid.bottom + j * grid.cell
        found = 0
        for e in range(edges.shape[0]):
            ax, ay, bx, by = edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3]
            if (ay > y) != (by > y):
                cuts[found] = (bx - ax) * (y - ay) / (by - ay) + ax
                found += 1
        negate_outside(cuts[:found], grid, out[j])
    return out


@kernel(**ALLOCATING)
def negate_outside(cuts: Floats, grid: Grid, distances: Floats) -> None:
    """Change the sign of a row of distances at nodes outside an area whose edge crosses the row at `cuts`."""
    order = rising_order(cuts)
    passed = 0
    for i in range(grid.columns + 1):
        x = grid.left + i * grid.cell
        while passed < cuts.shape[0] and cuts[order[passed]] <= x:
            passed += 1
        if passed % 2 == 0:
            distances[i] = -distances[i]


@kernel(**INNER)
def near_cell(edges: Floats, e: int, grid: Grid, i: int, j: int) -> bool:
    """Whether an edge comes near a cell of a grid: within 0.71 of its side of the middle."""
    x = grid.left + (i + 0.5) * grid.cell
    y = grid.bottom + (j + 0.5) * grid.cell
    return distance_to_edge(edges, e, x, y) <= 0.7072 * grid.cell


@kernel(**INNER)
def cells_of_edge(edges: Floats, e: int, grid: Grid) -> tuple[int, int, int, int]:
    """The range of a grid's cells that the box of an edge touches: first and last column, first and last row."""
    ax, ay, bx, by = edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3]
    i0 = max(math.floor((min(ax, bx) - grid.left) / grid.cell - 1e-9), 0)
    i1 = min(math.floor((max(ax, bx) - grid.left) / grid.cell + 1e-9), grid.columns - 1)
    j0 = max(math.floor((min(ay, by) - grid.bottom) / grid.cell - 1e-9), 0)
    j1 = min(math.floor((max(ay, by) - grid.bottom) / grid.cell + 1e-9), grid.rows - 1)
    return i0, i1, j0, j1


@kernel(**ALLOCATING)
def bin_edges(edges: Floats, grid: Grid) -> tuple[Ints, Ints]:
    """Edges (m, 4) by grid cell in compressed rows: `starts (columns * rows + 1,)`, `numbers (k,)`; an edge is put in
    every cell of its bounding box that it comes near."""
    starts = np.zeros(grid.columns * grid.rows + 1, np.int64)
    for e in range(edges.shape[0]):
        i0, i1, j0, j1 = cells_of_edge(edges, e, grid)
        for j in range(j0, j1 + 1):
            for i in range(i0, i1 + 1):
                if near_cell(edges, e, grid, i, j):
                    starts[j * grid.columns + i + 1] += 1
    for cell in range(grid.columns * grid.rows):
        starts[cell + 1] += starts[cell]
    numbers = np.empty(starts[-1], np.int64)
    filled = starts[:-1].copy()
    for e in range(edges.shape[0]):
        i0, i1, j0, j1 = cells_of_edge(edges, e, grid)
        for j in range(j0, j1 + 1):
            for i in range(i0, i1 + 1):
                if near_cell(edges, e, grid, i, j):
                    cell = j * grid.columns + i
                    numbers[filled[cell]] = e
                    filled[cell] += 1
    return starts, numbers
