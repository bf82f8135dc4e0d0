"""Kernels that build the engine's arrays once per problem: disc covers, distance grids."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from nestplan.nesting.arrays.compile_options import ALLOCATING, FLAT
from nestplan.nesting.arrays.kernel_cache import kernel
from nestplan.nesting.arrays.sort_kernels import rising_order
from nestplan.nesting.problem import Floats, Ints


class Raster(NamedTuple):
    """Nodes in rows and columns: the first one's place, the steps between them, mm, and how many there are."""

    left: float
    bottom: float
    step_x: float
    step_y: float
    columns: int
    rows: int


FINEST_STEP = 0.001
"""To which share of a raster step the middle of an inscribed disc is refined."""

FIRST_OVER_LEAST = 15.0
"""How many times as large as the least inscribed disc the first may be."""

LARGE, MIDDLE, SMALL = 64, 16, 4
"""Nodes along the sides of blocks within blocks, each of which looks only at edges that can be nearest to one of its
nodes; of those its parent looks at."""


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


@kernel(**FLAT)
def free_radius(ring: Floats, discs: Floats, count: int, px: float, py: float) -> float:
    """Largest disc at a point that stays in the ring and clear of the first `count` discs."""
    d = inner_clearance(ring, px, py)
    for k in range(count):
        d = min(d, math.sqrt((px - discs[k, 0]) ** 2 + (py - discs[k, 1]) ** 2) - discs[k, 2])
    return d


@kernel(**FLAT)
def ring_area(ring: Floats) -> float:
    """Area that a ring `(n, 2)` encloses."""
    n = ring.shape[0]
    area = 0.0
    for k in range(n):
        m = (k + 1) % n
        area += 0.5 * (ring[k, 0] * ring[m, 1] - ring[m, 0] * ring[k, 1])
    return abs(area)


@kernel(**FLAT)
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


@kernel(**FLAT)
def most_free(free: Floats, left: float, bottom: float, step_x: float, step_y: float) -> tuple[float, float]:
    """The point of a raster (its cells' middles) with the highest value, the first of equals; the origin where all are
    below -1 mm."""
    best = -1.0
    x = y = 0.0
    for i in range(free.shape[1]):
        for j in range(free.shape[0]):
            if free[j, i] > best:
                best = free[j, i]
                x = left + (i + 0.5) * step_x
                y = bottom + (j + 0.5) * step_y
    return x, y


@kernel(**FLAT)
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


@kernel(**FLAT)
def distance_to_edge(edges: Floats, e: int, x: float, y: float) -> float:
    """Distance of a point to one of the edges (m, 4)."""
    return segment_distance(x, y, edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3])


@kernel(**FLAT)
def list_near_edges(
    edges: Floats, among: Ints, x: float, y: float, within: float, distances: Floats, near: Ints
) -> int:
    """Write the numbers of those edges `among` some that are at most `within` mm further from a point than the nearest
    into `near`; how many. `distances (m,)` is for use meanwhile."""
    best = 1e300
    for k in range(among.shape[0]):
        distances[k] = distance_to_edge(edges, among[k], x, y)
        best = min(best, distances[k])
    kept = 0
    for k in range(among.shape[0]):
        if distances[k] <= best + within:
            near[kept] = among[k]
            kept += 1
    return kept


@kernel(**ALLOCATING)
def fill_distances(edges: Floats, raster: Raster, out: Floats) -> None:
    """Fill `out (rows, columns)` with the distances of a raster's nodes to the nearest edge, not signed."""
    every = np.arange(edges.shape[0])
    distances = np.empty(edges.shape[0])
    large, middle, small = np.empty_like(every), np.empty_like(every), np.empty_like(every)
    for j0 in range(0, raster.rows, LARGE):
        for i0 in range(0, raster.columns, LARGE):
            in_large = large[: near_block(edges, every, raster, i0, j0, LARGE, distances, large)]
            for j1 in range(j0, min(j0 + LARGE, raster.rows), MIDDLE):
                for i1 in range(i0, min(i0 + LARGE, raster.columns), MIDDLE):
                    count = near_block(edges, in_large, raster, i1, j1, MIDDLE, distances, middle)
                    fill_middle_block(edges, middle[:count], raster, i1, j1, distances, small, out)


