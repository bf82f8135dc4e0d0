"""Inserting more pieces, so that sets come whole: one after another, with overlap that Separate removes.

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

from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.construct.lay import LayEffort, lay
from nestplan.nesting.construct.prepared_problem import PreparedProblem, hardest_first
from nestplan.nesting.problem import Poses
from nestplan.nesting.search.ejection import EjectionRun, EjectionStart, with_pool
from nestplan.nesting.search.parallel import SEARCHES, LayoutChange, ParallelSearch, advance_together
from nestplan.nesting.search.separation import SeparationEffort, place_where_best, swap_large
from nestplan.nesting.set_targets import SetTargets

__all__ = ["insert_by_chains", "insert_more", "inserting", "place_poses"]

FIRST_ROUNDS = 2
MOST_ROUNDS = 40
"""Rounds given to a kind at first, and at most after it has failed."""

LEAST_ANYWHERE, MOST_ANYWHERE, NEARBY = 8, 400, 25
"""Poses drawn for a piece that comes in: at times few, so that it does not come in at the same place every time."""

FAILURES_BEFORE_EXCHANGE = 3
"""Failures of every kind, after which spare pieces are exchanged for what the next set lacks."""

MOST_GROWTH = 1.6
"""Area of a piece against that of the spare one whose place it is to take, at most."""

EXCHANGE_ROUNDS = 6
"""Rounds given to a larger piece in a spare one's place, at most."""

EFFORT = SeparationEffort(anywhere=40, nearby=10, passes_without_gain=100, stalls=3)


def insert_more(
    layout: Layout,
    targets: SetTargets,
    budget: SearchBudget,
    pool: ThreadPoolExecutor,
    *,
    seed: int = 0,
    on_improved: Callable[[], None] = lambda: None,
) -> Poses:
    """The layout's poses with as many more sets, then pieces, as the budget allows; never fewer sets than before.

    The layout must be feasible. `on_improved` is called with every improvement, which then lies in the layout.
    """
    search = ParallelSearch(layout, budget, pool, seed=seed, effort=EFFORT)
    best, best_merit = search.best, targets.merit(layout.placed())

    def keep_if_better() -> None:
        nonlocal best, best_merit
        merit = targets.merit(layout.placed())
        if merit > best_merit:
            best, best_merit = search.best, merit
            on_improved()

    _lay_in_gaps(search, seed)
    keep_if_better()
    rng = np.random.default_rng([seed, 99])
    failures: Counter[int] = Counter()
    while not budget.is_spent():
        left = targets.pieces_left(layout.placed())
        if not left:
            break
        least = min(failures[int(targets.kinds[i])] for i in left)
        if (
            least >= FAILURES_BEFORE_EXCHANGE
            and rng.random() < 0.5
            and _exchange(search, targets, least, rng)
        ):
            keep_if_better()
            continue
        if least > 0 and rng.random() < 0.5 and _exchange_for_larger(search, targets, left, least, rng):
            keep_if_better()
            continue
        if _insert_next(search, targets, left, failures, rng):
            keep_if_better()
    layout.restore(best)
    return layout.poses()


def insert_by_chains(
    layout: Layout,
    targets: SetTargets,
    budget: SearchBudget,
    pool: ThreadPoolExecutor,
    until: float,
    *,
    seed: int = 0,
    on_improved: Callable[[], None] = lambda: None,
) -> None:
    """Place what the sets still lack by chains of moves over all fields, until that share of the budget is used up.

    Goes from set to set, that first which lacks least area; what came nearest to a whole set stays. The layout must be
    feasible; it stays so. `on_improved` as in `insert_more`.
    """
    with_pool(layout, pool, seed=seed, stop=budget.deadline_passed)
    every = np.ones(len(layout.problem.fields), bool)
    turn = 0
    while not budget.is_spent() and budget.fraction_used() < until:
        lacking = _lacking_least(targets, layout.placed())
        if not lacking:
            return
        start = EjectionStart(layout.snapshot(), lacking, every, targets.size)
        runs = [
            EjectionRun(layout.copy(seed=seed * 1000 + k), start, seed=(seed, turn, k), number=k)
            for k in range(SEARCHES)
        ]
        turn += 1
        least = float(targets.size[lacking].sum())
        while not budget.is_spent() and budget.fraction_used() < until:
            succeeded = advance_together(runs, budget, pool)
            budget.count_pass()
            nearest = min(runs, key=lambda run: run.least_waiting)
            if nearest.least_waiting < least:
                least = nearest.least_waiting
                layout.restore(nearest.best)
                on_improved()
            if any(succeeded):
                break


def place_poses(layout: Layout, poses: Poses, items: Sequence[int] | None = None) -> None:
    """Let all items, or those given, lie as poses say, each under the option whose areas hold it there."""
    items = range(layout.item_count) if items is None else items
    for item in items:
        layout.lift(item)
    for item in items:
        if poses.field[item] < 0:
            continue
        x, y, angle = float(poses.x[item]), float(poses.y[item]), float(poses.angle[item])
        fitting = [
            layout.shape_pose(number, x, y, angle)
            for number, option in zip(
                layout.options_of(item), layout.problem.items[item].options, strict=True
            )
            if option.field == poses.field[item]
            and option.flipped == bool(poses.flipped[item])
            and option.turns.contains(angle)
        ]
        clean = [pose for pose in fitting if layout.loss_at(item, pose, 0.0) == 0.0]
        layout.place(item, (clean or fitting)[0])


