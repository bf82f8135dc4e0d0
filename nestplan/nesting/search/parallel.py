"""Several searches side by side that try the same change, each with chances of its own.

They keep the best layout so far, and attempt changes to it that end in a layout without overlap or are undone. Work
goes in rounds of a fixed number of poses judged. After each round the first search that succeeded is followed by all,
so what is found depends on the seed and the number of rounds alone, not on the number of threads.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from typing import Protocol

import numpy as np

from nestplan.nesting.arrays.layout import Layout, Snapshot
from nestplan.nesting.arrays.search_kernels import FEASIBLE
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.search.separation import SeparationEffort, SeparationRun

__all__ = ["SEARCHES", "LayoutChange", "ParallelSearch", "Run", "advance_together"]

SEARCHES = 2

POSES_PER_ROUND = 40_000
"""Poses judged by each search in a round: some 0.1 to 0.2 s."""

SECONDS_BETWEEN_LOOKS = 0.04
"""How often the budget is looked at during a round."""

LayoutChange = Callable[[Layout, np.random.Generator], bool]
"""A change to a layout that may leave it with overlaps; False where it cannot be tried at all."""


class Run(Protocol):
    """What goes on for some poses judged at a time, and can be told from another thread to end soon."""

    def advance(self, poses: int) -> int:
        """Go on for about so many poses judged; FEASIBLE where it succeeded."""

    def halt(self) -> None:
        """End soon."""

    def resume(self) -> None:
        """Be ready to go on after a halt."""


def advance_together(
    runs: Sequence[Run], budget: SearchBudget, pool: ThreadPoolExecutor, poses: int = POSES_PER_ROUND
) -> list[bool]:
    """One round of all runs side by side, ended early when the budget is over; which of them succeeded."""
    jobs = [pool.submit(run.advance, poses) for run in runs]
    halted = False
    while wait(jobs, timeout=SECONDS_BETWEEN_LOOKS).not_done:
        clock_over = not halted and budget.passes is None and budget.is_spent()
        if clock_over or budget.cancelled():
            halted = True
            for run in runs:
                run.halt()
    succeeded = [job.result() == FEASIBLE for job in jobs]
    for run in runs:
        run.resume()
    return succeeded


class ParallelSearch:
    """Layouts of one problem that work on the same best poses. `layout` must be feasible."""

    def __init__(
        self,
        layout: Layout,
        budget: SearchBudget,
        pool: ThreadPoolExecutor,
        *,
        seed: int = 0,
        effort: SeparationEffort | None = None,
    ) -> None:
        self.layout = layout
        self.budget = budget
        self.pool = pool
        self.best: Snapshot = layout.snapshot()
        self.copies = [layout.copy(seed=seed * 1000 + k) for k in range(SEARCHES)]
        self.rngs = [np.random.default_rng([seed, k]) for k in range(SEARCHES)]
        self.effort = effort or SeparationEffort(passes_without_gain=60, stalls=2)

    def adopt(self, snapshot: Snapshot) -> None:
        """Take poses without overlap as the best."""
        self.best = snapshot
        self.layout.restore(snapshot)

    def attempt(self, change: LayoutChange, rounds: int) -> bool:
        """Try a change for at most so many rounds; whether it succeeded and its poses are now the best.

        A failure counts as one pass at least, so that a search bounded by passes comes to its end.
        """
        runs = []
        for copy, rng in zip(self.copies, self.rngs, strict=True):
            copy.restore(self.best)
            copy.reset_weights()
            if change(copy, rng):
                runs.append(SeparationRun(copy, self.effort))
        if self._adopt_first(runs, [run.layout.feasible() for run in runs]):
            return True
        for made in range(rounds):
            going = [run for run in runs if not run.given_up]
            if not going or self.budget.is_spent():
                if not made:
                    self.budget.count_pass()
                return False
            succeeded = advance_together(going, self.budget, self.pool)
            self.budget.count_pass()
            if self._adopt_first(going, succeeded):
                return True
        return False

    def _adopt_first(self, runs: Sequence[SeparationRun], succeeded: Sequence[bool]) -> bool:
        """Take the poses of the first run that succeeded as the best; whether one did."""
        for run, success in zip(runs, succeeded, strict=True):
            if success:
                self.adopt(run.layout.snapshot())
                return True
        return False
