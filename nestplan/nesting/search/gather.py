"""Gather: shrink the used part of one field from one side, so that what is left over is one large offcut.

A search over a falling limit n·p <= c, in two phases. *Explore* lowers the limit by a fraction and lets Separate remove
the overlap this makes; where it fails, the best feasible layout is first tightened by small steps as far as these go,
and only then a layout from the pool of good failures is shaken, or all is laid anew, and tried again. *Compress* starts
from the best feasible layout over and over, with steps that fall as the budget runs out. On a rectangle this is strip
packing.

The two phases are those of Gardeyn, Vanden Berghe and Wauters (2025); the rest is ours: tightening; *jumps* at the
start, where all is laid anew below a much lower limit and what finds no place is inserted; and a second search that
goes ways of its own, so that not all depends on the layout that the first one began with. Searches run side by side and
hand on the best limit at the end of each round; a round is a number of poses judged, so that the result depends on the
seed and the number of rounds alone, not on the number of threads.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass
from functools import partial

import numpy as np

from nestplan.nesting.arrays.layout import Layout, Snapshot
from nestplan.nesting.arrays.pose_kernels import put_body
from nestplan.nesting.arrays.search_kernels import FEASIBLE
from nestplan.nesting.construct.lay_below import LayingBelow
from nestplan.nesting.search.insertion import MOST_ANYWHERE, NEARBY, place_poses, poses_anywhere
from nestplan.nesting.search.separation import (
    SeparationEffort,
    SeparationRun,
    never,
    place_where_best,
    swap_large,
)

__all__ = ["GatherDirection", "GatherResult", "GatherSchedule", "gather", "lowest", "used_reach"]

LEAST_POSES = 100
"""Poses that one step of a round counts for at least."""

MOST_FAILURES = 20
"""Failures kept to be tried again."""

TIGHTENING_LEFT = 0.75
"""What is left of the step of tightening after a failure."""

TRIES_TO_TIGHTEN = 16
"""Failures in a row after which tightening ends."""

QUICK = SeparationEffort(passes_without_gain=20, stalls=1)
"""Effort of a step of tightening or compressing. Those that succeed do so within some 10,000 poses, while a longer run
judges a hundred thousand before it is given up: another cut is tried instead."""

FAILURES_OF_A_WAY = 5
"""Failures of exploring in a row after which a way of its own has come to its end."""

LAID_ANEW = 0.25
"""Share of the failures after which all is laid anew."""

MOST_WAITING = 0.15
"""Share of the items' area that may find no place when all is laid anew."""

