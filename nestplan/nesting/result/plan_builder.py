"""A draft made into a plan that the audit has judged: numbering, wider overcuts, reasons, figures.

What lives here: the plan's words and numbers, in full or in brief. What does not: the search for the draft, and who
waits for the plan (`ready`).
"""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from msgspec.structs import replace

from nestplan.errors import WrongPlanError
from nestplan.model.audit import check
from nestplan.model.files import content_hash
from nestplan.model.plan import Placement, Plan, Source
from nestplan.nesting.construct.candidate import Candidate
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.result.mates import mates_near
from nestplan.nesting.result.overcut_widening import widened
from nestplan.nesting.result.reasons import unplaced
from nestplan.nesting.result.set_numbering import number_sets, number_strips
from nestplan.yields import SetBound, figures_of, set_bounds

__all__ = ["PlanBuilder"]


@dataclass(frozen=True, eq=False)
class PlanBuilder:
    """Makes plans of the drafts of one search."""

    task: LeatherProblem
    goal: Literal["complete", "fill", "gather"]
    seed: int
    passes: int | None
    seconds: float | None
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def full(self, draft: Candidate, *, late: Callable[[], bool] = lambda: False) -> Plan:
        """The plan of a draft, with all that is to be said of it; reasons are not looked into any more once `late`.

        Raises WrongPlanError if the audit refuses it.
        """
        placements = widened(draft.task, finished(draft), stop=late)
        plan = replace(
            self._empty(), placements=tuple(placements), unplaced=unplaced(draft.task, placements, stop=late)
        )
        figures = figures_of(plan, self.task.job, self.task.hides, bounds=self.bounds)
        return self._checked(replace(plan, figures=figures))

    def brief(self, draft: Candidate | None) -> Plan:
        """The plan of a draft as soon as can be (of none: with nothing but what is kept):
        offcuts are not measured and reasons not looked into. Raises WrongPlanError if the audit refuses it."""
        task = self.task if draft is None else draft.task
        placements = _in_order(task, task.keep) if draft is None else widened(task, finished(draft))
        missing = unplaced(task, placements, stop=lambda: True)
        plan = replace(self._empty(), placements=tuple(placements), unplaced=missing)
        bounds = self.__dict__.get("bounds") or self._bounds_by_area()
        figures = figures_of(plan, self.task.job, self.task.hides, bounds=bounds, measured=False)
        return self._checked(replace(plan, figures=figures))

    @cached_property
    def bounds(self) -> tuple[SetBound, ...]:
        """The proven bounds on sets, worked out once."""
        with self._lock:
            return self.__dict__.get("bounds") or set_bounds(self.task.job, self.task.hides)

    def _bounds_by_area(self) -> tuple[SetBound, ...]:
        """Bounds that area alone gives: less tight, and at hand at once."""
        job, room = self.task.job, sum(hide.gross_area for hide in self.task.hides)
        found = []
        for number, article in enumerate(job.articles):
            pieces = [p for p in job.cut_pieces if p.article == number]
            need = sum(p.piece.net_area * p.piece.count for p in pieces)
            need += sum(strip.count * strip.length * strip.width for strip in article.strips)
            found.append(SetBound(article.name, math.floor(room / need), "area"))
        return tuple(found)

    def is_last(self, draft: Candidate) -> bool:
        """Whether the search has nothing to better in a draft: it is complete on the only hide, and no more is
        asked."""
        return self.goal == "complete" and draft.complete and len(self.task.hides) == 1

    def _empty(self) -> Plan:
        job = self.task.job
        return Plan(
            name=job.name,
            job=Source(name=job.name, hash=content_hash(job)),
            hides=tuple(Source(name=hide.name, hash=content_hash(hide)) for hide in self.task.hides),
            goal=self.goal,
            seed=self.seed,
            passes=self.passes,
            seconds=self.seconds,
        )

    def _checked(self, plan: Plan) -> Plan:
        faults = check(plan, self.task.job, self.task.hides)
        if faults:
            raise WrongPlanError(f"The plan breaks a rule: {faults[0]}", faults=faults)
        return plan


def finished(draft: Candidate) -> list[Placement]:
    """Everything that lies, with copies and sets, in the order of hide, kind and copy."""
    task = draft.task
    strips = number_strips([*draft.before, *draft.after], task.job, task.keep)
    pieces = mates_near(task.job, number_sets(task, draft.pieces), task.keep)
    return _in_order(task, [*task.keep, *strips, *pieces])


def _in_order(task: LeatherProblem, placed: Sequence[Placement]) -> list[Placement]:
    order = {hide.name: number for number, hide in enumerate(task.hides)}
    return sorted(
        placed, key=lambda p: (order.get(p.hide, 0), not p.strip, p.set, p.name, p.layer, p.copy, p.part)
    )
