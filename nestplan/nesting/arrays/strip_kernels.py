"""Kernels for strips: the free intervals of a row across a polygon, and the best stack of rows."""

from __future__ import annotations

import numpy as np

from nestplan.nesting.arrays.compile_options import ALLOCATING, FLAT
from nestplan.nesting.arrays.kernel_cache import kernel
from nestplan.nesting.arrays.sort_kernels import rising_order
from nestplan.nesting.problem import Bools, Floats, Ints

TOUCH = 1e-6
"""mm by which an edge may reach into a row, or two intervals overlap, without counting."""

NEW_EDGE_COST = 1.0 / 4096.0
"""What a new straight edge costs in strips, so that of stacks with as many strips the one with fewer edges wins."""


@kernel(**FLAT)
def blocked_interval(edges: Floats, i: int, low: float, high: float) -> tuple[bool, float, float]:
    """Whether an edge enters the row from `low` to `high`, and the x interval that it blocks there."""
    x0, y0, x1, y1 = edges[i, 0], edges[i, 1], edges[i, 2], edges[i, 3]
    if y0 > y1:
        x0, y0, x1, y1 = x1, y1, x0, y0
    if y1 <= low + TOUCH or y0 >= high - TOUCH:
        return False, 0.0, 0.0
    a, b = x0, x1
    if y1 - y0 > TOUCH:
        slope = (x1 - x0) / (y1 - y0)
        if y0 < low:
            a = x0 + slope * (low - y0)
        if y1 > high:
            b = x0 + slope * (high - y0)
    return True, min(a, b), max(a, b)


@kernel(**FLAT)
def area_holds(edges: Floats, x: float, y: float) -> bool:
    """Whether the polygon of these edges holds a point, by parity."""
    inside = False
    for i in range(edges.shape[0]):
        y0, y1 = edges[i, 1], edges[i, 3]
        if (y0 > y) != (y1 > y):
            cross = edges[i, 0] + (y - y0) * (edges[i, 2] - edges[i, 0]) / (y1 - y0)
            if cross > x:
                inside = not inside
    return inside


@kernel(**ALLOCATING)
def free_intervals(edges: Floats, low: float, high: float, out: Floats) -> int:
    """Closed x intervals whose vertical segment from `low` to `high` lies within a polygon, exactly.

    `edges (m, 4) float64, mm`: x0, y0, x1, y1 of every boundary edge, holes included; `out (k, 2)`
    receives the intervals in rising order (k at least m + 1). Returns how many there are. Between the
    projections of the edges that enter the row no boundary is crossed, so a segment there is wholly
    inside or wholly outside: one parity test tells which.
    """
    m = edges.shape[0]
    starts = np.empty(m)
    ends = np.empty(m)
    count = 0
    for i in range(m):
        enters, starts[count], ends[count] = blocked_interval(edges, i, low, high)
        count += enters
    if count == 0:
        return 0
    order = rising_order(starts[:count])
    found = 0
    reach = ends[order[0]]
    middle = 0.5 * (low + high)
    for k in range(1, count):
        start = starts[order[k]]
        if start > reach + TOUCH and area_holds(edges, 0.5 * (reach + start), middle):
            out[found, 0] = reach
            out[found, 1] = start
            found += 1
        reach = max(reach, ends[order[k]])
    return found


@kernel(**ALLOCATING)
def count_rows(
    edges: Floats, origin: float, step: float, rows: int, width: float, length: float, counts: Ints
) -> None:
    """How many strips of `length` the row starting at origin + k * step holds, for every k < rows.

    The rows rise, so each row is given only the edges (m, 4) that a sweep has reached and not yet left.
    """
    m = edges.shape[0]
    bottom = np.empty(m)
    for i in range(m):
        bottom[i] = min(edges[i, 1], edges[i, 3])
    order = rising_order(bottom)
    out = np.empty((m + 1, 2), np.float64)
    active = np.empty((m, 4), np.float64)
    held = 0
    come = 0
    for k in range(rows):
        low = origin + k * step
        while come < m and bottom[order[come]] < low + width:
            for c in range(4):
                active[held, c] = edges[order[come], c]
            held += 1
            come += 1
        kept = 0
        for i in range(held):
            if max(active[i, 1], active[i, 3]) > low:
                for c in range(4):
                    active[kept, c] = active[i, c]
                kept += 1
        held = kept
        found = free_intervals(active[:held], low, low + width, out)
        total = 0
        for i in range(found):
            total += int((out[i, 1] - out[i, 0] + 10.0 * TOUCH) / length)
        counts[k] = total


@kernel(**ALLOCATING)
def best_stack(counts: Ints, stride: int, chosen: Bools) -> int:
    """The set of rows, at least `stride` grid steps apart, that holds the most strips.

    A dynamic programme over the grid; among equal counts the stack with fewer new straight edges wins.
    Writes True for each chosen row start and returns the number of strips.
    """
    rows = counts.shape[0]
    # best[k, 0]: rows below k, the last step skipped; best[k, 1]: a row ends exactly at k.
    best = np.empty((rows + stride, 2))
    from_row = np.empty(rows + stride, np.bool_)
    for k in range(rows + stride):
        best[k, 0], best[k, 1], from_row[k] = 0.0 if k == 0 else -1e18, -1e18, False
        if k > 0:
            best[k, 0] = max(best[k - 1, 0], best[k - 1, 1])
        if k >= stride and counts[k - stride] > 0:
            before = k - stride
            fresh = best[before, 0] - NEW_EDGE_COST
            follow = best[before, 1]
            best[k, 1] = max(fresh, follow) + counts[before]
            from_row[k] = follow >= fresh
    for k in range(rows):
        chosen[k] = False
    k = rows + stride - 1
    on_row = best[k, 1] > best[k, 0]
    total = 0
    while k > 0:
        if on_row:
            chosen[k - stride] = True
            total += counts[k - stride]
            on_row = from_row[k]
            k -= stride
        else:
            k -= 1
            on_row = best[k, 1] > best[k, 0]
    return total