INSERTING = SeparationEffort(anywhere=40, passes_without_gain=60, stalls=1)
JUMPING = SeparationEffort(passes_without_gain=60, stalls=1)
TRIES_TO_INSERT = 3
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
    first_jump: of laying anew below a shorter limit at the start; halved where that fails, down to `first_step`
    searches: side by side
    poses_per_round: poses judged by each search in a round
    """

    first_step: float = 0.01
    least_step: float = 0.001
    step_after_tightening: float = 0.003
    explore_share: float = 0.8
    tighten_from: float = 0.0003
    tighten_to: float = 0.0001
    compress_from: float = 0.0005
    compress_to: float = 0.00001
    first_jump: float = 0.16
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
    searches = [
        _GatherSearch(layout, direction, best, effort, schedule, seed=(seed, k))
        for k in range(schedule.searches)
    ]
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
        first: _FeasibleLayout,
        effort: SeparationEffort,
        schedule: GatherSchedule,
        *,
        seed: tuple[int, int],
    ) -> None:
        self.layout = layout.copy(seed=seed[0] * 1000 + seed[1])
        fields = np.arange(len(layout.problem.fields))
        self.layout.state.open_field[:] = fields == direction.field
        self.layout.state.movable[:] &= self.layout.state.field == direction.field
        self.direction, self.schedule, self.effort = direction, schedule, effort
        self.start = lowest(layout, direction)
        self.run = SeparationRun(self.layout, effort)
        self.seed = seed
        self.rng = np.random.default_rng(seed)
        self.first = self.best = first
        self.target = np.inf
        """What exploring wants to reach."""
        self.limit = np.inf
        """The limit that is tried."""
        self.follows = seed[1] % 2 == 0
        """Whether it follows the best layout of all searches, or goes its own ways until it compresses."""
        self.ways = 0
        """Ways begun from the first layout."""
        self.failed_on_way = 0
        """Failures of exploring since the last gain."""
        self.step = schedule.first_step
        self.jump = 0.0
        """The step while jumping, else 0."""
        self.tightening = 0.0
        """The step while tightening, else 0."""
        self.failed_to_tighten = 0
        self.since_tightened, self.pause = 0, 0
        """Failures since the best layout was tightened, and how many until it is tightened again."""
        self.failures: list[tuple[float, Snapshot]] = []
        self.compressing = False
        self.used = 0.0
        """Share of the budget used when the round began."""
        self.laying = LayingBelow(self.layout, direction.field, direction.normal)
        self.layings = 0
        self.waiting: list[int] = []
        """What found no place when all was laid anew, and is still to be inserted."""
        self.coming = False
        """Whether the first of these is in, with overlap."""
        self.tries_to_insert = 0
        self.before_insertion = self.best.poses

    @property
    def poses_judged(self) -> int:
        """Poses judged by this search, those of laying anew counted roughly."""
        return self.run.poses_judged + self.layings * self.laying.poses_for_one

    def take_over(self, best: _FeasibleLayout, used: float) -> None:
        """Take over a better limit found elsewhere; go to the next phase when it is time."""
        self.used = used
        begins = used >= self.schedule.explore_share and not self.compressing
        self.compressing = self.compressing or begins
        behind = best.reach < self.best.reach and (self.follows or self.compressing)
        if behind:
            self.best = best
        if begins:
            self._begin_step()
        elif not self.follows and not self.compressing:
            return
        elif (self.compressing and behind) or (not self.compressing and best.reach <= self.limit):
            self._begin_step()

    def round(self, used: float) -> None:
        """One round."""
        self.used = used
        if not self.ways:
            self._begin_way()
        until = self.poses_judged + self.schedule.poses_per_round
        steps = 0
        # A step may end without a pose judged; so that a round ends for certain, each counts for a few.
        while self.poses_judged + steps * LEAST_POSES < until and not self.run.halted:
            steps += 1
            how = self.run.advance(until - self.poses_judged)
            if how == FEASIBLE:
                self._insert_next_or_succeed()
            elif self.run.given_up:
                self._go_on()

    def _succeed(self) -> None:
        """After a step that left no overlap: keep the layout and take the next step."""
        self.best = _FeasibleLayout(self.layout.snapshot(), used_reach(self.layout, self.direction))
        self.failed_on_way = 0
        if self.tightening:
            self.pause = self.failed_to_tighten = 0
            self.tightening = min(1.5 * self.tightening, self.schedule.first_step)
        self._begin_step()

    def _go_on(self) -> None:
        """After a failed step: what comes next."""
        if self.compressing:
            self._begin_step()
        elif self.waiting:
            self._insert_again()
        elif self.jump:
            self.jump *= 0.5
            self._begin_step()
        elif self.tightening:
            self._tighten_less()
        else:
            self._fail()

    def _tighten_less(self) -> None:
        """After a failed step of tightening: a smaller one, or the end of tightening."""
        self.tightening = max(self.schedule.tighten_to, TIGHTENING_LEFT * self.tightening)
        self.failed_to_tighten += 1
        if self.failed_to_tighten >= TRIES_TO_TIGHTEN:
            self.tightening = 0.0
            self.since_tightened = 0
            self.pause = 2 * self.pause + 1
            self.step = self.schedule.step_after_tightening
            if self.failures and self.best.reach > self.target:
                self._retry()
                return
        self._begin_step()

    def _fail(self) -> None:
        """After a failed step of exploring: note it; tighten the best layout where that is due, else try again."""
        self.step = max(self.schedule.least_step, 0.5 * self.step)
        self.failures.append((self.run.least_loss, self.layout.snapshot()))
        self.failures.sort(key=lambda failure: failure[0])
        del self.failures[MOST_FAILURES:]
        self.since_tightened += 1
        self.failed_on_way += 1
        if self.since_tightened > self.pause:
            self.tightening = self.schedule.tighten_from
            self.failed_to_tighten = 0
            self._begin_step()
        elif not self.follows and self.failed_on_way >= FAILURES_OF_A_WAY:
            self._begin_way()
        else:
            self._retry()

    def _begin_way(self) -> None:
        """Begin anew from the first layout: in turn by jumping, and step by step."""
        self.best = self.first
        self.step = self.schedule.first_step
        self.ways += 1
        self.jump = self.schedule.first_jump if self.follows == bool(self.ways % 2) else 0.0
        self.tightening = 0.0
        self.since_tightened = self.pause = self.failed_on_way = 0
        self._begin_step()

    def _begin_step(self) -> None:
        """From the best feasible poses, lower the limit by a step and begin a new run."""
        self.waiting, self.coming = [], False
        extent = self.best.reach - self.start
        if not self.compressing and not self.tightening:
            self.failures.clear()
            if self.jump and self._jump(extent):
                return
        self.layout.restore(self.best.poses)
        step = self._next_step()
        self.limit = self.best.reach - step * extent
        if not self.tightening:
            self.target = self.limit
        cut = self.start + self.rng.random() * extent
        shift_beyond(self.layout, self.direction, cut, step * extent)
        self._begin_run(QUICK if self.compressing or self.tightening else self.effort)

    def _next_step(self) -> float:
        """The share of the extent by which the limit is lowered next."""
        schedule = self.schedule
        if not self.compressing:
            return self.tightening or self.step
        self.tightening = 0.0
        share = (self.used - schedule.explore_share) / max(1e-9, 1.0 - schedule.explore_share)
        share = min(1.0, max(0.0, share))
        step: float = schedule.compress_from * (schedule.compress_to / schedule.compress_from) ** share
        return step

    def _begin_run(self, effort: SeparationEffort) -> None:
        """Begin a run below the limit from the poses as they are."""
        self.layout.set_limit(self.direction.field, self.direction.normal, self.limit)
        self.layout.reset_weights()
        self.run.effort = effort
        self.run.restart()

    def _retry(self) -> None:
        """After a failure: start from one of the better failures, shaken, or from a layout laid anew."""
        self.limit = self.target
        if self.rng.random() < LAID_ANEW and self._lay_anew():
            return
        count = len(self.failures)
        pick = min(count - 1, int(abs(self.rng.normal()) * 0.35 * count))
        self.layout.restore(self.failures[pick][1])
        swap_large(self.layout, self.rng)
        self._begin_run(self.effort)

    def _jump(self, extent: float) -> bool:
        """Lay all anew below a limit that is lower by a jump, as far as one is left to be tried; whether it was."""
        while self.jump >= self.schedule.first_step:
            self.limit = self.target = self.best.reach - self.jump * extent
            if self.laying.has_area(self.limit) and self._lay_anew():
                return True
            self.jump *= 0.5
        self.jump = 0.0
        return False

    def _lay_anew(self) -> bool:
        """Lay all anew below the limit, to insert what finds no place; False where that is too much."""
        self.layings += 1
        seed = int(self.rng.integers(2**31))
        poses, waiting = self.laying.lay(self.limit, seed, self.rng, lambda _: self.run.halted)
        if self.laying.share_of(waiting) > MOST_WAITING:
            return False
        self.layout.restore(self.best.poses)
        place_poses(self.layout, poses, self.laying.items)
        self.waiting, self.coming = waiting, False
        self._begin_run(INSERTING)
        return True

    def _insert_next_or_succeed(self) -> None:
        """All that lies is free of overlap: put in the next item that waits; where none does, the step succeeded."""
        if self.coming:
            del self.waiting[0]
        if not self.waiting:
            self._succeed()
            return
        self.before_insertion = self.layout.snapshot()
        self.tries_to_insert = 0
        self._insert()

    def _insert(self) -> None:
        """Put in the first item that waits where it overlaps least, and begin to remove the overlap."""
        self.coming = True
        self._put_in(self.waiting[:1], poses_anywhere(self.rng), INSERTING)

    def _insert_again(self) -> None:
        """The item put in last made an overlap that stayed: try it elsewhere; at last put in all that wait, and remove
        the overlap as in any other step."""
        self.tries_to_insert += 1
        if self.coming and self.tries_to_insert < TRIES_TO_INSERT:
            self.layout.restore(self.before_insertion)
            self._insert()
            return
        rest = self.waiting[1:] if self.coming else self.waiting
        self.waiting, self.coming = [], False
        self._put_in(rest, MOST_ANYWHERE, JUMPING if self.jump else self.effort)

    def _put_in(self, items: list[int], anywhere: int, effort: SeparationEffort) -> None:
        """Put items in where each overlaps least and begin a run; where one may lie nowhere, the next step."""
        for item in items:
            if place_where_best(self.layout, item, anywhere, NEARBY) is None:
                self._begin_step()
                return
        self._begin_run(effort)


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
    layout.record_losses()
