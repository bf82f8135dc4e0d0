"""Gather: shrink the used part of one field from one side, so that what is left over is one large offcut.

A search over a falling limit n·p <= c, in two phases. *Explore* lowers the limit by a fraction and lets Separate remove
the overlap this makes; where it fails, the best feasible layout is first tightened by small steps as far as these go,
and only then a layout from the pool of good failures is shaken and tried again. *Compress* starts from the best
feasible layout over and over, with steps that fall as the budget runs out. On a rectangle this is strip packing.

The two phases are those of Gardeyn, Vanden Berghe and Wauters (2025); tightening is ours: with 70 million poses judged
it leaves layouts of 12 to 50 items about a hundredth shorter (`tests.benchmarks.strip`). Several searches run side by
side and hand on the best limit at the end of each round; a round is a number of poses judged, so that the result
depends on the seed and the number of rounds alone, not on the number of threads.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass
from functools import partial

import numpy as np

from nestplan.nesting.arrays.layout import Layout, Snapshot
from nestplan.nesting.arrays.pose_kernels import put_body, record_all_losses
from nestplan.nesting.arrays.search_kernels import FEASIBLE
from nestplan.nesting.search.separation import SeparationEffort, SeparationRun, never, swap_large

__all__ = ["GatherDirection", "GatherResult", "GatherSchedule", "gather", "lowest", "used_reach"]

LEAST_POSES = 100
"""Poses that one step of a round counts for at least."""

MOST_FAILURES = 20
"""Failures kept to be tried again."""

SECONDS_BETWEEN_LOOKS = 0.04
"""How often `stop` is asked during a round."""


@dataclass(frozen=True)
class GatherDirection:
    """Which field is gathered and whereto: the items are to lie as low as can be along `normal` (unit vector)."""

    field: int = 0
    normal: tuple[float, float] = (1.0, 0.0)


@dataclass(frozen=True)
class GatherSchedule:
    """How gather goes about; steps are shares of the used extent.

    first_step, least_step: of exploring
    step_after_tightening: where exploring goes on
    explore_share: of the budget
    tighten_from, tighten_to: first and least step of tightening
    compress_from, compress_to: first and last step of compressing
    searches: side by side
    poses_per_round: poses judged by each search in a round
    """

    first_step: float = 0.01
    least_step: float = 0.001
    step_after_tightening: float = 0.003
    explore_share: float = 0.8
    tighten_from: float = 0.001
    tighten_to: float = 0.0001
    compress_from: float = 0.0005
    compress_to: float = 0.00001
    searches: int = 2
    poses_per_round: int = 40_000


@dataclass(frozen=True)
class GatherResult:
    """What came of it: the limit reached (mm along the normal), and rounds and poses judged."""

    reach: float
    rounds: int
    poses_judged: int


def gather(
    layout: Layout,
    direction: GatherDirection,
    *,
    share: Callable[[int], float],
    stop: Callable[[float], bool] = never,
    on_improved: Callable[[float], None] = lambda reach: None,
    seed: int = 0,
    workers: int = 2,
    effort: SeparationEffort = SeparationEffort(),
    schedule: GatherSchedule = GatherSchedule(),
) -> GatherResult:
    """Gather a feasible layout in one direction; the layout is left at the best feasible poses found.

    `share(rounds)` is the part of the budget used, 0 to 1, by clock or by rounds; at 1 the search ends. `stop(reach)`
    is asked some twenty times a second and ends it at once. The layout must be feasible.
    """
    best = _FeasibleLayout(layout.snapshot(), used_reach(layout, direction))
    start = lowest(layout, direction)
    searches = [
        _GatherSearch(layout, direction, start, effort, schedule, seed=(seed, k))
        for k in range(schedule.searches)
    ]
    for search in searches:
        search.take_over(best, 0.0)
    rounds = 0
    with ThreadPoolExecutor(max(1, workers)) as pool:
        halted = False
        while not halted and (used := share(rounds)) < 1.0:
            halted = _round(searches, used, pool, partial(stop, best.reach))
            rounds += 1
            found = min((search.best for search in searches), key=lambda b: b.reach)
            if found.reach < best.reach:
                best = found
                on_improved(best.reach)
            for search in searches:
                search.take_over(best, used)
    layout.state.limit[direction.field] = (*direction.normal, np.inf)
    layout.restore(best.poses)
    return GatherResult(best.reach, rounds, sum(search.run.poses_judged for search in searches))


def _round(
    searches: list[_GatherSearch], used: float, pool: ThreadPoolExecutor, stop: Callable[[], bool]
) -> bool:
    """One round of all searches; whether it was stopped."""
    jobs = [pool.submit(search.round, used) for search in searches]
    halted = False
    while wait(jobs, timeout=SECONDS_BETWEEN_LOOKS).not_done:
        if stop():
            halted = True
            for search in searches:
                search.run.halt()
    for job in jobs:
        job.result()
    return halted or stop()


@dataclass(frozen=True, eq=False)
class _FeasibleLayout:
    poses: Snapshot
    reach: float


class _GatherSearch:
    """One search with its own layout, target limit, pool of failures and generator."""

    def __init__(
        self,
        layout: Layout,
        direction: GatherDirection,
        start: float,
        effort: SeparationEffort,
        schedule: GatherSchedule,
        *,
        seed: tuple[int, int],
    ) -> None:
        self.layout = layout.copy(seed=seed[0] * 1000 + seed[1])
        self.direction, self.start, self.schedule = direction, start, schedule
        self.run = SeparationRun(self.layout, effort)
        self.rng = np.random.default_rng(seed)
        self.best = _FeasibleLayout(self.layout.snapshot(), np.inf)
        self.target = np.inf
        self.step = schedule.first_step
        self.tightening = 0.0
        """The step while tightening, else 0."""
        self.tightened = False
        """Whether the best layout has been tightened."""
        self.failures: list[tuple[float, Snapshot]] = []
        self.compressing = False

    def take_over(self, best: _FeasibleLayout, used: float) -> None:
        """Take over a better limit found elsewhere; go to the next phase when it is time."""
        behind = best.reach < self.best.reach
        if behind:
            self.best = best
        if used >= self.schedule.explore_share and not self.compressing:
            self.compressing = True
            self._begin_step(used)
        elif (self.compressing and behind) or (not self.compressing and best.reach <= self.target):
            self._begin_step(used)

    def round(self, used: float) -> None:
        """One round."""
        until = self.run.poses_judged + self.schedule.poses_per_round
        steps = 0
        # A step may end without a pose judged; so that a round ends for certain, each counts for a few.
        while self.run.poses_judged + steps * LEAST_POSES < until and not self.run.halted:
            steps += 1
            how = self.run.advance(until - self.run.poses_judged)
            if how == FEASIBLE:
                self._succeed(used)
            elif self.run.stalls and (self.compressing or self.tightening):
                self._halve_tightening()
                self._begin_step(used)
            elif self.run.given_up and not self.compressing and not self.tightening:
                self._fail(used)

    def _succeed(self, used: float) -> None:
        """After a step that left no overlap: keep the layout and take the next step."""
        self.best = _FeasibleLayout(self.layout.snapshot(), used_reach(self.layout, self.direction))
        self.tightened = bool(self.tightening)
        self.tightening = min(1.5 * self.tightening, self.schedule.first_step)
        self._begin_step(used)

    def _fail(self, used: float) -> None:
        """After a failed step of exploring: tighten the best layout if that was not done, else try again."""
        if self.tightened:
            self._retry()
        else:
            self.tightened = True
            self.tightening = self.schedule.tighten_from
            self._begin_step(used)

    def _halve_tightening(self) -> None:
        """After a failed step of tightening: a smaller one, or the end of tightening."""
        self.tightening *= 0.5
        if 0.0 < self.tightening < self.schedule.tighten_to:
            self.tightening = 0.0
            self.step = self.schedule.step_after_tightening

    def _begin_step(self, used: float) -> None:
        """From the best feasible poses, lower the limit by a step and begin a new run."""
        extent = self.best.reach - self.start
        schedule = self.schedule
        if self.compressing:
            share = (used - schedule.explore_share) / max(1e-9, 1.0 - schedule.explore_share)
            share = min(1.0, max(0.0, share))
            step = schedule.compress_from * (schedule.compress_to / schedule.compress_from) ** share
        else:
            step = self.tightening or self.step
        self.layout.restore(self.best.poses)
        self.target = self.best.reach - step * extent
        self._lower_limit(step * extent)
        self.failures.clear()

    def _lower_limit(self, distance: float) -> None:
        """Set the limit to the target and move everything beyond a random cut toward it."""
        layout, direction = self.layout, self.direction
        cut = self.start + self.rng.random() * (self.best.reach - self.start)
        shift_beyond(layout, direction, cut, distance)
        layout.set_limit(direction.field, direction.normal, self.target)
        layout.reset_weights()
        self.run.restart()

    def _retry(self) -> None:
        """After a failure: note it, and start from one of the better failures, shaken."""
        self.step = max(self.schedule.least_step, 0.5 * self.step)
        self.failures.append((self.run.least_loss, self.layout.snapshot()))
        self.failures.sort(key=lambda failure: failure[0])
        del self.failures[MOST_FAILURES:]
        count = len(self.failures)
        pick = min(count - 1, int(abs(self.rng.normal()) * 0.35 * count))
        self.layout.restore(self.failures[pick][1])
        swap_large(self.layout, self.rng)
        self.layout.reset_weights()
        self.run.restart()


def used_reach(layout: Layout, direction: GatherDirection) -> float:
    """How far the placed items of the field reach along the normal (mm); fixed rings do not count."""
    state = layout.state
    rows = state.rows
    nx, ny = direction.normal
    far = -np.inf
    for k in np.flatnonzero(layout.fields() == direction.field):
        row = int(state.row[k])
        count = rows.corner_count[row]
        x, y = rows.corner_x[row, :count] + state.x[k], rows.corner_y[row, :count] + state.y[k]
        far = max(far, float((nx * x + ny * y).max()))
    return far


def lowest(layout: Layout, direction: GatherDirection) -> float:
    """The least n·p over the field's box: where gathering begins."""
    x0, y0, x1, y1 = layout.problem.fields[direction.field].bounds
    nx, ny = direction.normal
    return float(min(nx * x0, nx * x1) + min(ny * y0, ny * y1))


def shift_beyond(layout: Layout, direction: GatherDirection, cut: float, distance: float) -> None:
    """Move the movable items whose middle lies beyond n·p = cut by `distance` against the normal."""
    state = layout.state
    nx, ny = direction.normal
    for k in np.flatnonzero((state.field == direction.field) & state.movable):
        x, y = float(state.x[k]), float(state.y[k])
        if nx * x + ny * y > cut:
            angle, shape = float(state.angle[k]), int(state.rows.shape[state.row[k]])
            x, y = x - nx * distance, y - ny * distance
            put_body(layout.shapes, state, int(k), direction.field, shape, x, y, angle)
    record_all_losses(*layout.records)
