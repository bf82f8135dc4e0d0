"""The engine's front door: a job and hides in, a plan out that GEOS has judged.

The body of `nest` reads as the algorithm. Not here: each of its steps, when to stop (`stopping`), who watches
(`observing`).
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Literal

from msgspec.structs import replace

from nestplan.errors import InputError, WrongPlanError
from nestplan.model.audit import check
from nestplan.model.files import content_hash
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Placement, Plan, Source
from nestplan.nesting.draft import Draft, first_draft, standing
from nestplan.nesting.goals import GOALS, Toward, Work
from nestplan.nesting.observing import Observer
from nestplan.nesting.polish import widened
from nestplan.nesting.reasons import unplaced
from nestplan.nesting.sets import number_sets, number_strips
from nestplan.nesting.stopping import StopRule
from nestplan.nesting.task import Task
from nestplan.nesting.watch import Watch
from nestplan.yields import figures_of

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
    seed gives the same plan, on any number of `workers`), or with neither after the first answer; and whenever
    `stop` says so: the best plan so far comes back. Placements in `keep` stay where they are. Raises InputError
    where there is nothing to plan on, WrongPlanError if the audit refuses our own plan, which would be a bug.
    """
    if not hides:
        raise InputError("There is no hide to plan on.", place="hides", mend="Give at least one.")
    watch = Watch(seconds=seconds, passes=passes, stop=stop, observer=observer)
    task = Task(job, tuple(hides), tuple(keep), beyond=goal == "fill")
    watch.observer.on_start(watch.progress)
    with ThreadPoolExecutor(workers or os.cpu_count() or 1) as pool:
        draft = first_draft(task, watch, pool, seed, widen=goal == "complete")
        draft = GOALS[goal](draft, Work(watch, pool, seed, toward))
    placements = finished(draft)
    if not watch.called_off():
        placements = widened(task, placements)
    plan = Plan(
        name=job.name,
        job=Source(name=job.name, hash=content_hash(job)),
        hides=tuple(Source(name=hide.name, hash=content_hash(hide)) for hide in hides),
        goal=goal,
        seed=seed,
        passes=passes,
        seconds=seconds,
        placements=tuple(placements),
        unplaced=unplaced(task, placements),
    )
    watch.stage("check")
    plan = checked(replace(plan, figures=figures_of(plan, job, hides)), job, hides)
    watch.note(**standing(draft))
    watch.observer.on_end(watch.progress)
    return plan


def finished(draft: Draft) -> list[Placement]:
    """Everything that lies, with copies and sets, in the order of hide, kind and copy."""
    task = draft.task
    strips = number_strips([*draft.before, *draft.after], task.job, task.keep)
    pieces = number_sets(task, draft.pieces)
    order = {hide.name: number for number, hide in enumerate(task.hides)}
    placed = [*task.keep, *strips, *pieces]
    return sorted(
        placed, key=lambda p: (order.get(p.hide, 0), not p.strip, p.set, p.name, p.layer, p.copy, p.part)
    )


def checked(plan: Plan, job: Job, hides: Sequence[Hide]) -> Plan:
    """The plan, if the audit finds nothing wrong with it. Raises WrongPlanError."""
    faults = check(plan, job, hides)
    if faults:
        raise WrongPlanError(f"The plan breaks a rule: {faults[0]}", faults=faults)
    return plan
