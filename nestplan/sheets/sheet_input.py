"""What sheets and files are made from, in one record, and whether something that one needs is not there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from nestplan.model import Hide, Job, Plan
    from nestplan.sheets.shopping import ShoppingLines
    from nestplan.sheets.unit_formatting import LengthUnit

__all__ = ["Needs", "SheetInput"]

Needs = Literal["plan", "plan on hide", "job", "hide"]
"""What a sheet or file is made from."""


@dataclass(frozen=True)
class SheetInput:
    """What sheets and files are made from: a plan, its job and hides, `hide` the one at hand, supplies, unit and paper.

    `shopping` counts what the job needs besides leather, when a sheet asks for it; `roll_width` in mm. `class_size`:
    how many people a lesson is for.
    """

    plan: Plan | None
    job: Job | None
    hides: tuple[Hide, ...]
    hide: Hide | None = None
    shopping: Callable[[], ShoppingLines] | None = None
    units: LengthUnit = "mm"
    paper: str = "a4"
    roll_width: float | None = None
    class_size: int = 1

    @property
    def the_plan(self) -> Plan:
        """The plan, which must be there."""
        assert self.plan is not None
        return self.plan

    @property
    def the_job(self) -> Job:
        """The job, which must be there."""
        assert self.job is not None
        return self.job

    @property
    def the_hide(self) -> Hide:
        """The hide at hand, which must be there."""
        assert self.hide is not None
        return self.hide

    @property
    def the_shopping(self) -> ShoppingLines:
        """The supplies, which must be countable."""
        assert self.shopping is not None
        return self.shopping()

    def lacks(self, needs: Needs) -> bool:
        """Whether something that a sheet needs is not there."""
        no_plan = self.plan is None or self.job is None
        return {
            "plan": no_plan,
            "plan on hide": no_plan or self.hide is None,
            "job": self.job is None,
            "hide": self.hide is None,
        }[needs]
