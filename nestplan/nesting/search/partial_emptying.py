"""Emptying hides in part: cheap hides are filled with what lies on dear ones, as far as they have room.

For large offcuts where no hide in use can be saved: what is left over then lies together, on the hide that is worth
most. Chains of moves as when hides are emptied whole; what finds no place on the cheaper hides goes back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from nestplan.nesting.candidate import Candidate
from nestplan.nesting.construct.lay import lay
from nestplan.nesting.construct.prepared_problem import PreparedProblem, hardest_first
from nestplan.nesting.context import SearchContext
from nestplan.nesting.problem import Bools, Poses
from nestplan.nesting.search.ejection import EjectionRun, EjectionStart, with_pool
from nestplan.nesting.search.insertion import place_poses
from nestplan.nesting.search.parallel import SEARCHES, advance_together

__all__ = ["on_cheap_hides_first"]


def on_cheap_hides_first(candidate: Candidate, context: SearchContext, until: float) -> Candidate:
    """The candidate with less on the dear ones of the hides in use, the dearest emptied first, as far as is found until
    that share of the budget is used up. What lies on hides that lie fixed or are not in use stays."""
    problem, budget = candidate.problem, context.budget
    used = sorted(candidate.fields_used, key=lambda field: (-problem.cost(field), field))
    begun = budget.fraction_used()
    if len(used) < 2 or begun >= until:
        return candidate
    emptying = _PartialEmptying(candidate, context)
    for number, field in enumerate(used[:-1]):
        emptying.empty(field, used[number + 1 :], begun + (until - begun) * (number + 1) / (len(used) - 1))
    return emptying.candidate


class _PartialEmptying:
    """A candidate whose dear hides are emptied one after another."""

    def __init__(self, candidate: Candidate, context: SearchContext) -> None:
        self.candidate, self.context = candidate, context
        self.layout = candidate.layout
        self.size = candidate.problem.set_targets.size
        self.prepared = PreparedProblem.from_layout(self.layout)
        if not len(self.layout.state.pool.known):
            with_pool(self.layout, context.pool, seed=context.seed, stop=context.budget.deadline_passed)

    def empty(self, field: int, others: Sequence[int], until: float) -> None:
        """Bring what lies on a hide onto others until that share of the budget is used up."""
        budget, layout = self.context.budget, self.layout
        start = self._start(field, others)
        runs = [
            EjectionRun(
                layout.copy(seed=self.context.seed * 1000 + k),
                start,
                seed=(self.context.seed, 55, field, k),
                number=k,
            )
            for k in range(SEARCHES)
        ]
        least = runs[0].least_waiting
        while not budget.is_spent() and budget.fraction_used() < until:
            succeeded = advance_together(runs, budget, self.context.pool)
            budget.count_pass()
            nearest = min(runs, key=lambda run: run.least_waiting)
            if nearest.least_waiting < least:
                layout.restore(nearest.best)
                if self._keep_with_rest_on(field, others):
                    least = nearest.least_waiting
            if any(succeeded):
                return

    def _start(self, field: int, others: Sequence[int]) -> EjectionStart:
        """What lies on the others as it is, and what lies on the hide waiting; hides dearer than it are left out."""
        poses = self.candidate.poses
        is_open: Bools = np.isin(np.arange(len(self.layout.problem.fields)), others)
        stays = np.isin(poses.field, others)
        place_poses(self.layout, replace(poses, field=np.where(stays, poses.field, -1)))
        waiting = np.flatnonzero(poses.field == field).tolist()
        return EjectionStart(self.layout.snapshot(), waiting, is_open, self.size)

    def _keep_with_rest_on(self, field: int, others: Sequence[int]) -> bool:
        """Lay what the layout leaves out on the hide; whether all of it found a place there. It is kept then."""
        before, found = self.candidate.poses, self.layout.poses()
        moved = np.isin(before.field, [field, *others])
        rest = np.flatnonzero(moved & (found.field < 0))
        laid = lay(
            self.prepared,
            order=hardest_first(self.prepared, rest.tolist()),
            start=found,
            seed=self.context.seed,
            fields={field},
            pool=self.context.pool,
            stop=lambda _: self.context.budget.deadline_passed(),
        )
        if (laid.field[rest] < 0).any():
            return False
        self.candidate = replace(self.candidate, poses=_merged(moved, laid, before), stale_strips=True)
        self.context.publish_improvement(self.candidate)
        return True


def _merged(first: Bools, one: Poses, other: Poses) -> Poses:
    """Poses of one for the items of `first (I,)`, of the other for the rest."""
    return Poses(
        np.where(first, one.x, other.x),
        np.where(first, one.y, other.y),
        np.where(first, one.angle, other.angle),
        np.where(first, one.flipped, other.flipped),
        np.where(first, one.field, other.field),
    )
