"""What lies open in the window at a time: hides, the job, the plan, photographs under hides."""

from __future__ import annotations

from dataclasses import dataclass

import msgspec

from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Plan

__all__ = ["Contents", "HidePhoto", "renamed_hide"]


@dataclass(frozen=True)
class HidePhoto:
    """A photograph lying under a hide: its file and the 3 × 3 matrix (row by row) from its pixels to mm."""

    file: str
    matrix: tuple[float, ...]


@dataclass(frozen=True)
class Contents:
    """All that can be changed and undone. `photos` are by the hide's name."""

    hides: tuple[Hide, ...] = ()
    job: Job | None = None
    plan: Plan | None = None
    photos: tuple[tuple[str, HidePhoto], ...] = ()

    @property
    def leather(self) -> tuple[Hide, ...]:
        """The hides that can still be cut: those not used up."""
        return tuple(hide for hide in self.hides if not hide.used)

    def hide(self, name: str) -> Hide | None:
        """The hide of that name, if there is one."""
        return next((hide for hide in self.hides if hide.name == name), None)

    def photo(self, name: str) -> HidePhoto | None:
        """The photograph under that hide, if there is one."""
        return dict(self.photos).get(name)


def renamed_hide(plan: Plan, old: str, new: str) -> Plan:
    """The plan with a hide's name changed wherever it stands."""
    return msgspec.structs.replace(
        plan,
        hides=tuple(msgspec.structs.replace(s, name=new) if s.name == old else s for s in plan.hides),
        placements=tuple(
            msgspec.structs.replace(p, hide=new) if p.hide == old else p for p in plan.placements
        ),
        figures=None,
    )
