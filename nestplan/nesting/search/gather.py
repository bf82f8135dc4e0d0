"""Gather: shrink the used part of one field from one side, so that what is left over is one large offcut.

What lives here: the goal as a search over a falling limit n·p <= c, in two phases. *Explore* lowers the limit by a
fraction and lets Separate remove the overlap this makes; where it fails, the best feasible layout is first tightened
by small steps as far as these go, and only then a layout from the pool of good failures is shaken and tried again.
*Compress* starts from the best feasible layout over and over, with steps that fall as the budget runs out. On a
rectangle this is strip packing. What does not live here: Separate itself.

The two phases are those of Gardeyn, Vanden Berghe and Wauters (2025); tightening is ours: with 70 million poses judged
it leaves layouts of 12 to 50 items about a hundredth shorter (`tests.benchmarks.strip`). Several searches run side by
side and hand on the best limit at the end of each round; a round is a number of poses judged, so that the result
depends on the seed and the number of rounds alone, not on the number of threads.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass

import numpy as np

from nestplan.nesting.arrays.layout import Layout, Snapshot
from nestplan.nesting.arrays.pose_kernels import put_row, record_all
from nestplan.nesting.arrays.search_kernels import FEASIBLE, HALT
from nestplan.nesting.search.separation import Effort, Run, never, swap_large

__all__ = ["Gathered", "Side", "gather"]


LEAST_TURN = 100
"""Poses that a turn of the search counts for at least."""


@dataclass(frozen=True)
class Side:
    """Which field is gathered and whereto: the items are to lie as low as can be along `normal` (unit vector)."""

    field: int = 0
    normal: tuple[float, float] = (1.0, 0.0)


@dataclass(frozen=True)
class Pace:
    """How gather goes about: first step, least step and the step after tightening as shares of the used extent, the
    share of the budget spent exploring, tighten and compress steps from and to, searches side by side, and poses
    judged in a round."""

    first_step: float = 0.01
    least_step: float = 0.001
    later_step: float = 0.003
    explore: float = 0.8
    tighten_from: float = 0.001
    tighten_to: float = 0.0001
    compress_from: float = 0.0005
    compress_to: float = 0.00001
    searches: int = 2
    round: int = 40_000


@dataclass(frozen=True)
class Gathered:
    """What came of it: the limit reached (mm along the normal), and rounds and poses judged."""

    reach: float
    rounds: int
    judged: int


def gather(
    layout: Layout,
    side: Side,
    *,
    share: Callable[[int], float],
    stop: Callable[[float], bool] = never,
    on_improved: Callable[[float], None] = lambda reach: None,
    seed: int = 0,
    workers: int = 2,
    effort: Effort = Effort(),
    pace: Pace = Pace(),
) -> Gathered:
    """Gather a feasible layout toward one side; the layout is left at the best feasible poses found.

    `share(rounds)` is the part of the budget used, 0 to 1, by clock or by rounds; at 1 the search ends. `stop(reach)`
    is asked some twenty times a second and ends it at once. The layout must be feasible.
    """
    best = _Best(layout.snapshot(), used_reach(layout, side))
    base = lowest(layout, side)
    searches = [
        _Search(layout.copy(seed=seed * 1000 + k), side, base, effort, pace) for k in range(pace.searches)
    ]
    for k, search in enumerate(searches):
        search.rng = np.random.default_rng([seed, k])
        search.take(best, 0.0)
    rounds = 0
    with ThreadPoolExecutor(max(1, workers)) as pool:
        halted = False
        while not halted and (used := share(rounds)) < 1.0:
            jobs = [pool.submit(search.go, used) for search in searches]
            while wait(jobs, timeout=0.04).not_done:
                if stop(best.reach):
                    halted = True
                    for search in searches:
                        search.layout.state.tally[HALT] = 1
            for job in jobs:
                job.result()
            halted = halted or stop(best.reach)
            rounds += 1
            found = min((search.best for search in searches), key=lambda b: b.reach)
            if found.reach < best.reach:
                best = found
                on_improved(best.reach)
            for search in searches:
                search.take(best, used)
    layout.state.limit[side.field] = (*side.normal, np.inf)
    layout.restore(best.poses)
    return Gathered(best.reach, rounds, sum(search.run.judged for search in searches))


@dataclass(frozen=True, eq=False)
class _Best:
    poses: Snapshot
    reach: float


class _Search:
    """One search with its own layout, target limit, pool of failures and generator."""

    def __init__(self, layout: Layout, side: Side, base: float, effort: Effort, pace: Pace) -> None:
        self.layout, self.side, self.base, self.effort, self.pace = layout, side, base, effort, pace
        self.run = Run(layout, effort)
        self.rng = np.random.default_rng(0)
        self.best = _Best(layout.snapshot(), np.inf)
        self.target = np.inf
        self.step = pace.first_step
        self.tight = 0.0
        """Step while tightening, else 0."""
        self.tightened = False
        """Whether the best layout has been tightened."""
        self.pool: list[tuple[float, Snapshot]] = []
        self.compressing = False

    def take(self, best: _Best, used: float) -> None:
        """Take over a better limit found elsewhere; go to the next phase when it is time."""
        behind = best.reach < self.best.reach
        if behind:
            self.best = best
        if used >= self.pace.explore and not self.compressing:
            self.compressing = True
            self._aim(used)
        elif (self.compressing and behind) or (not self.compressing and best.reach <= self.target):
            self._aim(used)

    def go(self, used: float) -> None:
        """One round."""
        until = self.run.judged + self.pace.round
        turns = 0
        # A turn may end without a pose judged; so that a round ends for certain, each counts for a few.
        while self.run.judged + turns * LEAST_TURN < until and not self.layout.state.tally[HALT]:
            turns += 1
            how = self.run.go(until - self.run.judged)
            if how == FEASIBLE:
                self.best = _Best(self.layout.snapshot(), used_reach(self.layout, self.side))
                self.tightened = bool(self.tight)
                self.tight = min(1.5 * self.tight, self.pace.first_step)
                self._aim(used)
            elif self.compressing or self.tight:
                if self.run.strikes:
                    self._loosen()
                    self._aim(used)
            elif self.run.given_up:
                self._fail(used)

    def _fail(self, used: float) -> None:
        """After a failed step of exploring: tighten the best layout if that was not done, else try again."""
        if self.tightened:
            self._retry()
        else:
            self.tightened = True
            self.tight = self.pace.tighten_from
            self._aim(used)

    def _loosen(self) -> None:
        """After a failed step of tightening: a smaller one, or the end of tightening."""
        self.tight *= 0.5
        if 0.0 < self.tight < self.pace.tighten_to:
            self.tight = 0.0
            self.step = self.pace.later_step

    def _aim(self, used: float) -> None:
        """From the best feasible poses, lower the limit by a step and begin a new run."""
        extent = self.best.reach - self.base
        if self.compressing:
            late = (used - self.pace.explore) / max(1e-9, 1.0 - self.pace.explore)
            late = min(1.0, max(0.0, late))
            step = self.pace.compress_from * (self.pace.compress_to / self.pace.compress_from) ** late
        else:
            step = self.tight or self.step
        self.layout.restore(self.best.poses)
        self.target = self.best.reach - step * extent
        self._squeeze(step * extent)
        self.pool.clear()

    def _squeeze(self, distance: float) -> None:
        """Set the limit to the target and move everything beyond a random cut toward it."""
        lay, side = self.layout, self.side
        cut = self.base + self.rng.random() * (self.best.reach - self.base)
        shift_beyond(lay, side, cut, distance)
        lay.set_limit(side.field, side.normal, self.target)
        lay.reset_weights()
        self.run.restart()

    def _retry(self) -> None:
        """After a failure: note it, and start from one of the better failures, shaken."""
        self.step = max(self.pace.least_step, 0.5 * self.step)
        self.pool.append((self.run.least, self.layout.snapshot()))
        self.pool.sort(key=lambda failure: failure[0])
        del self.pool[20:]
        pick = min(len(self.pool) - 1, int(abs(self.rng.normal()) * 0.35 * len(self.pool)))
        self.layout.restore(self.pool[pick][1])
        swap_large(self.layout, self.rng)
        self.layout.reset_weights()
        self.run.restart()


def used_reach(layout: Layout, side: Side) -> float:
    """How far the placed items of the field reach along the normal (mm); fixed rings do not count."""
    state = layout.state
    far = -np.inf
    for k in np.flatnonzero(state.field[: layout.items] == side.field):
        row = int(state.row[k])
        vx, vy = state.vx[row, : state.vn[row]], state.vy[row, : state.vn[row]]
        along = side.normal[0] * (vx + state.x[k]) + side.normal[1] * (vy + state.y[k])
        far = max(far, float(along.max()))
    return far


def lowest(layout: Layout, side: Side) -> float:
    """The least n·p over the field's box: where gathering begins."""
    x0, y0, x1, y1 = layout.problem.fields[side.field].bounds
    nx, ny = side.normal
    return float(min(nx * x0, nx * x1) + min(ny * y0, ny * y1))


def shift_beyond(layout: Layout, side: Side, cut: float, distance: float) -> None:
    """Move the active items whose middle lies beyond n·p = cut by `distance` against the normal."""
    state = layout.state
    nx, ny = side.normal
    for k in np.flatnonzero((state.field == side.field) & state.active):
        x, y = float(state.x[k]), float(state.y[k])
        if nx * x + ny * y > cut:
            angle, shape = float(state.angle[k]), int(state.shape[state.row[k]])
            put_row(
                layout.shapes, state, int(k), side.field, shape, x - nx * distance, y - ny * distance, angle
            )
    record_all(layout.shapes, layout.areas, layout.pieces, state)
