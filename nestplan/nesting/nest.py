"""The engine's front door: a job and hides in, a plan out that was checked independently."""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

from nestplan.errors import InputError
from nestplan.model.goals import COMPLETE, HideEdge, find_goal
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Placement, Plan
from nestplan.nesting.budget import SearchBudget, StopRule
from nestplan.nesting.construct.first_candidate import first_candidate, with_exact_outlines
from nestplan.nesting.construct.strip_completion import with_strips_completed
from nestplan.nesting.context import SearchContext
from nestplan.nesting.kept import refuse_wrong_keep
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.progress import Observer
from nestplan.nesting.result.plan_builder import PlanBuilder
from nestplan.nesting.result.publisher import PlanPublisher, plan_in_time
from nestplan.nesting.steps import improved

__all__ = ["nest"]


def nest(
    job: Job,
    hides: Sequence[Hide],
    *,
    goal: str = COMPLETE.name,
    seconds: float | None = None,
    passes: int | None = None,
    seed: int = 0,
    keep: Sequence[Placement] = (),
    stop: StopRule | None = None,
    observer: Observer | None = None,
    workers: int | None = None,
    toward: HideEdge | None = None,
) -> Plan:
    """A plan for `job` on `hides`, checked by the audit.

    `goal` is one of `nestplan.model.goals`: `complete` places all that is asked on as few or cheap hides as it can;
    `fill` as many whole sets as fit, beyond those asked; `gather` places all and leaves one large offcut, the used
    part drawn `toward` an edge of each hide (None: whichever leaves most). The search ends after `seconds`, or after
    `passes` of improvement (then the same seed gives the same plan, on any number of `workers`), or with neither after
    the first candidate. Whenever `stop` says so, the best plan made so far comes back at once; before the first one
    that is a plan with nothing on it. With `seconds` or `stop` the observer is called from another thread. Placements
    in `keep` stay where they are.

    Raises InputError where there is nothing to plan on or no such goal, RuleError if what is kept breaks a rule.
    """
    if not hides:
        raise InputError("There is no hide to plan on.", place="hides", mend="Give at least one.")
    chosen = find_goal(goal)
    budget = SearchBudget(seconds=seconds, passes=passes, stop=stop, observer=observer)
    refuse_wrong_keep(job, hides, keep, chosen)
    problem = with_strips_completed(LeatherProblem(job, tuple(hides), tuple(keep), chosen))
    publisher = PlanPublisher(PlanBuilder(problem, seed, passes, seconds), budget)

    def search() -> Plan:
        with ThreadPoolExecutor(workers or os.cpu_count() or 1) as pool:
            context = SearchContext(budget, pool, seed, toward, publisher.offer)
            candidate = with_exact_outlines(first_candidate(problem, context), context)
            candidate = with_exact_outlines(improved(candidate, context), context)
        budget.update(ended=budget.why_ended())
        budget.begin_stage("check")
        budget.update(**candidate.progress_counts)
        return publisher.final(candidate)

    budget.observer.on_start(budget.progress)
    plan = plan_in_time(search, publisher, budget)
    budget.update(ended=budget.progress.ended or budget.why_ended())
    budget.observer.on_end(budget.progress)
    return plan
