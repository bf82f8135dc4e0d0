"""A candidate made into a plan that the audit has checked: numbering, wider overcuts, reasons, figures."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Sequence

from msgspec.structs import replace

from nestplan.errors import WrongPlanError
from nestplan.model.audit import check
from nestplan.model.files import content_hash
from nestplan.model.plan import Placement, Plan, Source
from nestplan.nesting.candidate import Candidate
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.result.mates import mates_near
from nestplan.nesting.result.overcut_widening import widened_overcuts
from nestplan.nesting.result.reasons import unplaced
from nestplan.nesting.result.set_numbering import number_sets, number_strips
from nestplan.yields import SetBound, figures_of, set_bounds

__all__ = ["PlanBuilder", "numbered_placements"]


def _never() -> bool:
    return False


def _always() -> bool:
    return True


class PlanBuilder:
    """Makes plans of the candidates of one search, in any thread."""

    def __init__(self, problem: LeatherProblem, seed: int, passes: int | None, seconds: float | None) -> None:
        self._problem = problem
        self._seed = seed
        self._passes = passes
        self._seconds = seconds
        self._bounds: tuple[SetBound, ...] | None = None
        self._bounds_lock = threading.Lock()

    def full(self, candidate: Candidate, *, deadline_passed: Callable[[], bool] = _never) -> Plan:
        """The plan of a candidate, with all that is to be said of it.

        Reasons are no longer looked for, nor overcuts widened, once the deadline has passed. Raises WrongPlanError if
        the audit refuses the plan.
        """
        problem = candidate.problem
        placements = widened_overcuts(problem, numbered_placements(candidate), stop=deadline_passed)
        plan = replace(
            self._bare_plan(),
            placements=tuple(placements),
            unplaced=unplaced(problem, placements, stop=deadline_passed),
        )
        figures = figures_of(plan, problem.job, problem.hides, bounds=self._proven_bounds())
        return self._checked(replace(plan, figures=figures))

    def brief(self, candidate: Candidate) -> Plan:
        """The plan of a candidate as soon as can be: offcuts are not measured and reasons not looked for.

        Raises WrongPlanError if the audit refuses the plan.
        """
        return self._brief(widened_overcuts(candidate.problem, numbered_placements(candidate)))

    def empty(self) -> Plan:
        """The plan with nothing but what is kept."""
        return self._brief(_in_order(self._problem, self._problem.keep))

    def _brief(self, placements: Sequence[Placement]) -> Plan:
        problem = self._problem
        missing = unplaced(problem, placements, stop=_always)
        plan = replace(self._bare_plan(), placements=tuple(placements), unplaced=missing)
        bounds = self._bounds or self._bounds_by_area()
        figures = figures_of(plan, problem.job, problem.hides, bounds=bounds, measured=False)
        return self._checked(replace(plan, figures=figures))

    def _proven_bounds(self) -> tuple[SetBound, ...]:
        """The proven bounds on sets, worked out once."""
        with self._bounds_lock:
            if self._bounds is None:
                self._bounds = set_bounds(self._problem.job, self._problem.hides)
            return self._bounds

    def _bounds_by_area(self) -> tuple[SetBound, ...]:
        """Bounds that area alone gives: less tight, and at hand at once."""
        job, room = self._problem.job, sum(hide.gross_area for hide in self._problem.hides)
        found = []
        for number, article in enumerate(job.articles):
            pieces = [p for p in job.cut_pieces if p.article == number]
            need = sum(p.piece.net_area * p.piece.count for p in pieces)
            need += sum(strip.count * strip.length * strip.width for strip in article.strips)
            found.append(SetBound(article.name, math.floor(room / need), "area"))
        return tuple(found)

    def _bare_plan(self) -> Plan:
        """The plan without anything placed: what it was made from, and how."""
        job = self._problem.job
        return Plan(
            name=job.name,
            job=Source(name=job.name, hash=content_hash(job)),
            hides=tuple(Source(name=hide.name, hash=content_hash(hide)) for hide in self._problem.hides),
            goal=self._problem.goal.name,
            seed=self._seed,
            passes=self._passes,
            seconds=self._seconds,
        )

    def _checked(self, plan: Plan) -> Plan:
        faults = check(plan, self._problem.job, self._problem.hides)
        if faults:
            raise WrongPlanError(f"The plan breaks a rule: {faults[0]}", faults=faults)
        return plan


def numbered_placements(candidate: Candidate) -> list[Placement]:
    """Everything that has a place, with copies and sets, in the order of hide, kind and copy."""
    problem = candidate.problem
    job, keep = problem.job, problem.keep
    strips = number_strips([*candidate.strips_first, *candidate.strips_last], job, keep)
    pieces = mates_near(job, number_sets(problem, candidate.pieces), keep)
    return _in_order(problem, [*keep, *strips, *pieces])


def _in_order(problem: LeatherProblem, placements: Sequence[Placement]) -> list[Placement]:
    order = {hide.name: number for number, hide in enumerate(problem.hides)}
    return sorted(
        placements, key=lambda p: (order.get(p.hide, 0), not p.strip, p.set, p.name, p.layer, p.copy, p.part)
    )
