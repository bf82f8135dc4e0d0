"""Tidying a layout in which all lies: hides left empty, and what is used drawn to one side.

What lives here: which hide to empty, which side to gather toward. What does not: one attempt (`team`), how a field
is gathered (`gather`), what an offcut is (`nestplan.yields`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.geometry.inscribed import opening
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.search.gather import Side, gather
from nestplan.nesting.search.insertion import inserted
from nestplan.nesting.search.parallel import ParallelSearch

__all__ = ["empty_fields", "gather_fields", "largest_offcut"]

CLOSED = -1e7
"""A limit (mm) beyond which every place of a field lies."""
FULL = 0.85
"""Share of free area above which it is not worth trying to move a hide's pieces to the others."""
EMPTY_ROUNDS = 30
SCOUT = 0.3
"""Share of the budget for finding out which side leaves most."""


def empty_fields(
    layout: Layout,
    costs: Sequence[float],
    watch: SearchBudget,
    pool: ThreadPoolExecutor,
    *,
    seed: int = 0,
    better: Callable[[], None] = lambda: None,
) -> None:
    """Move all items off as many fields as can be, dear and nearly empty ones first, keeping every item laid.

    `costs (F,)` is what using a field costs. Fields with something fixed on them are in use anyhow. The layout must
    be feasible; it stays so.
    """
    team = ParallelSearch(layout, watch, pool, seed=seed)
    sizes = np.array([shapely.Polygon(item.ring).area for item in layout.problem.items])
    fixed = {index for index, _ in layout.problem.fixed}
    tried: set[tuple[int, int]] = set()
    while not watch.is_spent():
        on = layout.state.field[: layout.items]
        used = {f: float(sizes[on == f].sum()) for f in sorted(set(on[on >= 0].tolist()))}
        options = [f for f in used if f not in fixed and (f, len(used)) not in tried]
        room = sum(layout.problem.fields[f].area * FULL - used[f] for f in used)
        options = [f for f in options if used[f] <= room - (layout.problem.fields[f].area * FULL - used[f])]
        if not options or len(used) < 2:
            return
        field = min(options, key=lambda f: (used[f] / max(costs[f], 1e-9), f))
        tried.add((field, len(used)))
        closed = [f for f in range(len(layout.problem.fields)) if f not in used or f == field]
        if _moved_off(team, field, closed, sizes):
            better()


def _moved_off(team: ParallelSearch, field: int, closed: Sequence[int], size: NDArray[np.float64]) -> bool:
    """Try to lay what lies on a field on the fields that are not closed."""
    layouts = (team.layout, *team.members)
    before = team.best
    moving = np.flatnonzero(team.layout.state.field[: team.layout.items] == field).tolist()
    for item in moving:
        team.layout.lift(item)
    team.best = team.layout.snapshot()
    for each in layouts:
        for f in closed:
            each.state.limit[f] = (1.0, 0.0, CLOSED)
    order = sorted(moving, key=lambda item: -size[item])
    done = all(team.attempt(inserted([item]), EMPTY_ROUNDS) for item in order)
    for each in layouts:
        each.state.limit[:] = (0.0, 0.0, math.inf)
    if not done:
        team.adopt(before)
    return done


def gather_fields(
    layout: Layout,
    sides: Sequence[Sequence[tuple[float, float]]],
    useful_width: float,
    watch: SearchBudget,
    *,
    seed: int = 0,
    workers: int = 2,
    better: Callable[[], None] = lambda: None,
) -> None:
    """Draw what lies on each used field to the side, among `sides[field]`, that leaves the largest useful offcut.

    Sides are unit normals: items come to lie low along them. Each side of each field is scouted for a share of the
    budget, each from the poses given, then the best of each field is gathered on. The layout must be feasible; it
    stays so, and no field's largest offcut gets smaller.
    """
    on = layout.state.field[: layout.items]
    fields = sorted(set(on[on >= 0].tolist()))
    tasks = [(f, normal) for f in fields for normal in sides[f]]
    start = layout.snapshot()
    best = {f: (largest_offcut(layout, f, useful_width), start) for f in fields}
    scouting = SCOUT if any(len(sides[f]) > 1 for f in fields) else 0.0
    begun = watch.fraction_used()
    results: dict[int, list[tuple[float, tuple[float, float]]]] = {f: [] for f in fields}

    def run(field: int, normal: tuple[float, float], until: float) -> None:
        began = watch.fraction_used()
        first = watch.progress.passes

        def share(rounds: int) -> float:
            while watch.progress.passes < first + rounds:
                watch.count_pass()
            if watch.is_spent():
                return 1.0
            return min((watch.fraction_used() - began) / max(until - began, 1e-9), 1.0)

        gather(
            layout,
            Side(field, normal),
            share=share,
            stop=lambda _: watch.deadline_passed(),
            seed=seed,
            workers=workers,
        )
        offcut = largest_offcut(layout, field, useful_width)
        results[field].append((offcut, normal))
        if offcut > best[field][0]:
            best[field] = (offcut, layout.snapshot())
            better()
        layout.restore(best[field][1])

    for field in fields:
        best[field] = (best[field][0], layout.snapshot())
        origin = best[field][1]
        mine = [task for task in tasks if task[0] == field]
        place = fields.index(field)
        span = (1.0 - begun) / len(fields)
        low = begun + place * span
        if scouting:
            for k, (_, normal) in enumerate(mine):
                layout.restore(origin)
                run(field, normal, low + span * scouting * (k + 1) / len(mine))
        if watch.is_spent():
            return
        normal = max(results[field], key=lambda r: r[0])[1] if results[field] else mine[0][1]
        run(field, normal, low + span)


def largest_offcut(layout: Layout, field: int, useful_width: float) -> float:
    """Area of the largest connected part of a field that is left, opened by the useful width, mm²."""
    poses = layout.poses()
    here = np.flatnonzero(poses.field == field).tolist()
    rings = [shapely.Polygon(poses.ring_of(layout.problem.items[item], item)) for item in here]
    rings += [shapely.Polygon(ring) for index, ring in layout.problem.fixed if index == field]
    left = layout.problem.fields[field].difference(shapely.union_all(rings))
    return max((float(part.area) for part in opening(left, useful_width).geoms), default=0.0)
