"""Chains of moves: what has no place is put where what must give way is worth least, and that is placed in its turn.

For choosing which piece lies on which hide, where separating all pieces at once stirs everything up. After Nagata and
Bräysy (2009), who empty vehicles of a route plan so: of the pieces without a place one is taken; it is put down at a
pose drawn from those that the leather allows, overlapping, and Separate tries to make room, on that hide and by moving
pieces to others. Where it cannot, the pieces overlapped are taken off and wait for a place instead, and the piece that
came so hard by its place is worth more from then on, so that the chain does not run in circles.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from nestplan.nesting.arrays.ejection_kernels import cheapest_pose
from nestplan.nesting.arrays.entry_kernels import fill_pool
from nestplan.nesting.arrays.layout import Layout, ShapePose, Snapshot
from nestplan.nesting.arrays.records import PosePool
from nestplan.nesting.arrays.search_kernels import FEASIBLE, SPENT
from nestplan.nesting.problem import Bools, Floats, Ints
from nestplan.nesting.search.seen_together import SeenTogether
from nestplan.nesting.search.separation import SeparationEffort, SeparationRun, place_where_best

__all__ = ["EjectionRun", "EjectionStart", "with_pool"]

MOST_KEPT, LEAST_KEPT, KEPT_IN_ALL = 400, 20, 2_000_000
"""Poses that each pool holds, and about how many all pools together hold."""
MOST_TRIES, LEAST_TRIES, TRIES_IN_ALL = 300, 8, 80_000
"""Tries at a pose for each pool, and for all pools together."""

FEWEST_DRAWS, MOST_DRAWS = 60, 1800
"""Poses from which the one is chosen that drives out least: at times few, so that chains differ."""
FEWEST_WIDE, MOST_WIDE = 10, 200
"""Poses from which the one is chosen where a piece overlaps least before Separate makes room."""
FEWEST_TO_MAKE_ROOM, MOST_TO_MAKE_ROOM = 2000, 12_000
"""Poses judged at most to make room for one piece: now fewer, now more."""
ROOM_SHARES = (1.0, 0.3)
"""How often making room is tried at all, in one run and in the other beside it: one try in ten to forty succeeds, and
costs as much as five or six steps, but where pieces are small there is no better way."""
EFFORT = SeparationEffort(anywhere=20, nearby=10, passes_without_gain=30, stalls=1)
WORTH_SHARE = 0.2
"""What an item is worth beside the depth (mm²) of an overlap with it, as a share of its area."""
WORTH_GROWTH = 0.2
"""By which share of its size a piece is worth more each time that it drove others out."""
STEPS_WITHOUT_GAIN = 150
"""Steps after which a run goes elsewhere and forgets what pieces came to be worth."""
BACK_SHARE = 0.5
"""How often that is where least waited, and not what was seen at different times put together."""
OUT_OF_TURN = 0.3
"""How often another piece is tried than the one that came off last."""
POSES_A_STEP = 100
"""Poses that a step counts for at least, so that a run ends for certain."""


def with_pool(
    layout: Layout, pool: ThreadPoolExecutor, *, seed: int, stop: Callable[[], bool] = lambda: False
) -> None:
    """Learn poses that the areas allow, for each option of each kind of item, and let the layout's state draw on them.

    Copies made afterwards share them. Once `stop` says so no more are learnt.
    """
    pool_of, owners = _pools_of_options(layout)
    many = max(len(owners), 1)
    kept = int(np.clip(KEPT_IN_ALL // many, LEAST_KEPT, MOST_KEPT))
    tries = int(np.clip(TRIES_IN_ALL // many, LEAST_TRIES, MOST_TRIES))
    poses = PosePool(pool_of, np.zeros((len(owners), kept, 3)), np.zeros(len(owners), np.int64))

    def fill(half: int) -> None:
        empty = layout.copy(seed=seed * 1000 + 500 + half)
        for item in range(layout.item_count):
            empty.lift(item)
        for item, option in owners[half::2]:
            if stop():
                return
            fill_pool(empty.records, poses, item, option, tries)

    for job in [pool.submit(fill, half) for half in range(2)]:
        job.result()
    layout.state = layout.state._replace(pool=poses)


def _pools_of_options(layout: Layout) -> tuple[Ints, list[tuple[int, int]]]:
    """The pool of each option, equal items sharing theirs; and of each pool the item and option that fill it."""
    options = layout.options
    pool_of = np.zeros(len(options.field), np.int64)
    owners: list[tuple[int, int]] = []
    first_of: dict[int, int] = {}
    for item in range(layout.item_count):
        span = slice(int(options.start[item]), int(options.start[item + 1]))
        kind = int(options.kind[item])
        if kind not in first_of:
            first_of[kind] = span.start
            pool_of[span] = np.arange(len(owners), len(owners) + span.stop - span.start)
            owners += [(item, option) for option in range(span.start, span.stop)]
        else:
            first = first_of[kind]
            pool_of[span] = pool_of[first : first + span.stop - span.start]
    return pool_of, owners


@dataclass(frozen=True, eq=False)
class EjectionStart:
    """Where a run begins: poses without overlap, the items that wait for a place, and the fields they may lie on.

    `size (I,)` is what each item is worth at first.
    """

    poses: Snapshot
    waiting: Sequence[int]
    fields: Bools
    size: Floats


class EjectionRun:
    """A chain of moves that can be interrupted and taken up again, with chances of its own."""

    def __init__(
        self, layout: Layout, start: EjectionStart, *, seed: tuple[int, ...], number: int = 0
    ) -> None:
        """`layout` is the run's own copy; `number` is that of the run among those side by side."""
        self.layout = layout
        self.rng = np.random.default_rng(seed)
        self.size = start.size
        self._room_share = ROOM_SHARES[number % len(ROOM_SHARES)]
        layout.restore(start.poses)
        layout.state.open_field[:] = start.fields
        self.waiting = sorted(start.waiting, key=lambda item: (start.size[item], -item))
        """The items that wait for a place; the last comes next."""
        self.worth = np.full(layout.state.field.shape[0], np.inf)
        self.worth[: layout.item_count] = WORTH_SHARE * start.size
        self.least_waiting = self.size_waiting
        """The least that waited at a time."""
        self.best, self._waiting_then = start.poses, list(self.waiting)
        """The poses at that time, and what waited."""
        self._steps_without_gain = 0
        self._separation = SeparationRun(layout, EFFORT)
        self._rests = 0
        lying = np.flatnonzero(layout.placed())
        self._wanted = np.concatenate((lying, np.asarray(start.waiting, np.int64)))
        self._open_fields = np.flatnonzero(start.fields[: len(layout.problem.fields)])
        self._seen = SeenTogether(layout, start.size)

    @property
    def size_waiting(self) -> float:
        """What the waiting items are worth together."""
        return float(self.size[self.waiting].sum()) if self.waiting else 0.0

    def halt(self) -> None:
        """End soon; to be called from another thread."""
        self._separation.halt()

    def resume(self) -> None:
        """Let a run that was halted go on when it is next advanced."""
        self._separation.resume()

    def advance(self, poses: int) -> int:
        """Go on for about so many poses judged: FEASIBLE once nothing waits any more, else SPENT."""
        until = self._effort_spent() + poses
        while self.waiting and self._effort_spent() < until and not self._separation.halted:
            self._rests += 1
            self._step()
            self._note_gain()
        return SPENT if self.waiting else FEASIBLE

    def _note_gain(self) -> None:
        """Remember the poses at which least waits. After many steps without gain, what was seen on each field at
        different times is put together: if less waits then than ever, or by chance, the run goes on from there, else
        from the poses at which least waited."""
        self._seen.note(self.layout)
        if self._remember_if_least():
            self._steps_without_gain = 0
            return
        self._steps_without_gain += 1
        if self._steps_without_gain >= STEPS_WITHOUT_GAIN:
            self._steps_without_gain = 0
            poses, waiting = self._seen.put_together(self._wanted, self._open_fields, self.rng)
            self.layout.restore(poses)
            self.waiting = sorted(waiting, key=lambda item: (self.size[item], -item))
            if not self._remember_if_least() and self.rng.random() < BACK_SHARE:
                self.layout.restore(self.best)
                self.waiting = list(self._waiting_then)
            self.worth[: self.layout.item_count] = WORTH_SHARE * self.size

    def _remember_if_least(self) -> bool:
        """Whether less waits than ever before; the poses are remembered then."""
        if self.size_waiting >= self.least_waiting:
            return False
        self.least_waiting, self.best = self.size_waiting, self.layout.snapshot()
        self._waiting_then = list(self.waiting)
        return True

    def _effort_spent(self) -> int:
        return self._separation.poses_judged + self._rests * POSES_A_STEP

    def _step(self) -> None:
        """Place one of the waiting items: where there is room, or where room can be made, or in place of others."""
        layout = self.layout
        item = self._next_waiting()
        before = layout.snapshot()
        layout.reset_weights()
        pose, cost = self._cheapest_pose(item)
        if pose is None:
            self.waiting.insert(0, item)
        elif cost == 0.0:
            layout.place(item, pose)
        elif self.rng.random() > self._room_share or not self._make_room(item):
            layout.restore(before)
            if self._separation.halted:
                self.waiting.append(item)
                return
            self._put_in_place_of_others(item, pose)

    def _next_waiting(self) -> int:
        last = len(self.waiting) - 1
        return self.waiting.pop(int(self.rng.integers(last + 1)) if self.rng.random() < OUT_OF_TURN else last)

    def _cheapest_pose(self, item: int) -> tuple[ShapePose | None, float]:
        draws = self._between(FEWEST_DRAWS, MOST_DRAWS)
        cost = float(cheapest_pose(*self.layout.records, item, self.worth, draws))
        if not np.isfinite(cost):
            return None, cost
        _, option, x, y, angle = self.layout.state.candidates[0].tolist()
        return ShapePose(int(option), x, y, angle), cost

    def _make_room(self, item: int) -> bool:
        """Put an item where it overlaps least and let Separate remove the overlap; whether that succeeded."""
        wide, poses = (
            self._between(FEWEST_WIDE, MOST_WIDE),
            self._between(FEWEST_TO_MAKE_ROOM, MOST_TO_MAKE_ROOM),
        )
        if place_where_best(self.layout, item, wide, 0) is None:
            return False
        self._separation.restart()
        return self._separation.advance(poses) == FEASIBLE

    def _between(self, low: int, high: int) -> int:
        """A number drawn so that its size is as often small as large."""
        return int(low * (high / low) ** self.rng.random())

    def _put_in_place_of_others(self, item: int, pose: ShapePose) -> None:
        """Put an item down and take off what it overlaps, the dearest of which is tried next."""
        layout = self.layout
        layout.place(item, pose)
        overlapped = np.flatnonzero(layout.state.pair_loss[item, : layout.item_count] > 0.0).tolist()
        for other in overlapped:
            layout.lift(other)
        self.waiting += sorted(overlapped, key=lambda other: (self.worth[other], other))
        self.worth[item] += WORTH_GROWTH * WORTH_SHARE * self.size[item]
