"""A hide found again in a photograph of today: how it lies now, what has changed, and its plan taken along."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec
import numpy as np

from nestplan.errors import InputError
from nestplan.geometry.ring import centroid
from nestplan.model.audit import Fault, check
from nestplan.model.files import content_hash, write_hide, write_plan
from nestplan.model.hide import Hide
from nestplan.model.hide_motion import HideMotion, hide_as_it_lies, hide_redrawn, placement_along
from nestplan.model.job import Job
from nestplan.model.plan import Placement, Plan
from nestplan.tasks.contents import HidePhoto
from nestplan.tasks.output_paths import path_from

if TYPE_CHECKING:
    import shapely

    from nestplan.intake.photo.outline_match import Slant
    from nestplan.intake.photo.registration import OutlineChange
    from nestplan.tasks.tracing import TracedPhoto

__all__ = [
    "FoundHide",
    "PlanAlong",
    "TouchedPlacement",
    "find_hide_again",
    "hide_now",
    "picture_as_it_lies",
    "plan_along",
    "require_old_hide_kept",
    "require_one_way",
    "write_hide_found",
    "write_plan_along",
    "write_retrace_picture",
]

SAME_PLACE = 0.6
"""Share that a change and a cut shape must have in common for the piece to look cut away already."""
TOUCHED = 25.0
"""A change touches a placement if they overlap by more than this, mm²."""


@dataclass(frozen=True)
class FoundHide:
    """A hide as it lies now. `motion` takes places of the old outline there, `changes` is what differs (largest first),
    `same` the share of its edge that does not, to `residual` mm; `rival` another turn that fits nearly as well. `slant`
    is what the new photograph had left of perspective: hide, motion and changes are free of it."""

    hide: Hide
    motion: HideMotion
    changes: tuple[OutlineChange, ...]
    same: float
    residual: float
    slant: Slant
    rival: float | None = None

    @property
    def sure(self) -> bool:
        """Whether no other way round fits nearly as well."""
        return self.rival is None


@dataclass(frozen=True)
class TouchedPlacement:
    """A placement that a change lies under: it `looks_cut` where the change has its very form."""

    number: int
    placement: Placement
    looks_cut: bool


@dataclass(frozen=True)
class PlanAlong:
    """A plan whose placements on one hide went along with it, its faults on what is there now, and the placements that
    the changes touch. `stretched`: each went with its own leather, else all by one turn and shift."""

    plan: Plan
    faults: tuple[Fault, ...]
    touched: tuple[TouchedPlacement, ...]
    stretched: bool


def find_hide_again(hide: Hide, now: Hide, *, tolerance: float = 0.0) -> FoundHide:
    """How `hide` lies now that a new photograph of it gave `now`, with all that was known of it taken along.

    `tolerance` mm: how far the new outline may err beside what it says itself.

    Raises InputError if it is not the same hide, shows its other face, or is too much changed.
    """
    from nestplan.intake.photo.registration import register_outline

    errors = [origin.tolerance or 0.0 for origin in (hide.origin, now.origin) if origin is not None]
    openings = [*hide.hole_rings, *(flaw.ring for flaw in hide.flaws if flaw.kind.goes_through)]
    new_openings = [*now.hole_rings, *(flaw.ring for flaw in now.flaws if flaw.kind.goes_through)]
    found = register_outline(
        hide.ring,
        now.ring,
        old_openings=openings,
        now_openings=new_openings,
        tolerance=tolerance + sum(errors),
    )
    motion = HideMotion(found.matrix, found.shift)
    now = hide_redrawn(now, found.slant.straightened)
    return FoundHide(
        hide_as_it_lies(hide, motion, now),
        motion,
        found.changes,
        found.same,
        found.residual,
        found.slant,
        found.rival,
    )


def hide_now(traced: TracedPhoto, hide: Hide, *, date: str = "") -> Hide:
    """The hide as the new photograph alone shows it, called as the one in the rack."""
    from nestplan.tasks.tracing import hide_of_photo

    return hide_of_photo(traced, name=hide.name, leather=hide.leather, date=date, file=traced.photo.name)


def plan_along(plan: Plan, job: Job, hides: Sequence[Hide], found: FoundHide) -> PlanAlong:
    """The plan with what lies on the hide taken along, checked again on the hide as it lies now.

    Each cut shape goes with its own leather; where that brings neighbours too close, all go by one turn and shift.
    """
    name = found.hide.name
    now = [found.hide if hide.name == name else hide for hide in hides]
    whole = found.motion.without_stretch(np.array(centroid(next(h for h in hides if h.name == name).ring)))
    best: tuple[Plan, tuple[Fault, ...], bool] | None = None
    for motion, stretched in ((found.motion, True), (whole, False)):
        moved = _moved(plan, name, motion, found.hide)
        faults = check(moved, job, now)
        if best is None or len(faults) < len(best[1]):
            best = (moved, faults, stretched)
    assert best is not None
    return PlanAlong(best[0], best[1], tuple(_touched(best[0], name, found.changes)), best[2])


def _moved(plan: Plan, name: str, motion: HideMotion, hide: Hide) -> Plan:
    placements = tuple(
        placement_along(placement, motion) if placement.hide == name else placement
        for placement in plan.placements
    )
    sources = tuple(
        msgspec.structs.replace(source, hash=content_hash(hide)) if source.name == name else source
        for source in plan.hides
    )
    return msgspec.structs.replace(plan, placements=placements, hides=sources, figures=None)


def _touched(plan: Plan, name: str, changes: Sequence[OutlineChange]) -> list[TouchedPlacement]:
    import shapely

    lost = [shapely.make_valid(shapely.Polygon(each.ring)) for each in changes if each.kind != "more"]
    found = []
    for number, placement in enumerate(plan.placements):
        if placement.hide != name:
            continue
        cut = shapely.Polygon(placement.cut_ring)
        over = [change for change in lost if change.intersection(cut).area > TOUCHED]
        if over:
            found.append(TouchedPlacement(number, placement, any(_alike(cut, change) for change in over)))
    return found


def _alike(cut: shapely.Geometry, change: shapely.Geometry) -> bool:
    return bool(cut.intersection(change).area > SAME_PLACE * cut.union(change).area)


def require_one_way(found: FoundHide, accepted: bool) -> None:
    """Nothing, if the hide can lie in one way only, or that was accepted.

    Raises InputError otherwise.
    """
    if found.rival is not None and not accepted:
        raise InputError(
            f"The hide '{found.hide.name}' might also lie turned by {abs(found.rival):.0f} degrees: its edge looks "
            "alike that way round.",
            mend="Look at it in the picture of what was found; if it is right, write it as it is all the same.",
        )


def require_old_hide_kept(hide: Path, out: Path) -> None:
    """Nothing, if the hide as it was stays where it is.

    Two files cannot be written in one step: whoever is stopped between them has the hide as it lies now and a plan on
    the hide as it was, and takes the plan along anew from that.

    Raises InputError otherwise.
    """
    if out.exists() and out.samefile(hide):
        raise InputError(
            "The plan lies on the hide as it was, which would be written over.",
            file=str(out),
            mend="Write the hide as it lies now to another file.",
        )


def write_hide_found(out: Path, found: FoundHide) -> None:
    """Write the hide as it lies now.

    Raises InputError if the file cannot be written.
    """
    write_hide(out, found.hide)


def write_plan_along(
    out: Path, along: PlanAlong, *, plan_file: Path, hide_name: str, hide_file: Path
) -> Plan:
    """Write the plan, its job and hides as paths from where it lies now; gives it.

    Raises InputError if the file cannot be written.
    """

    def there(file: str) -> str:
        return path_from(out.parent, plan_file.parent / file)

    plan = msgspec.structs.replace(
        along.plan,
        job=msgspec.structs.replace(along.plan.job, file=there(along.plan.job.file)),
        hides=tuple(
            msgspec.structs.replace(
                source,
                file=path_from(out.parent, hide_file) if source.name == hide_name else there(source.file),
            )
            for source in along.plan.hides
        ),
    )
    write_plan(out, plan)
    return plan


def picture_as_it_lies(photo: HidePhoto, found: FoundHide) -> HidePhoto:
    """The new photograph as it lies under the hide, once what was left of its perspective is straightened."""
    matrix = found.slant.straightening @ np.array(photo.matrix).reshape(3, 3)
    return replace(photo, matrix=tuple((matrix / matrix[2, 2]).reshape(-1).tolist()))


def write_retrace_picture(
    path: Path, traced: TracedPhoto, found: FoundHide, before: Hide, placements: Sequence[Placement] = ()
) -> None:
    """Write the old outline, the new one, what differs and the plan over the photograph.

    Raises InputError if the file cannot be written.
    """
    from nestplan.intake.photo import retrace_preview

    corner = traced.outline.exterior.min(axis=0)
    retrace_preview.write_retrace_picture(
        path,
        traced.straight,
        now=traced.outline.exterior,
        before=found.slant.seen(found.motion.moved(before.ring)) + corner,
        changes=[found.slant.seen(change.ring) + corner for change in found.changes],
        cuts=[found.slant.seen(placement.cut_ring) + corner for placement in placements],
    )
