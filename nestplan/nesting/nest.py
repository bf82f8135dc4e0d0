"""The engine's front door: a job and hides in, a plan out that GEOS has judged.

The body of `nest` reads as the algorithm. Not here: each of its steps, when to stop (`stopping`), who watches
(`observing`), what is handed out when the search is ended early (`ready`).
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Literal

from nestplan.errors import InputError
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Placement, Plan
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.construct.candidate import first_draft, standing
from nestplan.nesting.context import SearchContext, Toward
from nestplan.nesting.goals import GOALS
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.progress import Observer
from nestplan.nesting.result.plan_builder import PlanBuilder
from nestplan.nesting.result.publisher import PlanPublisher, wait_for
from nestplan.nesting.stop_rules import StopRule

__all__ = ["Goal", "Toward", "nest"]

Goal = Literal["complete", "fill", "gather"]


def nest(
    job: Job,
    hides: Sequence[Hide],
    *,
    goal: Goal = "complete",
    seconds: float | None = None,
    passes: int | None = None,
    seed: int = 0,
    keep: Sequence[Placement] = (),
    stop: StopRule | None = None,
    observer: Observer | None = None,
    workers: int | None = None,
    toward: Toward | None = None,
) -> Plan:
    """A plan for `job` on `hides`, checked by the audit.

    `complete` places all that is asked on as few or cheap hides as it can; `fill` as many whole sets as fit, beyond
    those asked; `gather` places all and leaves one large offcut, the used part drawn `toward` a side of each hide
    (None: whichever leaves most). The search ends after `seconds`, or after `passes` of improvement (then the same
    seed gives the same plan, on any number of `workers`), or with neither after the first answer. Whenever `stop`
    says so, the best plan made so far comes back at once; before the first answer that is one with nothing on it.
    With `seconds` or `stop` the observer is called from another thread. Placements in `keep` stay where they are.
    Raises InputError where there is nothing to plan on, WrongPlanError if the audit refuses our own plan, which
    would be a bug.
    """
    if not hides:
        raise InputError("There is no hide to plan on.", place="hides", mend="Give at least one.")
    watch = SearchBudget(seconds=seconds, passes=passes, stop=stop, observer=observer)
    task = LeatherProblem(job, tuple(hides), tuple(keep), beyond=goal == "fill")
    ready = PlanPublisher(PlanBuilder(task, goal, seed, passes, seconds), watch)
    watch.observer.on_start(watch.progress)

    def search() -> Plan:
        with ThreadPoolExecutor(workers or os.cpu_count() or 1) as pool:
            work = SearchContext(watch, pool, seed, toward, ready.offer)
            draft = first_draft(task, work, widen=goal == "complete")
            draft = GOALS[goal](draft, work)
        watch.stage("check")
        watch.note(**standing(draft))
        return ready.last(draft)

    plan = wait_for(search, ready, watch)
    watch.note()
    watch.observer.on_end(watch.progress)
    return plan