@kernel(**FLAT)
def near_block(
    edges: Floats, among: Ints, raster: Raster, i: int, j: int, side: int, distances: Floats, near: Ints
) -> int:
    """Write those edges `among` some that can be nearest to a node of the block of `side` × `side` nodes that begins at
    column i and row j into `near`; how many. `distances (m,)` is for use meanwhile."""
    half = 0.5 * (side - 1)
    reach = 1.01 * half * math.sqrt(raster.step_x**2 + raster.step_y**2)
    x = raster.left + (i + half) * raster.step_x
    y = raster.bottom + (j + half) * raster.step_y
    return list_near_edges(edges, among, x, y, 2.0 * reach, distances, near)


@kernel(**ALLOCATING)
def fill_middle_block(
    edges: Floats, among: Ints, raster: Raster, i0: int, j0: int, distances: Floats, small: Ints, out: Floats
) -> None:
    """Fill one block of MIDDLE × MIDDLE nodes of `fill_distances`."""
    for j1 in range(j0, min(j0 + MIDDLE, raster.rows), SMALL):
        for i1 in range(i0, min(i0 + MIDDLE, raster.columns), SMALL):
            kept = small[: near_block(edges, among, raster, i1, j1, SMALL, distances, small)]
            for j in range(j1, min(j1 + SMALL, raster.rows)):
                for i in range(i1, min(i1 + SMALL, raster.columns)):
                    x, y = raster.left + i * raster.step_x, raster.bottom + j * raster.step_y
                    out[j, i] = nearest_of(edges, kept, x, y)


@kernel(**FLAT)
def nearest_of(edges: Floats, kept: Ints, x: float, y: float) -> float:
    """Distance of a point to the nearest of the edges whose numbers are kept."""
    least = 1e300
    for e in kept:
        least = min(least, distance_to_edge(edges, e, x, y))
    return least


@kernel(**ALLOCATING)
def signed_distances(edges: Floats, raster: Raster) -> Floats:
    """Signed distances `(rows, columns)` at a raster's nodes to the edges (m, 4) of an area, positive inside, exact.

    The sign comes from a scan by rows.
    """
    out = np.empty((raster.rows, raster.columns))
    fill_distances(edges, raster, out)
    cuts = np.empty(edges.shape[0])
    for j in range(raster.rows):
        y = raster.bottom + j * raster.step_y
        found = 0
        for e in range(edges.shape[0]):
            ax, ay, bx, by = edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3]
            if (ay > y) != (by > y):
                cuts[found] = (bx - ax) * (y - ay) / (by - ay) + ax
                found += 1
        negate_outside(cuts[:found], raster, out[j])
    return out


@kernel(**ALLOCATING)
def negate_outside(cuts: Floats, raster: Raster, distances: Floats) -> None:
    """Change the sign of a row of distances at nodes outside an area whose edge crosses the row at `cuts`."""
    order = rising_order(cuts)
    passed = 0
    for i in range(raster.columns):
        x = raster.left + i * raster.step_x
        while passed < cuts.shape[0] and cuts[order[passed]] <= x:
            passed += 1
        if passed % 2 == 0:
            distances[i] = -distances[i]


@kernel(**ALLOCATING)
def inscribed_discs(ring: Floats, most: int, least_share: float, side: int) -> Floats:
    """Discs `(m, 3)` (x, y, radius) inside a ring, each the largest clear of those before, at most `most`.

    Ends early when the discs cover `least_share` of the ring's area, or when the next would be too small beside
    the first. Centres are sought on a raster of `side` × `side` points and refined.
    """
    x0, y0, x1, y1 = extent_of(ring)
    step_x = (x1 - x0) / side
    step_y = (y1 - y0) / side
    edges = np.empty((ring.shape[0], 4))
    for k in range(ring.shape[0]):
        after = k + 1 if k + 1 < ring.shape[0] else 0
        for m in range(2):
            edges[k, m] = ring[k, m]
            edges[k, 2 + m] = ring[after, m]
    free = signed_distances(edges, Raster(x0 + 0.5 * step_x, y0 + 0.5 * step_y, step_x, step_y, side, side))
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
                free[j, i] = min(free[j, i], math.sqrt((px - x) ** 2 + (py - y) ** 2) - radius)
    return discs
