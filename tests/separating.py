"""Separation on its own, for tests and benchmarks of the engine: until nothing overlaps, or with one item more.

The product runs it in rounds, several side by side.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.arrays.search_kernels import FEASIBLE
from nestplan.nesting.search.separation import SeparationEffort, SeparationRun, never, place_where_best

INSERTION_SAMPLES = 8
"""How many times as many poses as for a move are drawn over the whole field for an item that comes in."""


def separate(
    layout: Layout,
    *,
    stop: Callable[[float], bool] = never,
    poses: int | None = None,
    effort: SeparationEffort = SeparationEffort(),
    poses_between_stops: int = 20_000,
) -> bool:
    """Move the movable items until no placed item overlaps another or leaves its areas; whether that was reached.

    On failure the layout is left at the poses of least total loss. `stop(loss)` is asked with the least loss so
    far, several times a second. With `poses` the run ends after about that many poses judged, so that it is the same
    for the same seed. Weights start from one.
    """
    layout.reset_weights()
    run = SeparationRun(layout, effort)
    left = np.inf if poses is None else poses
    while True:
        before = run.poses_judged
        how = run.advance(int(min(poses_between_stops, left)))
        left -= run.poses_judged - before
        if how == FEASIBLE:
            return True
        if run.given_up or left <= 0 or stop(run.least_loss):
            run.back_to_best()
            return False


def insert(
    layout: Layout,
    item: int,
    *,
    stop: Callable[[float], bool] = never,
    poses: int | None = None,
    effort: SeparationEffort = SeparationEffort(),
) -> bool:
    """Lay one more item where it overlaps least, then separate; on failure all is put back. Whether it lies.

    The other movable items may move; those that are not and fixed rings do not.
    """
    before = layout.snapshot()
    layout.reset_weights()
    loss = place_where_best(layout, item, INSERTION_SAMPLES * effort.anywhere, effort.nearby)
    if loss is None:
        return False
    if loss == 0.0 or separate(layout, stop=stop, poses=poses, effort=effort):
        return True
    layout.restore(before)
    return False
