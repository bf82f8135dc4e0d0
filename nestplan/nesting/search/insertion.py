"""Laying more, so that sets come whole: one piece after another, by inserting with overlap and separating.

What lives here: which piece is tried next, and for how long. What does not: the first answer (`draft`), one attempt
(`team`), leaving hides empty (`tidy`), the goals that call this (`goals`).

A piece is laid where it overlaps least; Separate moves all others to remove the overlap, or all is undone. What the
next set lacks comes first. Kinds that failed are tried again with more rounds; where all have failed a few times, spare
pieces that belong to no whole set are given up for one that the next set lacks.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from nestplan.nesting.arrays.layout import Layout, Spot
from nestplan.nesting.arrays.search_kernels import seek
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.construct.lay import Effort, lay
from nestplan.nesting.construct.prepared_problem import PreparedProblem, hardest_first
from nestplan.nesting.problem import Poses
from nestplan.nesting.search.parallel import Change, ParallelSearch
from nestplan.nesting.search.separation import Effort as Separation
from nestplan.nesting.search.separation import swap_large
from nestplan.nesting.set_targets import SetTargets

__all__ = ["lay_more", "put_poses"]

FIRST_ROUNDS = 2
MOST_ROUNDS = 40
LEAST_WIDE, MOST_WIDE, NEAR = 8, 400, 25
"""Poses sampled for a piece that comes in: at times few, so that it does not come in at the same place every time."""
EXCHANGES = 3
"""Failures of every kind, after which spare pieces are exchanged for what the next set lacks."""
EFFORT = Separation(wide=40, near=10, patience=100, strikes=3)


def lay_more(
    layout: Layout,
    aim: SetTargets,
    watch: SearchBudget,
    pool: ThreadPoolExecutor,
    *,
    seed: int = 0,
    better: Callable[[], None] = lambda: None,
) -> Poses:
    """The layout's poses with as many more sets, then pieces, as the watch allows; never fewer sets than before.

    The layout must be feasible. `better` is called with every improvement, which then lies in the layout.
    """
    team = ParallelSearch(layout, watch, pool, seed=seed, effort=EFFORT)
    best, best_merit = team.best, aim.merit(layout.placed())

    def note() -> None:
        nonlocal best, best_merit
        merit = aim.merit(layout.placed())
        if merit > best_merit:
            best, best_merit = team.best, merit
            better()

    _lay_again(team, seed)
    note()
    rng = np.random.default_rng([seed, 99])
    failures: Counter[int] = Counter()
    while not watch.is_spent():
        left = aim.pieces_left(layout.placed())
        if not left:
            break
        least = min(failures[int(aim.kinds[i])] for i in left)
        if least >= EXCHANGES and rng.random() < 0.5 and _exchange(team, aim, least, rng):
            note()
            continue
        if _insert(team, aim, left, failures, rng):
            note()
    layout.restore(best)
    return layout.poses()


def put_poses(layout: Layout, poses: Poses) -> None:
    """Let all items lie as poses say, each under the allowance whose demands it keeps there."""
    for item in range(layout.items):
        layout.lift(item)
    for item in range(layout.items):
        if poses.field[item] < 0:
            continue
        x, y, angle = float(poses.x[item]), float(poses.y[item]), float(poses.angle[item])
        fitting = [
            layout.spot_of(allow, x, y, angle)
            for allow, leave in zip(layout.spots(item), layout.problem.items[item].options, strict=True)
            if leave.field == poses.field[item]
            and leave.flipped == bool(poses.flipped[item])
            and leave.turns.contains(angle)
        ]
        clean = [spot for spot in fitting if layout.loss_at(item, spot, 0.0) == 0.0]
        layout.place(item, (clean or fitting)[0])


def _insert(
    team: ParallelSearch,
    aim: SetTargets,
    left: Sequence[int],
    failures: Counter[int],
    rng: np.random.Generator,
) -> bool:
    """Try one more piece: of the kinds that failed least one that the next set lacks, else any; whether it lies."""
    least = min(failures[int(aim.kinds[i])] for i in left)
    open_ones = [i for i in left if failures[int(aim.kinds[i])] == least]
    wanted = _wanted(aim, team.layout.placed())
    item = min(open_ones, key=lambda i: (int(aim.kinds[i]) not in wanted, -aim.size[i], i))
    kind = int(aim.kinds[item])
    rounds = min(FIRST_ROUNDS * (1 + least), MOST_ROUNDS)
    if team.attempt(inserted([item], shaken=least > 1 and rng.random() < 0.5), rounds):
        # All lies a little differently now, so that what found no place may find one.
        for other in failures:
            failures[other] = max(failures[other] - 1, 0)
        return True
    failures[kind] += 1
    return False


def _exchange(team: ParallelSearch, aim: SetTargets, least: int, rng: np.random.Generator) -> bool:
    """Lift spare pieces of about the area of one that a next set lacks, and try to lay that one instead."""
    placed = team.layout.placed()
    wanted = _wanted(aim, placed)
    lacking = [i for i in aim.pieces_left(placed) if int(aim.kinds[i]) in wanted]
    spares = [i for i in aim.spares(placed) if int(aim.kinds[i]) not in wanted]
    if not lacking or not spares:
        return False
    item = int(rng.choice(lacking))
    lifted: list[int] = []
    for spare in rng.permutation(spares).tolist():
        if aim.size[lifted].sum() >= aim.size[item]:
            break
        lifted.append(int(spare))
    before = team.best
    for spare in lifted:
        team.layout.lift(spare)
    team.best = team.layout.snapshot()
    if team.attempt(inserted([item]), min(FIRST_ROUNDS * (1 + least), MOST_ROUNDS)):
        return True
    team.adopt(before)
    return False


def _wanted(aim: SetTargets, placed: NDArray[np.bool_]) -> set[int]:
    """Kinds that the next set of some article lacks: of the article that lacks least area, so that it comes whole
    first."""
    targets = aim.targets(placed)
    if not targets:
        return set()
    lacking = [aim.lacking(placed, target) for target in targets]
    nearest = min(lacking, key=lambda items: float(aim.size[items].sum()))
    return {int(aim.kinds[i]) for i in nearest}


def inserted(items: Sequence[int], *, shaken: bool = False) -> Change:
    """A change that lays items where each overlaps least among poses drawn by chance; `shaken` lets two large ones
    change places before."""

    def change(layout: Layout, rng: np.random.Generator) -> bool:
        if shaken:
            swap_large(layout, rng)
        for item in items:
            tops = layout.state.tops
            wide = int(LEAST_WIDE * (MOST_WIDE / LEAST_WIDE) ** rng.random())
            place = seek(layout.shapes, layout.areas, layout.pieces, layout.state, item, wide, NEAR)
            loss, allow, x, y, angle = (float(value) for value in tops[place, :5])
            if not np.isfinite(loss):
                return False
            layout.place(item, Spot(int(allow), x, y, angle))
        return True

    return change


def _lay_again(team: ParallelSearch, seed: int) -> None:
    """Lay what still finds a place beside what lies."""
    layout = team.layout
    left = np.flatnonzero(~layout.placed()).tolist()
    if left and not team.watch.deadline_passed():
        ground = PreparedProblem.from_layout(layout)
        poses = lay(
            ground,
            order=hardest_first(ground, left),
            start=layout.poses(),
            seed=seed,
            effort=Effort.for_count(layout.items),
            pool=team.pool,
            spread=True,
            stop=lambda _: team.watch.deadline_passed(),
        )
        put_poses(layout, poses)
    team.adopt(layout.snapshot())
