"""Whoever makes the plans that estimates count: the engine with a bounded effort, or a stand-in.

Estimates ask for nothing but `plan`, so that one may estimate with a quicker or a more patient planner.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Figures, Plan

__all__ = ["EnginePlanner", "Planner", "largest_offcut_area", "plan_figures", "total_whole_sets"]


class Planner(Protocol):
    """Makes a verified plan, the same one for the same arguments. Workers get a copy, so it is plain data."""

    def plan(self, job: Job, hides: Sequence[Hide], goal: str) -> Plan:
        """A plan of `job` on `hides` with its figures."""


@dataclass(frozen=True)
class EnginePlanner:
    """The engine, looking for each plan for so many `passes`, or for `seconds` where those are given.

    With passes the same seed gives the same plan on any machine and any number of workers.
    """

    passes: int = 0
    seconds: float | None = None
    seed: int = 0

    def plan(self, job: Job, hides: Sequence[Hide], goal: str) -> Plan:
        """A verified plan within this effort, on one thread: the workers share out the cores."""
        # The kernels load when the first plan is made, in the process that makes it.
        from nestplan.nesting.nest import nest

        return nest(
            job,
            tuple(hides),
            goal=goal,
            seconds=self.seconds,
            passes=None if self.seconds is not None else self.passes,
            seed=self.seed,
            workers=1,
        )

    @property
    def words(self) -> str:
        """The effort as a line for the foot of an estimate."""
        if self.seconds is not None:
            return f"{self.seconds:g} s for each plan, seed {self.seed}"
        return f"{self.passes} passes for each plan, seed {self.seed}"


def plan_figures(plan: Plan) -> Figures:
    """The figures of a plan that has them, as every plan of a planner does."""
    if plan.figures is None:
        raise ValueError("a planner's plan has figures")
    return plan.figures


def total_whole_sets(plan: Plan) -> int:
    """Whole sets of all articles together."""
    return sum(sets.whole for sets in plan_figures(plan).sets)


def largest_offcut_area(plan: Plan) -> float:
    """Area of the largest offcut worth keeping, mm2; 0 if there is none."""
    return max((offcut.area for offcut in plan_figures(plan).offcuts), default=0.0)
