"""Kernels that tabulate a pair of turned shapes over all their offsets, so that the search can look losses up.

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

from nestplan.nesting.arrays.compile_options import FLAT
from nestplan.nesting.arrays.kernel_cache import kernel
from nestplan.nesting.arrays.overlap_kernels import disc_overlap, rings_overlap
from nestplan.nesting.arrays.records import Grid, PairTables, TurnedShapes
from nestplan.nesting.problem import Bytes, Singles

APART, HIT, ASK = 0, 1, 2
"""Verdicts on a cell of a table."""

COARSE = 2
"""Cells from one node to the next along a side. Losses are smooth, verdicts are not; small tables stay in the cache."""

REACH_OF_CELL = 0.708
"""From the middle of a cell to its furthest corner, as a share of its side; a little over half the root of two."""


@kernel(**FLAT, forceinline=True)
def nodes_along(cells: int) -> int:
    """Nodes along a side of so many cells."""
    return (cells + COARSE - 1) // COARSE + 1


@kernel(**FLAT)
def mark_segment(verdict: Bytes, grid: Grid, ax: float, ay: float, bx: float, by: float) -> None:
    """Set every cell that the segment ab passes to ASK, with a margin of a ten-thousandth of a cell."""
    margin = 1e-4
    px = (ax - grid.left) / grid.cell
    py = (ay - grid.bottom) / grid.cell
    qx = (bx - grid.left) / grid.cell
    qy = (by - grid.bottom) / grid.cell
    if py > qy:
        px, py, qx, qy = qx, qy, px, py
    low = max(0, math.floor(py - margin))
    high = min(grid.rows - 1, math.floor(qy + margin))
    for j in range(low, high + 1):
        start = 0.0
        end = 1.0
        if qy - py > 1e-12:
            start = min(1.0, max(0.0, (j - margin - py) / (qy - py)))
            end = min(1.0, max(0.0, (j + 1.0 + margin - py) / (qy - py)))
        u0 = px + start * (qx - px)
        u1 = px + end * (qx - px)
        first = max(0, math.floor(min(u0, u1) - margin))
        last = min(grid.columns - 1, math.floor(max(u0, u1) + margin))
        for i in range(first, last + 1):
            verdict[j * grid.columns + i] = ASK


@kernel(**FLAT)
def deepest_penetration(rows: TurnedShapes, first: int, second: int, dx: float, dy: float) -> float:
    """Deepest penetration (mm) of any two discs of two rows, the first at (dx, dy)."""
    deepest = -math.inf
    for p in range(rows.disc_count[first]):
        for q in range(rows.disc_count[second]):
            ex = rows.disc_x[first, p] + dx - rows.disc_x[second, q]
            ey = rows.disc_y[first, p] + dy - rows.disc_y[second, q]
            reach = rows.disc_radius[first, p] + rows.disc_radius[second, q]
            deepest = max(deepest, reach - math.sqrt(ex * ex + ey * ey))
    return deepest


@kernel(**FLAT)
def mark_contacts(rows: TurnedShapes, first: int, second: int, grid: Grid, verdict: Bytes) -> None:
    """Set every cell to ASK in which a corner of one ring touches an edge of the other."""
    for i in range(rows.corner_count[first]):
        after = i + 1 if i + 1 < rows.corner_count[first] else 0
        ax = rows.corner_x[first, i]
        ay = rows.corner_y[first, i]
        bx = rows.corner_x[first, after]
        by = rows.corner_y[first, after]
        for k in range(rows.corner_count[second]):
            after = k + 1 if k + 1 < rows.corner_count[second] else 0
            cx = rows.corner_x[second, k]
            cy = rows.corner_y[second, k]
            dx = rows.corner_x[second, after]
            dy = rows.corner_y[second, after]
            mark_segment(verdict, grid, cx - ax, cy - ay, dx - ax, dy - ay)
            mark_segment(verdict, grid, cx - ax, cy - ay, cx - bx, cy - by)


@kernel(**FLAT)
def fill_table(
    rows: TurnedShapes,
    first: int,
    second: int,
    grid: Grid,
    tail: float,
    scale: float,
    loss: Singles,
    verdict: Bytes,
) -> None:
    """Fill the table of two turned shapes, the first at offsets from the second.

    `grid` is that of the offsets; `tail` and `scale` (mm) those of the pair's loss. `loss (nodes,)` and
    `verdict (cells,)` take the table.
    """
    wide = nodes_along(grid.columns)
    for j in range(nodes_along(grid.rows)):
        for i in range(wide):
            dx = np.float32(grid.left + i * COARSE * grid.cell)
            dy = np.float32(grid.bottom + j * COARSE * grid.cell)
            depth = disc_overlap(rows, first, second, dx, dy, np.float32(tail))[0]
            loss[j * wide + i] = math.sqrt(depth) * scale
    for c in range(grid.columns * grid.rows):
        verdict[c] = APART
    mark_contacts(rows, first, second, grid, verdict)
    deep = REACH_OF_CELL * grid.cell + 0.001
    for j in range(grid.rows):
        before = -1
        for i in range(grid.columns):
            at = j * grid.columns + i
            x = grid.left + (i + 0.5) * grid.cell
            y = grid.bottom + (j + 0.5) * grid.cell
            if verdict[at] == ASK:
                before = -1
                if deepest_penetration(rows, first, second, x, y) > deep:
                    verdict[at] = HIT
            else:
                if before < 0:
                    before = HIT if rings_overlap(rows, first, rows, second, x, y) else APART
                verdict[at] = before


@kernel(**FLAT, forceinline=True)
def look_up(tables: PairTables, table: int, dx: float, dy: float) -> tuple[int, float]:
    """Verdict and loss of a pair at an offset in a table's own frame; the loss is 0 when APART."""
    u = (dx - tables.left[table]) * tables.cells_per_mm[table]
    v = (dy - tables.bottom[table]) * tables.cells_per_mm[table]
    columns = tables.columns[table]
    if u <= 0.0 or v <= 0.0:
        return APART, 0.0
    i = int(u)
    j = int(v)
    if i >= columns or j >= tables.rows[table]:
        return APART, 0.0
    verdict = tables.verdict[tables.cell_start[table] + j * columns + i]
    if verdict == APART:
        return APART, 0.0
    u *= 1.0 / COARSE
    v *= 1.0 / COARSE
    i = int(u)
    j = int(v)
    fx = u - i
    fy = v - j
    wide = nodes_along(columns)
    at = tables.node_start[table] + j * wide + i
    low = tables.loss[at] * (1.0 - fx) + tables.loss[at + 1] * fx
    at += wide
    high = tables.loss[at] * (1.0 - fx) + tables.loss[at + 1] * fx
    return int(verdict), low * (1.0 - fy) + high * fy
