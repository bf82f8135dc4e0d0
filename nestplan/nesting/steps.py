"""The steps that goals are made of, each as what it does to a candidate; and going through those of a goal."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from nestplan.model.goals import (
    CONSOLIDATE,
    FILL_CHEAP,
    GATHER_OFFCUT,
    INSERT,
    MATES,
    RECONSTRUCT,
    HideEdge,
)
from nestplan.model.hide import Hide
from nestplan.nesting.candidate import Candidate
from nestplan.nesting.construct.first_candidate import reconstructed, with_strips_last
from nestplan.nesting.context import SearchContext
from nestplan.nesting.problem import Poses
from nestplan.nesting.search.hide_emptying import on_cheaper_hides
from nestplan.nesting.search.insertion import insert_by_chains, insert_more, place_poses
from nestplan.nesting.search.mates import bring_mates_together
from nestplan.nesting.search.moving_strips import with_strips_among_pieces
from nestplan.nesting.search.offcut_gathering import gather_fields
from nestplan.nesting.search.partial_emptying import on_cheap_hides_first

__all__ = ["STEPS", "Step", "can_improve", "improved"]

RECONSTRUCT_SHARE = 0.2
"""Share of the budget in which pieces are laid anew, from other seeds."""
MATES_SHARE, MATES_SECONDS = 0.3, 5.0
"""Share of the seconds asked that is set aside for bringing mates together, and how many of them at most."""
STRIPS_SHARE = 0.35
"""Share of the budget until which strips that lack a place move among the pieces."""
CHAINS_SHARE = 0.7
"""Share of the budget until which pieces that lack a place are brought in by chains of moves over several hides."""
CONSOLIDATE_SHARE = 0.4
"""Share of the budget until which hides are emptied where what is left is to be gathered as well."""
FILL_CHEAP_SHARE = 0.55
"""Share of the budget until which the cheap ones of the hides that are left are filled then."""


@dataclass(frozen=True)
class Step:
    """What a step of a goal does: the candidate it makes of another one, never a worse one; and whether there is
    anything in a candidate for it to do. `share` of the seconds asked, `seconds` at most, is set aside for a step that
    comes last and is taken whatever the other steps have used up."""

    run: Callable[[Candidate, SearchContext], Candidate]
    applies: Callable[[Candidate], bool]
    share: float = 0.0
    seconds: float = 0.0


def improved(candidate: Candidate, context: SearchContext) -> Candidate:
    """The candidate after the steps of its goal, as far as the budget goes.

    The budget is asked before the first of the steps that share a stage, unless seconds are set aside for the step.
    """
    budget, stage = context.budget, ""
    steps = [step for step in candidate.problem.goal.steps if STEPS[step.name].applies(candidate)]
    set_aside = [
        min(STEPS[step.name].share * (budget.seconds or 0.0), STEPS[step.name].seconds) for step in steps
    ]
    for number, step in enumerate(steps):
        budget.set_aside(sum(set_aside[number + 1 :]))
        if step.stage != stage:
            if budget.cancelled() or (not STEPS[step.name].share and budget.is_spent()):
                continue
            stage = step.stage
            budget.begin_stage(stage)
        candidate = STEPS[step.name].run(candidate, context)
    return candidate


def can_improve(candidate: Candidate) -> bool:
    """Whether the steps of its goal have anything to do with a candidate."""
    return any(STEPS[step.name].applies(candidate) for step in candidate.problem.goal.steps)


def _reconstruct(candidate: Candidate, context: SearchContext) -> Candidate:
    return reconstructed(candidate, context, RECONSTRUCT_SHARE)


def _insert(candidate: Candidate, context: SearchContext) -> Candidate:
    """As many more sets as can be, then pieces of further ones."""
    if candidate.missing_strips:
        candidate = with_strips_among_pieces(candidate, context, STRIPS_SHARE)
    layout, targets = candidate.layout, candidate.problem.set_targets
    place_poses(layout, candidate.poses)
    better = _publisher(candidate, context)
    if len(candidate.problem.hides) > 1 and not candidate.problem.goal.extra_sets:
        insert_by_chains(
            layout, targets, context.budget, context.pool, CHAINS_SHARE, seed=context.seed, on_improved=better
        )
    poses = insert_more(layout, targets, context.budget, context.pool, seed=context.seed, on_improved=better)
    return _with_poses(candidate, poses, context)


def _consolidate(candidate: Candidate, context: SearchContext) -> Candidate:
    """The same on as few or as cheap hides as can be."""
    shares_time = GATHER_OFFCUT in candidate.problem.goal.steps
    return on_cheaper_hides(candidate, context, CONSOLIDATE_SHARE if shares_time else 1.0)


def _fill_cheap(candidate: Candidate, context: SearchContext) -> Candidate:
    """The same with the cheap ones of the hides in use full, and less on the dear ones."""
    emptied = on_cheap_hides_first(candidate, context, FILL_CHEAP_SHARE)
    return candidate if emptied is candidate else _with_poses(candidate, emptied.poses, context)


def _bring_mates_together(candidate: Candidate, context: SearchContext) -> Candidate:
    """The same with the left and right of pairs near each other, at the price of the job."""
    problem, layout = candidate.problem, candidate.layout
    place_poses(layout, candidate.poses)
    bring_mates_together(
        layout,
        problem.mate_groups,
        price=problem.job.mates_price,
        useful_width=problem.job.useful_width,
        seed=context.seed,
        stop=context.budget.deadline_passed,
    )
    return _with_poses(candidate, layout.poses(), context)


def _wants_mates_near(candidate: Candidate) -> bool:
    return candidate.problem.job.mates_price > 0.0 and bool(candidate.problem.mate_groups)


def _gather(candidate: Candidate, context: SearchContext) -> Candidate:
    """The same with what lies on each hide drawn to one side."""
    problem, layout = candidate.problem, candidate.layout
    place_poses(layout, candidate.poses)
    sides = [_side_normals(hide, context.toward) for hide in problem.hides]
    better = _publisher(candidate, context)
    gather_fields(
        layout, sides, problem.job.useful_width, context.budget, seed=context.seed, on_improved=better
    )
    return _with_poses(candidate, layout.poses(), context)


def _has_required_pieces(candidate: Candidate) -> bool:
    return len(candidate.poses.field) > 0


def _has_more_to_place(candidate: Candidate) -> bool:
    more = candidate.problem.goal.extra_sets or not candidate.complete
    return more and _has_required_pieces(candidate)


STEPS: dict[str, Step] = {
    RECONSTRUCT.name: Step(_reconstruct, _has_required_pieces),
    INSERT.name: Step(_insert, _has_more_to_place),
    CONSOLIDATE.name: Step(_consolidate, lambda candidate: len(candidate.problem.hides) > 1),
    FILL_CHEAP.name: Step(_fill_cheap, lambda candidate: len(candidate.fields_used) > 1),
    MATES.name: Step(_bring_mates_together, _wants_mates_near, MATES_SHARE, MATES_SECONDS),
    GATHER_OFFCUT.name: Step(_gather, lambda candidate: bool((candidate.poses.field >= 0).any())),
}
"""The steps by the names that goals give them."""


def _publisher(candidate: Candidate, context: SearchContext) -> Callable[[], None]:
    """Publishes the candidate with its layout's poses as they are when it is called."""

    def publish() -> None:
        context.publish_improvement(replace(candidate, poses=candidate.layout.poses(), stale_strips=True))

    return publish


def _with_poses(candidate: Candidate, poses: Poses, context: SearchContext) -> Candidate:
    """The candidate with other poses, unless strips laid around them suffer for it."""
    changed = with_strips_last(
        replace(candidate, poses=poses, strips_last=()), stop=context.budget.is_overrun
    )
    if changed.is_worse_than(candidate):
        return candidate
    context.publish_improvement(changed)
    return changed


def _side_normals(hide: Hide, toward: HideEdge | None) -> list[tuple[float, float]]:
    """Unit normals along which what is used is to lie low: that of an edge, or of all four.

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
