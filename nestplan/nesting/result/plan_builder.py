"""A candidate made into a plan that the audit has checked: numbering, wider overcuts, reasons, figures."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from functools import cached_property

from msgspec.structs import replace

from nestplan.errors import WrongPlanError
from nestplan.model.audit import check
from nestplan.model.files import content_hash
from nestplan.model.plan import Figures, Placement, Plan, Source
from nestplan.nesting.candidate import Candidate
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.result.fault_removal import CopyKey, copy_key, faulty_copies, with_taken_out
from nestplan.nesting.result.mates import mates_near
from nestplan.nesting.result.overcut_widening import widened_overcuts
from nestplan.nesting.result.reasons import unplaced
from nestplan.nesting.result.set_numbering import number_sets, number_strips
from nestplan.yields import figures_of, with_bounds, with_measures

__all__ = ["PlanBuilder", "numbered_placements"]


BOUNDS_SECONDS = 0.5
BOUNDS_SHARE = 0.05
"""A search by the clock proves bounds on sets for so many seconds, and for this share of those asked, at most."""


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
        self._bounds_end: float | None = None
        self._counted: tuple[Sequence[Placement], Figures] | None = None

    def full(self, candidate: Candidate, *, deadline_passed: Callable[[], bool] = _never) -> Plan:
        """The plan of a candidate, with all that is to be said of it.

        Once the deadline has passed overcuts are no longer widened, reasons no longer tried for, offcuts no longer
        measured, and bounds those proven by then.
        """
        placements = widened_overcuts(candidate.problem, numbered_placements(candidate), stop=deadline_passed)
        self.prove_bounds(candidate, deadline_passed)
        return self._checked(
            placements, lambda sound: self._described(sound, measured=True, stop=deadline_passed)
        )

    def brief(self, candidate: Candidate) -> Plan:
        """The plan of a candidate as soon as can be: offcuts are not measured and reasons not looked for."""
        return self._brief(widened_overcuts(candidate.problem, numbered_placements(candidate)))

    def empty(self) -> Plan:
        """The plan with nothing but what is kept."""
        return self._brief(_in_order(self._problem, self._problem.keep))

    def _brief(self, placements: Sequence[Placement]) -> Plan:
        return self._checked(placements, lambda sound: self._described(sound, measured=False, stop=_always))

    def _described(
        self,
        placements: Sequence[Placement],
        *,
        measured: bool,
        stop: Callable[[], bool],
    ) -> Plan:
        """The plan with these placements, what it lacks and why, and its figures."""
        problem = self._problem
        plan = replace(
            self._bare_plan(),
            placements=tuple(placements),
            unplaced=unplaced(problem, placements, stop=stop),
        )
        proofs = problem.proofs
        figures = with_bounds(self._count(plan), proofs.sets_by_now(), proofs.hides_by_now())
        return replace(plan, figures=with_measures(figures, problem.job, stop=stop) if measured else figures)

    def _count(self, plan: Plan) -> Figures:
        """The figures of a plan, its offcuts not measured; those of the same placements are counted once."""
        problem, counted = self._problem, self._counted
        if counted is None or counted[0] != plan.placements:
            figures = figures_of(
                plan,
                problem.job,
                problem.hides,
                bounds=problem.proofs.sets_by_now(),
                rules=problem.rules,
                measured=False,
            )
            counted = self._counted = plan.placements, figures
        return counted[1]

    def prove_bounds(self, candidate: Candidate, deadline_passed: Callable[[], bool]) -> None:
        """Prove the bounds as far as a candidate leaves them open: by a search bounded by the clock within a time of
        their own."""
        if self._bounds_end is None:
            seconds = self._seconds
            allowed = math.inf if seconds is None else BOUNDS_SECONDS + BOUNDS_SHARE * seconds
            self._bounds_end = time.monotonic() + allowed
        end = self._bounds_end

        def stop() -> bool:
            return time.monotonic() > end or deadline_passed()

        proofs = self._problem.proofs
        proofs.fewest_hides(len(candidate.hides_used) if candidate.complete else None, stop)
        proofs.set_bounds(candidate.whole_sets, stop)

    def _bare_plan(self) -> Plan:
        """The plan without anything placed: what it was made from, and how."""
        job, hides = self._sources
        return Plan(
            name=job.name,
            job=job,
            hides=hides,
            goal=self._problem.goal.name,
            seed=self._seed,
            passes=self._passes,
            seconds=self._seconds,
        )

    @cached_property
    def _sources(self) -> tuple[Source, tuple[Source, ...]]:
        """Job and hides as a plan names them."""
        job, hides = self._problem.job, self._problem.hides
        return Source(name=job.name, hash=content_hash(job)), tuple(
            Source(name=hide.name, hash=content_hash(hide)) for hide in hides
        )

    def _checked(
        self, placements: Sequence[Placement], describe: Callable[[Sequence[Placement]], Plan]
    ) -> Plan:
        """The plan of placements once the audit finds nothing wrong in it.

        What is found wrong is a fault in nestplan; it is taken out, with the reason, and the rest is the plan. Raises
        WrongPlanError if what is kept is wrong by itself.
        """
        kept = {copy_key(placement) for placement in self._problem.keep}
        taken_out: dict[CopyKey, str] = {}
        while True:
            sound = [placement for placement in placements if copy_key(placement) not in taken_out]
            plan = describe(sound)
            faults = check(plan, self._problem.job, self._problem.hides)
            if not faults:
                return with_taken_out(plan, placements, taken_out)
            more = faulty_copies(sound, faults, kept)
            if not more:
                raise WrongPlanError(f"The plan breaks a rule: {faults[0]}", faults=faults)
            taken_out |= more


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
