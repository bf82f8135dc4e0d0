"""Laying more: whole sets first, then single pieces, by inserting with overlap and separating.

What lives here: which set or piece is tried next, and for how long. What does not: the first answer (`draft`), one
attempt (`team`), leaving hides empty (`tidy`), the goals that call this (`goals`).

A piece, or all that a set lacks, is laid where it overlaps least; Separate removes the overlap, or all is undone.
Pieces of no whole set are lifted while a set is sought, and laid again in what is left.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from nestplan.nesting.aims import Aim
from nestplan.nesting.ground import Ground, hardest_first
from nestplan.nesting.lay import Effort, lay
from nestplan.nesting.layout import Layout, Snapshot, Spot
from nestplan.nesting.move_kernels import seek
from nestplan.nesting.problem import Poses
from nestplan.nesting.separate import swap_large
from nestplan.nesting.team import Change, Team
from nestplan.nesting.watch import Watch

__all__ = ["lay_more", "put_poses"]

SETS_SHARE = 0.55
"""Share of the budget after which single pieces are sought."""
FIRST_ROUNDS = 2
MOST_ROUNDS = 40
WIDE, NEAR = 400, 25


def lay_more(
    layout: Layout,
    aim: Aim,
    watch: Watch,
    pool: ThreadPoolExecutor,
    *,
    seed: int = 0,
    better: Callable[[Poses], None] = lambda poses: None,
) -> Poses:
    """The layout's poses with as many more sets, then pieces, as the watch allows; never fewer sets than before.

    The layout must be feasible. `better` is called with every improvement.
    """
    team = Team(layout, watch, pool, seed=seed)
    start = team.best
    best, best_merit = start, aim.merit(layout.placed())

    def note() -> None:
        nonlocal best, best_merit
        merit = aim.merit(layout.placed())
        if merit > best_merit:
            best, best_merit = team.best, merit
            better(layout.poses())

    _seek_sets(team, aim, watch, note)
    team.adopt(best)
    _lay_again(team, aim, start, seed)
    note()
    _seek_pieces(team, aim, watch, note)
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
            for allow, leave in zip(layout.spots(item), layout.problem.items[item].allowances, strict=True)
            if leave.field == poses.field[item]
            and leave.flipped == bool(poses.flipped[item])
            and leave.turns.contains(angle)
        ]
        clean = [spot for spot in fitting if layout.loss_at(item, spot, 0.0) == 0.0]
        layout.place(item, (clean or fitting)[0])


def _seek_sets(team: Team, aim: Aim, watch: Watch, note: Callable[[], None]) -> None:
    """One more whole set after another, until the share of the budget for sets is used up."""
    failures: Counter[int] = Counter()
    while not watch.over():
        targets = aim.targets(team.layout.placed())
        if not targets or watch.used() >= SETS_SHARE:
            return
        target = min(targets, key=lambda a: (failures[a], targets.index(a)))
        before = sum(aim.whole(team.layout.placed()))
        _lift(team, aim.spares(team.layout.placed(), (target,)))
        rounds = min(FIRST_ROUNDS * (1 + failures[target]), MOST_ROUNDS)
        if failures[target] % 2 == 0:
            for item in aim.lacking(team.layout.placed(), target):
                if not team.attempt(inserted([item], shaken=failures[target] > 1), rounds, SETS_SHARE):
                    break
                note()
        else:
            _lift(team, aim.spares(team.layout.placed()))
            lacking = aim.lacking(team.layout.placed(), target)
            if team.attempt(inserted(lacking, shaken=failures[target] > 2), 2 * rounds, SETS_SHARE):
                note()
        if sum(aim.whole(team.layout.placed())) > before:
            failures.clear()
        else:
            failures[target] += 1


def _seek_pieces(team: Team, aim: Aim, watch: Watch, note: Callable[[], None]) -> None:
    """Single pieces that belong to no whole set yet: of the kinds that failed least, the one most easily placed."""
    failures: Counter[int] = Counter()
    while not watch.over():
        left = aim.pieces_left(team.layout.placed())
        if not left:
            return
        item = min(left, key=lambda i: (failures[int(aim.kinds[i])], aim.size[i], i))
        kind = int(aim.kinds[item])
        rounds = min(FIRST_ROUNDS * (1 + failures[kind]), MOST_ROUNDS)
        if team.attempt(inserted([item], shaken=failures[kind] > 1), rounds):
            note()
        else:
            failures[kind] += 1


def inserted(items: Sequence[int], *, shaken: bool = False) -> Change:
    """A change that lays items where each overlaps least; `shaken` lets two large ones change places before."""

    def change(layout: Layout, rng: np.random.Generator) -> bool:
        if shaken:
            swap_large(layout, rng)
        for item in items:
            tops = layout.state.tops
            place = seek(layout.shapes, layout.areas, layout.pieces, layout.state, item, WIDE, NEAR)
            loss, allow, x, y, angle = (float(value) for value in tops[place, :5])
            if not np.isfinite(loss):
                return False
            layout.place(item, Spot(int(allow), x, y, angle))
        return True

    return change


def _lift(team: Team, items: Sequence[int]) -> None:
    for item in items:
        team.layout.lift(item)
    if items:
        team.best = team.layout.snapshot()


def _lay_again(team: Team, aim: Aim, before: Snapshot, seed: int) -> None:
    """Put back what lay before and was lifted, where it still fits, and lay what else finds a place."""
    layout = team.layout
    for item in np.flatnonzero((before.allow >= 0) & ~layout.placed()).tolist():
        spot = Spot(
            int(before.allow[item]), float(before.x[item]), float(before.y[item]), float(before.angle[item])
        )
        if layout.loss_at(item, spot, 0.0) == 0.0:
            layout.place(item, spot)
    left = np.flatnonzero(~layout.placed()).tolist()
    if left and not team.watch.called_off():
        ground = Ground.from_layout(layout)
        order = hardest_first(ground, left)
        poses = lay(
            ground, order=order, start=layout.poses(), seed=seed, effort=Effort.for_count(layout.items),
            pool=team.pool, spread=True, stop=lambda _: team.watch.called_off(),
        )  # fmt: skip
        put_poses(layout, poses)
    team.adopt(layout.snapshot())
