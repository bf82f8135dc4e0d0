"""Checking a plan a second time, independently of how it was made, and counting its figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from nestplan.model.audit import Fault
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Figures, Plan
from nestplan.tasks.opening import open_plan
from nestplan.tasks.settling import OnRepair

__all__ = ["PlanCheck", "check_plan", "check_plan_file", "figures_of"]


@dataclass(frozen=True)
class PlanCheck:
    """A plan, its faults, and its figures (None where they were not asked for)."""

    plan: Plan
    faults: tuple[Fault, ...]
    figures: Figures | None = None


def check_plan_file(
    path: Path,
    *,
    job: Path | None = None,
    hides: Sequence[Path] = (),
    on_repair: OnRepair | None = None,
) -> PlanCheck:
    """The plan in a file and its faults, by the job and hides it was made from.

    Raises InputError if a file cannot be read, or the job or a hide is not the one the plan was made from.
    """
    from nestplan.model.audit import check

    opened = open_plan(path, job=job, hides=hides, on_repair=on_repair)
    return PlanCheck(opened.plan, check(opened.plan, opened.job, opened.hides))


def check_plan(plan: Plan, job: Job, hides: Sequence[Hide]) -> PlanCheck:
    """The plan with its faults and its figures; none of these where it names a piece or a hide that there is not."""
    from nestplan.model.audit import check

    faults = check(plan, job, hides)
    unknown = any(fault.rule == "name" for fault in faults)
    return PlanCheck(plan, faults, None if unknown else figures_of(plan, job, hides))


def figures_of(plan: Plan, job: Job, hides: Sequence[Hide]) -> Figures:
    """The figures of a plan; those it has, where nothing was changed since they were counted."""
    if plan.figures is not None:
        return plan.figures
    from nestplan.yields import figures_of as counted

    return counted(plan, job, hides)
