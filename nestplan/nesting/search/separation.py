"""Separate: take a layout whose items overlap, and remove all overlap by guided local search.

Here are one run of it with its restarts, putting one more item into a full layout, and shaking a layout that is stuck.
After Umetani et al. (2009), Imamichi et al. (2009), and Gardeyn, Vanden Berghe and Wauters (2025), whose scheme of
passes, stalls and disruption is followed in outline.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nestplan.nesting.arrays.entry_kernels import find_best_candidate, run_passes
from nestplan.nesting.arrays.layout import Layout, ShapePose
from nestplan.nesting.arrays.pose_kernels import put_body
from nestplan.nesting.arrays.records import (
    HALT,
    ITEMS_DUE,
    ITEMS_TRIED,
    PASSES_WITHOUT_GAIN,
    POSES_JUDGED,
)
from nestplan.nesting.arrays.search_kernels import (
    GAIN,
    STUCK,
    begin_run,
)
from nestplan.nesting.problem import Ints

__all__ = ["SeparationEffort", "SeparationRun", "never", "place_where_best", "swap_large"]

LARGE_SHARE = 0.75
"""Share of the hulls' area that the items called large make up."""

TRIES_TO_SWAP = 20
"""Pairs drawn until two may change places."""


@dataclass(frozen=True)
class SeparationEffort:
    """How hard Separate tries.

    anywhere, nearby: poses drawn for each move over the whole field and about where the item lies
    passes_without_gain: after how many the run is stalled and goes back to its best poses
    stalls: after how many without gain it gives up
    """

    anywhere: int = 20
    nearby: int = 10
    passes_without_gain: int = 100
    stalls: int = 3


def never(_: float) -> bool:
    """A stop rule that never stops."""
    return False


class SeparationRun:
    """One run of passes on a layout that may be interrupted and taken up again; counts its own stalls."""

    def __init__(self, layout: Layout, effort: SeparationEffort) -> None:
        self.layout = layout
        self.effort = effort
        self.restart()

    def restart(self) -> None:
        """Begin anew from the poses as they are."""
        begin_run(self.layout.state)
        self.stalls = 0
        self._loss_when_stalled = np.inf

    @property
    def poses_judged(self) -> int:
        """Poses judged on this layout since it was made."""
        return int(self.layout.state.counters[POSES_JUDGED])

    @property
    def least_loss(self) -> float:
        """Least total loss of the run."""
        return float(self.layout.state.best_loss[0])

    @property
    def given_up(self) -> bool:
        """Whether the run has stalled as often as it may."""
        return self.stalls >= self.effort.stalls

    @property
    def halted(self) -> bool:
        """Whether the run was told to end at the next item."""
        return bool(self.layout.state.counters[HALT])

    def halt(self) -> None:
        """End at the next item; to be called from another thread."""
        self.layout.state.counters[HALT] = 1

    def resume(self) -> None:
        """Let a run that was halted go on when it is next advanced."""
        self.layout.state.counters[HALT] = 0

    def advance(self, poses: int) -> int:
        """Go on for about so many poses judged: FEASIBLE, SPENT or STUCK (a stall; the best poses are back)."""
        effort = self.effort
        how = run_passes(
            self.layout.records, effort.anywhere, effort.nearby, poses, effort.passes_without_gain
        )
        if how == STUCK:
            gained = self.least_loss < GAIN * self._loss_when_stalled
            self.stalls = 1 if gained else self.stalls + 1
            self._loss_when_stalled = self.least_loss
            self.back_to_best()
            for counter in (PASSES_WITHOUT_GAIN, ITEMS_TRIED, ITEMS_DUE):
                self.layout.state.counters[counter] = 0
        return int(how)

    def back_to_best(self) -> None:
        """Put the movable items where the total loss was least."""
        self.layout.back_to_best()


def place_where_best(layout: Layout, item: int, anywhere: int, nearby: int) -> float | None:
    """Put an item at the best of so many poses drawn by chance and improved, overlapping or not; its weighted loss
    there. None if it may lie nowhere: then it is not put."""
    place = find_best_candidate(layout.records, item, anywhere, nearby)
    loss, option, x, y, angle = layout.state.candidates[place].tolist()
    if not np.isfinite(loss):
        return None
    layout.place(item, ShapePose(int(option), x, y, angle))
    return float(loss)


def swap_large(layout: Layout, rng: np.random.Generator) -> bool:
    """Let two large movable items of different kinds on one field change places; whether there were two.

    Large are those that, from the greatest down, make up three quarters of the hulls' area. Small items that lie
    within the hull box of one of the two go along with it.
    """
    state = layout.state
    on = np.flatnonzero(layout.placed() & state.movable[: layout.item_count])
    if len(on) < 2:
        return False
    size = layout.shapes.hull_size[state.rows.shape[state.row[on]]] ** 2
    order = np.argsort(-size, kind="stable")
    total = np.cumsum(size[order])
    large = on[order[: max(2, int(np.searchsorted(total, LARGE_SHARE * total[-1])) + 1)]]
    kinds = layout.options.kind[large]
    for _ in range(TRIES_TO_SWAP):
        a, b = rng.choice(len(large), 2, replace=False)
        if kinds[a] != kinds[b] and state.field[large[a]] == state.field[large[b]]:
            _exchange_places(layout, int(large[a]), int(large[b]), on)
            return True
    return False


def _exchange_places(layout: Layout, a: int, b: int, on: Ints) -> None:
    """Exchange the places of two items, with the small ones among `on` lying within each."""
    state = layout.state
    size = layout.shapes.hull_size[state.rows.shape[state.row]]
    step = np.array([state.x[b] - state.x[a], state.y[b] - state.y[a]])
    moves = {a: step, b: -step}
    for big, way in ((a, step), (b, -step)):
        box = state.body_box[big]
        for j in map(int, on):
            inside = box[0] <= state.x[j] <= box[2] and box[1] <= state.y[j] <= box[3]
            if j not in moves and inside and size[j] < 0.5 * size[big] and state.field[j] == state.field[big]:
                moves[j] = way
    for j, (dx, dy) in moves.items():
        shape, angle = int(state.rows.shape[state.row[j]]), float(state.angle[j])
        x, y = state.x[j] + dx, state.y[j] + dy
        put_body(layout.shapes, state, j, int(state.field[j]), shape, x, y, angle)
    layout.record_losses()
