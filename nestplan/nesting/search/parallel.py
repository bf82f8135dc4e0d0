"""Several searches side by side that try the same change, each with chances of its own.

What lives here: the best layout so far, and attempts to change it that end in a layout without overlap or are undone.
What does not: which change to try (`goals`), how overlap is removed (`separate`).

Work goes in rounds of a fixed number of poses judged. After each round the first member that succeeded is followed
by all, so what is found depends on the seed and the number of rounds alone, not on the number of threads.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait

import numpy as np

from nestplan.nesting.arrays.layout import Layout, Snapshot
from nestplan.nesting.arrays.search_kernels import FEASIBLE, HALT
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.search.separation import Effort, Run

__all__ = ["Change", "ParallelSearch"]

MEMBERS = 2
ROUND = 40_000
"""Poses judged by each member in a round: some 0.1 to 0.2 s."""

Change = Callable[[Layout, np.random.Generator], bool]
"""A change to a layout that may leave it with overlaps; False where it cannot be tried at all."""


class ParallelSearch:
    """Layouts of one problem that work on the same best poses. `layout` must be feasible."""

    def __init__(
        self,
        layout: Layout,
        watch: SearchBudget,
        pool: ThreadPoolExecutor,
        *,
        seed: int = 0,
        effort: Effort | None = None,
    ) -> None:
        self.layout = layout
        self.watch = watch
        self.pool = pool
        self.best: Snapshot = layout.snapshot()
        self.members = [layout.copy(seed=seed * 1000 + k) for k in range(MEMBERS)]
        self.rngs = [np.random.default_rng([seed, k]) for k in range(MEMBERS)]
        self.effort = effort or Effort(patience=60, strikes=2)

    def adopt(self, snapshot: Snapshot) -> None:
        """Take poses without overlap as the best."""
        self.best = snapshot
        self.layout.restore(snapshot)

    def attempt(self, change: Change, rounds: int) -> bool:
        """Try a change for at most so many rounds; whether it succeeded and its poses are now the best.

        A failure counts as one pass at least, so that a search bounded by passes comes to its end.
        """
        runs: list[Run | None] = []
        for member, rng in zip(self.members, self.rngs, strict=True):
            member.restore(self.best)
            member.reset_weights()
            runs.append(Run(member, self.effort) if change(member, rng) else None)
        if self._follow(runs, [run is not None and run.layout.feasible() for run in runs]):
            return True
        for done_rounds in range(rounds):
            live = [run for run in runs if run is not None and not run.given_up]
            if not live or self.watch.is_spent():
                if not done_rounds:
                    self.watch.count_pass()
                return False
            done = self._round(live)
            self.watch.count_pass()
            if self._follow(live, done):
                return True
        return False

    def _round(self, live: list[Run]) -> list[bool]:
        """One round of all members; ended early when the watch is over."""
        jobs = [self.pool.submit(run.go, ROUND) for run in live]
        halted = False
        while wait(jobs, timeout=0.04).not_done:
            if (not halted and self.watch.passes is None and self.watch.is_spent()) or self.watch.cancelled():
                halted = True
                for run in live:
                    run.layout.state.tally[HALT] = 1
        done = [job.result() == FEASIBLE for job in jobs]
        for run in live:
            run.layout.state.tally[HALT] = 0
        return done

    def _follow(self, runs: list[Run | None] | list[Run], done: list[bool]) -> bool:
        for run, success in zip(runs, done, strict=True):
            if run is not None and success:
                self.adopt(run.layout.snapshot())
                return True
        return False