def _insert_next(
    search: ParallelSearch,
    targets: SetTargets,
    left: Sequence[int],
    failures: Counter[int],
    rng: np.random.Generator,
) -> bool:
    """Try one more piece: of the kinds that failed least one that the next set lacks, else any; whether it lies."""
    least = min(failures[int(targets.kinds[i])] for i in left)
    fewest_failures = [i for i in left if failures[int(targets.kinds[i])] == least]
    lacking = _kinds_lacking(targets, search.layout.placed())
    item = min(fewest_failures, key=lambda i: (int(targets.kinds[i]) not in lacking, -targets.size[i], i))
    rounds = min(FIRST_ROUNDS * (1 + least), MOST_ROUNDS)
    if search.attempt(inserting([item], swap_first=least > 1 and rng.random() < 0.5), rounds):
        # All lies a little differently now, so that what found no place may find one.
        for other in failures:
            failures[other] = max(failures[other] - 1, 0)
        return True
    failures[int(targets.kinds[item])] += 1
    return False


def _exchange(search: ParallelSearch, targets: SetTargets, least: int, rng: np.random.Generator) -> bool:
    """Lift spare pieces of about the area of one that a next set lacks, and try to lay that one instead."""
    placed = search.layout.placed()
    kinds = _kinds_lacking(targets, placed)
    lacking = [i for i in targets.pieces_left(placed) if int(targets.kinds[i]) in kinds]
    spares = [i for i in targets.spares(placed) if int(targets.kinds[i]) not in kinds]
    if not lacking or not spares:
        return False
    item = int(rng.choice(lacking))
    lifted: list[int] = []
    for spare in rng.permutation(spares).tolist():
        if targets.size[lifted].sum() >= targets.size[item]:
            break
        lifted.append(int(spare))
    return _lies_in_place_of(search, item, lifted, min(FIRST_ROUNDS * (1 + least), MOST_ROUNDS))


def _exchange_for_larger(
    search: ParallelSearch,
    targets: SetTargets,
    left: Sequence[int],
    least: int,
    rng: np.random.Generator,
) -> bool:
    """Let a somewhat larger piece take the place of one that belongs to no whole set, so that more leather is covered;
    whether it lies. That asks for far less room than one more piece."""
    size = targets.size
    pairs = [
        (spare, item)
        for spare in targets.spares(search.layout.placed())
        for item in left
        if size[spare] < size[item] <= MOST_GROWTH * size[spare]
    ]
    if not pairs:
        return False
    spare, item = pairs[int(rng.integers(len(pairs)))]
    return _lies_in_place_of(search, item, [spare], min(FIRST_ROUNDS * (1 + least), EXCHANGE_ROUNDS))


def _lies_in_place_of(search: ParallelSearch, item: int, lifted: Sequence[int], rounds: int) -> bool:
    """Lift placed items and insert another one, within so many rounds; whether it lies. If not, all is as before."""
    before = search.best
    for each in lifted:
        search.layout.lift(each)
    search.best = search.layout.snapshot()
    if search.attempt(inserting([item]), rounds):
        return True
    search.adopt(before)
    return False


def _kinds_lacking(targets: SetTargets, placed: NDArray[np.bool_]) -> set[int]:
    """Kinds that the next set of some article lacks: of the article that lacks least area, so that it comes whole
    first."""
    return {int(targets.kinds[i]) for i in _lacking_least(targets, placed)}


def _lacking_least(targets: SetTargets, placed: NDArray[np.bool_]) -> list[int]:
    """What the next set of some article lacks: of the article that lacks least area."""
    lacking = [targets.lacking(placed, article) for article in targets.targets(placed)]
    return min(lacking, key=lambda items: float(targets.size[items].sum()), default=[])


def poses_anywhere(rng: np.random.Generator) -> int:
    """How many poses are drawn anywhere for an item that is put in: now few, now many."""
    return int(LEAST_ANYWHERE * (MOST_ANYWHERE / LEAST_ANYWHERE) ** rng.random())


def inserting(items: Sequence[int], *, swap_first: bool = False) -> LayoutChange:
    """A change that lays items where each overlaps least among poses drawn by chance; with `swap_first` two large ones
    change places before."""

    def change(layout: Layout, rng: np.random.Generator) -> bool:
        if swap_first:
            swap_large(layout, rng)
        return all(place_where_best(layout, item, poses_anywhere(rng), NEARBY) is not None for item in items)

    return change


def _lay_in_gaps(search: ParallelSearch, seed: int) -> None:
    """Lay what still finds a place beside what lies."""
    layout = search.layout
    left = np.flatnonzero(~layout.placed()).tolist()
    if left and not search.budget.deadline_passed():
        prepared = PreparedProblem.from_layout(layout)
        poses = lay(
            prepared,
            order=hardest_first(prepared, left),
            start=layout.poses(),
            seed=seed,
            effort=LayEffort.for_count(layout.item_count),
            pool=search.pool,
            spread=True,
            stop=lambda _: search.budget.deadline_passed(),
        )
        place_poses(layout, poses)
    search.adopt(layout.snapshot())
