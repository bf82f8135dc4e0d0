"""The three goals, as what each does to a first draft. One function a goal; `GOALS` is the list of them.

Not here: the steps they are made of (`more`, `tidy`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from nestplan.model.hide import Hide
from nestplan.nesting.construct.candidate import Candidate, laid_anew, tell_better, with_strips_after
from nestplan.nesting.context import SearchContext, Toward
from nestplan.nesting.problem import Poses
from nestplan.nesting.search.consolidation import empty_fields, gather_fields
from nestplan.nesting.search.insertion import insert_more, place_poses

__all__ = ["GOALS"]

ANEW_SHARE = 0.2
"""Share of the budget in which the goal `fill` lays anew, from other seeds."""


def complete(draft: Candidate, work: SearchContext) -> Candidate:
    """All that is asked, whole sets first; then on as few or as cheap hides as can be."""
    if not draft.complete:
        draft = fill(draft, work)
    if len(draft.task.hides) > 1 and not work.watch.over():
        work.watch.stage("complete")
        place_poses(draft.layout, draft.poses)
        costs = [draft.task.cost(index) for index in range(len(draft.task.hides))]
        better = _teller(draft, work)
        empty_fields(draft.layout, costs, work.watch, work.pool, seed=work.seed, on_improved=better)
        draft = _better(draft, draft.layout.poses(), work)
    return draft


def fill(draft: Candidate, work: SearchContext) -> Candidate:
    """As many whole sets as can be, then pieces of further ones."""
    if not len(draft.poses.field) or work.watch.over():
        return draft
    work.watch.stage("fill")
    if draft.task.beyond:
        draft = laid_anew(draft, work, ANEW_SHARE)
    place_poses(draft.layout, draft.poses)

    better = _teller(draft, work)
    poses = insert_more(
        draft.layout, draft.task.aim, work.watch, work.pool, seed=work.seed, on_improved=better
    )
    return _better(draft, poses, work)


def gather(draft: Candidate, work: SearchContext) -> Candidate:
    """All that is asked, then the used part of each hide drawn to one side."""
    draft = complete(draft, work)
    if work.watch.over() or not (draft.poses.field >= 0).any():
        return draft
    work.watch.stage("gather")
    place_poses(draft.layout, draft.poses)
    sides = [_sides(hide, work.toward) for hide in draft.task.hides]
    width = draft.task.job.useful_width
    gather_fields(draft.layout, sides, width, work.watch, seed=work.seed, on_improved=_teller(draft, work))
    return _better(draft, draft.layout.poses(), work)


GOALS: dict[str, Callable[[Candidate, SearchContext], Candidate]] = {
    "complete": complete,
    "fill": fill,
    "gather": gather,
}


def _teller(draft: Candidate, work: SearchContext) -> Callable[[], None]:
    """Tells of the draft with its layout's poses as they are when it is called."""

    def better() -> None:
        tell_better(replace(draft, poses=draft.layout.poses()), work)

    return better


def _better(draft: Candidate, poses: Poses, work: SearchContext) -> Candidate:
    """The draft with other poses, unless strips laid afterwards suffer for them."""
    changed = with_strips_after(
        Candidate(draft.task, draft.layout, draft.before, poses, (), draft.missing, draft.later)
    )
    if changed.merit[:2] < draft.merit[:2]:
        return draft
    tell_better(changed, work)
    return changed


def _sides(hide: Hide, toward: Toward | None) -> list[tuple[float, float]]:
    """Unit normals along which what is used is to lie low.

    The backbone runs from neck to tail; the belly is where most of the hide lies, seen from it. Without a backbone
    the drawing's own axes stand in.
    """
    angle = math.radians(hide.backbone_angle or 0.0)
    tail = np.array([math.cos(angle), math.sin(angle)])
    belly = np.array([-tail[1], tail[0]])
    if hide.backbone is not None and (hide.ring.mean(axis=0) - np.array(hide.backbone[0])) @ belly < 0.0:
        belly = -belly
    normals = {"neck": tail, "tail": -tail, "backbone": belly, "belly": -belly}
    chosen = normals.values() if toward is None else [normals[toward]]
    return [(float(n[0]), float(n[1])) for n in chosen]
