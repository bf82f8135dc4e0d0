"""Separate: take a layout whose items overlap, and remove all overlap by guided local search.

What lives here: one run of Separate with its restarts, inserting one more item into a full layout, and shaking a
layout that is stuck. What does not: the moves themselves (`move_kernels`), and goals such as `gather`.

After Umetani et al. (2009), Imamichi et al. (2009), and Gardeyn, Vanden Berghe and Wauters (2025), whose scheme of
passes, strikes and disruption is followed in outline.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from nestplan.nesting.arrays.layout import Layout, Spot
from nestplan.nesting.arrays.pose_kernels import put_row, record_all
from nestplan.nesting.arrays.search_kernels import (
    FEASIBLE,
    STUCK,
    begin_run,
    return_to_best,
    run_passes,
    seek,
)

__all__ = ["Effort", "insert", "separate", "swap_large"]


@dataclass(frozen=True)
class Effort:
    """How hard Separate tries: poses sampled for each move over the whole field and nearby, passes without gain
    before a strike, strikes before it gives up, and poses judged between two looks at `stop`."""

    wide: int = 20
    near: int = 10
    patience: int = 100
    strikes: int = 3
    slice: int = 20_000


def never(_: float) -> bool:
    """A stop rule that never stops."""
    return False


def separate(
    layout: Layout,
    *,
    stop: Callable[[float], bool] = never,
    evaluations: int | None = None,
    effort: Effort = Effort(),
) -> bool:
    """Move the active items until no placed item overlaps another or leaves its areas; whether that was reached.

    On failure the layout is left at the poses of least total loss. `stop(total)` is asked with the least loss so
    far, several times a second. With `evaluations` the run ends after about that many poses judged, so that it
    is the same for the same seed. Weights start from one.
    """
    layout.reset_weights()
    run = Run(layout, effort)
    left = np.inf if evaluations is None else evaluations
    while True:
        budget = int(min(effort.slice, left))
        before = run.judged
        how = run.go(budget)
        left -= run.judged - before
        if how == FEASIBLE:
            return True
        if run.given_up or left <= 0 or stop(run.least):
            run.back_to_best()
            return False


class Run:
    """One run of passes on a layout that may be interrupted and taken up again; counts its own strikes."""

    def __init__(self, layout: Layout, effort: Effort) -> None:
        self.layout = layout
        self.effort = effort
        self.restart()

    def restart(self) -> None:
        """Begin anew from the poses as they are."""
        begin_run(self.layout.state)
        self.strikes = 0
        self._struck_at = np.inf

    @property
    def judged(self) -> int:
        """Poses judged so far by this layout's state."""
        return int(self.layout.state.tally[0])

    @property
    def least(self) -> float:
        """Least total loss of the run."""
        return float(self.layout.state.best_total[0])

    @property
    def given_up(self) -> bool:
        """Whether all strikes are used up."""
        return self.strikes >= self.effort.strikes

    def go(self, evaluations: int) -> int:
        """Go on for about so many poses judged: FEASIBLE, SPENT or STUCK (a strike; the best poses are back)."""
        lay, effort = self.layout, self.effort
        how = run_passes(
            lay.shapes,
            lay.areas,
            lay.pieces,
            lay.state,
            effort.wide,
            effort.near,
            evaluations,
            effort.patience,
        )
        if how == STUCK:
            self.strikes = 1 if self.least < 0.98 * self._struck_at else self.strikes + 1
            self._struck_at = self.least
            self.back_to_best()
            lay.state.tally[2:5] = 0
        return int(how)

    def back_to_best(self) -> None:
        """Put the active items where the total loss was least."""
        lay = self.layout
        return_to_best(lay.shapes, lay.areas, lay.pieces, lay.state)


def insert(
    layout: Layout,
    item: int,
    *,
    stop: Callable[[float], bool] = never,
    evaluations: int | None = None,
    effort: Effort = Effort(),
) -> bool:
    """Lay one more item where it overlaps least, then separate; on failure all is put back. Whether it lies.

    The other active items may move; inactive ones and fixed rings do not.
    """
    before = layout.snapshot()
    state = layout.state
    layout.reset_weights()
    wide = 8 * effort.wide
    place = seek(layout.shapes, layout.areas, layout.pieces, state, item, wide, effort.near)
    loss, allow, x, y, angle = (float(value) for value in state.tops[place, :5])
    if not np.isfinite(loss):
        return False
    layout.place(item, Spot(int(allow), x, y, angle))
    if loss == 0.0 or separate(layout, stop=stop, evaluations=evaluations, effort=effort):
        return True
    layout.restore(before)
    return False


def swap_large(layout: Layout, rng: np.random.Generator) -> bool:
    """Let two large active items of different kinds on one field change places; whether there were two.

    Large are those that, from the greatest down, make up three quarters of the hulls' area. Small items that lie
    within the hull box of one of the two go along with it.
    """
    state = layout.state
    on = np.flatnonzero(layout.placed() & state.active[: layout.items])
    if len(on) < 2:
        return False
    size = layout.shapes.scale[state.shape[state.row[on]]] ** 2
    order = np.argsort(-size, kind="stable")
    reach = np.cumsum(size[order])
    large = on[order[: max(2, int(np.searchsorted(reach, 0.75 * reach[-1])) + 1)]]
    kinds = layout.pieces.kind[large]
    for _ in range(20):
        a, b = rng.choice(len(large), 2, replace=False)
        if kinds[a] != kinds[b] and state.field[large[a]] == state.field[large[b]]:
            break
    else:
        return False
    _exchange(layout, int(large[a]), int(large[b]), on)
    return True


def _exchange(layout: Layout, a: int, b: int, on: np.ndarray) -> None:
    """Exchange the places of two items, with the small ones lying within each."""
    state = layout.state
    size = layout.shapes.scale[state.shape[state.row]]
    step = np.array([state.x[b] - state.x[a], state.y[b] - state.y[a]])
    moves = {a: step, b: -step}
    for big, way in ((a, step), (b, -step)):
        box = state.world[big]
        for j in map(int, on):
            inside = box[0] <= state.x[j] <= box[2] and box[1] <= state.y[j] <= box[3]
            if j not in moves and inside and size[j] < 0.5 * size[big] and state.field[j] == state.field[big]:
                moves[j] = way
    for j, (dx, dy) in moves.items():
        shape, angle = int(state.shape[state.row[j]]), float(state.angle[j])
        put_row(layout.shapes, state, j, int(state.field[j]), shape, state.x[j] + dx, state.y[j] + dy, angle)
    record_all(layout.shapes, layout.areas, layout.pieces, state)
