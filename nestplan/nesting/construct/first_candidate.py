"""The first candidate: strips and pieces laid in the order that serves whole sets best; and pieces laid anew."""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.arrays.packing import draws_simpler
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.candidate import Candidate
from nestplan.nesting.construct.lay import LayEffort, lay
from nestplan.nesting.construct.prepared_problem import PreparedProblem, hardest_first
from nestplan.nesting.construct.straps import place_strips
from nestplan.nesting.context import SearchContext
from nestplan.nesting.leather_problem import LeatherProblem, RequiredStrips
from nestplan.nesting.problem import Poses

__all__ = [
    "first_candidate",
    "lay_pieces",
    "reconstructed",
    "strip_orders",
    "with_exact_outlines",
    "with_strips_last",
]

MOST_LAYINGS = 4
"""Numbers of sets tried at most for those that are laid before the rest."""
LAYING_SHARE = 0.3
"""Share of the clock after which no further laying is begun: where one takes long, moving pieces gains more."""
SEED_STEP = 10_007
"""Step between the seeds of layings one after another."""
GRACE = 1.0
"""Seconds for which the first laying may go on although the clock has run out: as long as still leaves time to make a
plan of it before the clock is overrun by more than is promised (`budget.OVERRUN_SECONDS`)."""
MOST_GRACE = 1.5
"""As a multiple of that grace, the seconds by which the clock may be overrun while pieces are first laid."""
LIKELY_YIELD = 0.7
"""Share of the leather that pieces may cover, to guess how many sets it holds."""


def first_candidate(problem: LeatherProblem, context: SearchContext) -> Candidate:
    """The first candidate; with overcuts at their wish if the goal starts so and everything has a place that way as
    cheaply.

    The first laying of all that is asked runs to its end even if the clock is short, but for a few seconds at most;
    what would only better it is not begun, or breaks off, once the clock has run out.
    """
    wished = None
    if problem.goal.starts_at_wished_overcut and problem.can_widen:
        wished = _in_best_order(problem.at_overcut(1.0), context, single_attempt=True)
        if _is_late(context) or (
            wished.complete and (len(problem.hides) == 1 or context.budget.deadline_passed())
        ):
            return wished
        if not wished.complete:
            wished = None
    candidate = _in_best_order(problem, context, has_answer=wished is not None)
    if wished is not None and (not candidate.complete or wished.cost <= candidate.cost):
        candidate = wished
    context.publish_improvement(candidate)
    return candidate


def with_exact_outlines(candidate: Candidate, context: SearchContext) -> Candidate:
    """The candidate with what fits only by the exact outlines, where something has no place and the search has drawn
    outlines with fewer points; the candidate itself where that places nothing."""
    problem = candidate.problem
    if candidate.complete or context.budget.deadline_passed() or not draws_simpler(candidate.layout.problem):
        return candidate
    exact = problem.with_exact_outlines()
    layout = Layout(exact.as_shapes(candidate.strips_first), seed=context.seed)
    prepared = PreparedProblem.from_layout(layout)
    poses = lay(
        prepared,
        order=hardest_first(prepared, np.flatnonzero(candidate.poses.field < 0).tolist()),
        start=candidate.poses,
        seed=context.seed,
        effort=LayEffort.for_count(layout.item_count),
        pool=context.pool,
        spread=True,
        stop=lambda _: context.budget.deadline_passed(),
    )
    found = with_strips_last(
        replace(candidate, problem=exact, layout=layout, poses=poses, strips_last=()),
        stop=context.budget.is_overrun,
    )
    if found.merit <= candidate.merit:
        return candidate
    context.publish_improvement(found)
    return found


def _in_best_order(
    problem: LeatherProblem,
    context: SearchContext,
    *,
    single_attempt: bool = False,
    has_answer: bool = False,
) -> Candidate:
    """The best of a few orders: straps, pieces, then lace from what is left; all strips last; all strips first.

    A further order is tried only where the one before left something out that it could mend, and for a
    `single_attempt` not even then. `has_answer`: there is a candidate already, so the clock may break off this one.
    """
    best: Candidate | None = None
    for first, last in strip_orders(problem.required_strips):
        if best is not None and (best.complete or single_attempt or context.budget.deadline_passed()):
            break
        candidate = _laid_in_order(
            problem,
            context,
            (first, last),
            most_layings=1 if single_attempt else MOST_LAYINGS,
            has_answer=has_answer or best is not None,
        )
        if best is None or candidate.merit > best.merit:
            best = candidate
            context.publish_improvement(candidate)
    assert best is not None
    return best


StripOrder = tuple[Sequence[RequiredStrips], Sequence[RequiredStrips]]
"""Strips laid before the pieces, and strips laid after them."""


def strip_orders(required: Sequence[RequiredStrips]) -> list[StripOrder]:
    """Strips first and strips last: straps first; all last; all first."""
    straps = [strips for strips in required if strips.strip.source == "edge"]
    laces = [strips for strips in required if strips.strip.source != "edge"]
    orders: list[StripOrder] = [(straps, laces)]
    if straps:
        orders.append(([], required))
    if laces:
        orders.append((required, []))
    return orders


def _laid_in_order(
    problem: LeatherProblem,
    context: SearchContext,
    order: StripOrder,
    *,
    most_layings: int,
    has_answer: bool,
) -> Candidate:
    """Strips, pieces and the other strips, laid in that order."""
    first, last = order
    is_late = partial(_is_late, context)
    context.budget.begin_stage("strips")
    strips, missing = place_strips(problem, first, stop=is_late)
    context.budget.begin_stage("lay")
    layout = Layout(problem.as_shapes(strips), seed=context.seed)
    bare = Candidate(
        problem,
        layout,
        strips_first=tuple(strips),
        poses=Poses.none(layout.item_count),
        missing_strips=tuple(missing),
        deferred_strips=tuple(last),
    )

    def publish_first(poses: Poses) -> None:
        context.publish_improvement(with_strips_last(replace(bare, poses=poses), stop=is_late))

    poses = lay_pieces(
        problem,
        layout,
        context,
        most_layings=most_layings,
        has_answer=has_answer,
        on_first=publish_first,
    )
    return with_strips_last(replace(bare, poses=poses), stop=is_late)


def _is_late(context: SearchContext) -> bool:
    """Whether even what belongs to the first candidate breaks off."""
    return context.budget.cancelled() or context.budget.seconds_overrun > GRACE


def with_strips_last(candidate: Candidate, *, stop: Callable[[], bool] = lambda: False) -> Candidate:
    """The candidate with its deferred strips laid around its pieces, on hides in use if they have room for them all.

    Once `stop` says so what is left of the strips is missing.
    """
    if not candidate.deferred_strips:
        return candidate
    if candidate.strip_hides is None and candidate.hides_used:
        on_used = _with_deferred_strips(candidate, candidate.hides_used, stop)
        if not on_used.missing_strips or stop():
            return on_used
    return _with_deferred_strips(candidate, candidate.strip_hides, stop)


def _with_deferred_strips(
    candidate: Candidate, hides: Collection[int] | None, stop: Callable[[], bool]
) -> Candidate:
    deferred = {strips.strip.name for strips in candidate.deferred_strips}
    still_missing = [strips for strips in candidate.missing_strips if strips.strip.name not in deferred]
    around = [*candidate.strips_first, *(placement for _, placement in candidate.pieces)]
    placed, missing = place_strips(
        candidate.problem, candidate.deferred_strips, around, hides=hides, stop=stop
    )
    return replace(
        candidate,
        strips_last=tuple(placed),
        missing_strips=(*still_missing, *missing),
        stale_strips=False,
    )


def lay_pieces(
    problem: LeatherProblem,
    layout: Layout,
    context: SearchContext,
    *,
    most_layings: int = MOST_LAYINGS,
    has_answer: bool = False,
    on_first: Callable[[Poses], None] = lambda poses: None,
) -> Poses:
    """Pieces laid so that many sets come out whole: all at once, or where that fails the first k sets before the
    rest, for the k that does best.

    See `first_candidate` for the clock; with `has_answer` it counts from the beginning. `on_first` is called once, with
    the poses of the first laying, if others follow and there is no answer yet.
    """
    if not problem.required_pieces:
        return Poses.none(0)
    layings = _Layings(problem, PreparedProblem.from_layout(layout), context)
    reported = has_answer
    sets = layings.set_count if not problem.goal.extra_sets else _likely_sets(problem)
    for _ in range(most_layings):
        grace = 0.0 if has_answer or layings.best is not None else GRACE
        stop = LayingDeadline(context.budget, grace)
        for variant in (layings.prepared, layings.upright):
            poses = layings.lay(variant, sets, stop)
            if layings.are_all_whole(sets) or _is_enough(context.budget):
                return layings.best_poses
            if not reported:
                reported = True
                on_first(poses)
        sets = layings.next_set_count(sets)
        if sets in layings.whole or sets < 1:
            break
    return layings.best_poses


@dataclass(eq=False)
class _Layings:
    """Layings of the required pieces one after another, the best kept.

    `whole` tells for each number of sets that were laid before the rest whether all of them found a place.
    """

    problem: LeatherProblem
    prepared: PreparedProblem
    context: SearchContext
    best: Poses | None = None
    best_merit: tuple[float, float] = (-1.0, -1.0)
    whole: dict[int, bool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.upright = self.prepared.with_quarter_turns(self.problem.backbone_angles)
        self.ranks = _ranks(self.problem)
        self.set_count = int(self.ranks.max()) + 1

    @property
    def best_poses(self) -> Poses:
        """The poses of the best laying so far; there must have been one."""
        assert self.best is not None
        return self.best

    def lay(self, prepared: PreparedProblem, sets: int, stop: Callable[[int], bool]) -> Poses:
        """Lay once more, the pieces of so many sets before the rest, and keep the best."""
        poses = _laid(self.problem, prepared, sets, self.context, stop=stop, seed=self.context.seed)
        placed = poses.field >= 0
        self.whole[sets] = self.whole.get(sets, False) or bool(placed[self.ranks < sets].all())
        merit = self.problem.set_targets.merit(placed)
        if self.best is None or merit > self.best_merit:
            self.best, self.best_merit = poses, merit
        return poses

    def are_all_whole(self, sets: int) -> bool:
        """Whether so many sets are all there are, and all found a place."""
        return self.whole[sets] and sets == self.set_count

    def next_set_count(self, sets: int) -> int:
        """How many sets to lay before the rest next: after all of them as many as their area allows."""
        if sets != self.set_count:
            return sets + 1 if self.whole[sets] else sets - 1
        size = self.problem.set_targets.size
        share = float(size[self.best_poses.field >= 0].sum() / size.sum())
        return min(max(int(self.set_count * share), 1), self.set_count - 1)


def reconstructed(candidate: Candidate, context: SearchContext, until: float) -> Candidate:
    """The best of the candidate and of pieces laid anew around its strips from other seeds, until that share of the
    budget is used up. Every fourth time one set more is laid first than came out whole."""
    problem, budget, targets = candidate.problem, context.budget, candidate.problem.set_targets
    prepared = PreparedProblem.from_layout(candidate.layout)
    upright = prepared.with_quarter_turns(problem.backbone_angles)
    best, best_merit = candidate.poses, targets.merit(candidate.poses.field >= 0)
    attempt = 0
    while not budget.is_spent() and budget.fraction_used() < until:
        attempt += 1
        whole = sum(targets.whole(best.field >= 0))
        sets = min(max(whole + (attempt % 4 == 0), 1), len(problem.sets))
        poses = _laid(
            problem,
            prepared if attempt % 3 == 2 else upright,
            sets,
            context,
            stop=lambda _: budget.deadline_passed(),
            seed=context.seed + SEED_STEP * attempt,
        )
        budget.count_pass()
        merit = targets.merit(poses.field >= 0)
        if merit > best_merit:
            best, best_merit = poses, merit
            context.publish_improvement(replace(candidate, poses=poses, stale_strips=True))
    if best is candidate.poses:
        return candidate
    found = with_strips_last(replace(candidate, poses=best, strips_last=()), stop=budget.is_overrun)
    return candidate if found.is_worse_than(candidate) else found


def _laid(
    problem: LeatherProblem,
    prepared: PreparedProblem,
    sets: int,
    context: SearchContext,
    *,
    stop: Callable[[int], bool],
    seed: int,
) -> Poses:
    """Pieces laid anew: those of the first `sets` sets before the rest, hardest first."""
    ranks = _ranks(problem)
    order = hardest_first(prepared, np.flatnonzero(ranks < sets).tolist())
    for rank in range(sets, int(ranks.max()) + 1):
        order += hardest_first(prepared, np.flatnonzero(ranks == rank).tolist())
    return lay(
        prepared,
        order=order,
        seed=seed,
        effort=LayEffort.for_count(len(ranks)),
        pool=context.pool,
        spread=len(problem.hides) > 1 and problem.goal.extra_sets,
        stop=stop,
    )


class LayingDeadline:
    """When laying breaks off: when the search is cancelled, or the clock has run out and `grace` seconds have gone by
    since the first piece was tried, so that a short clock or a slow start still gives a whole candidate."""

    def __init__(self, budget: SearchBudget, grace: float) -> None:
        self.budget = budget
        self.grace = grace
        self.started: float | None = None

    def __call__(self, tried: int) -> bool:
        now = time.monotonic()
        if tried and self.started is None:
            self.started = now
        self.budget.report()
        if self.budget.cancelled():
            return True
        in_grace = self.started is None or now - self.started < self.grace
        # Where what came before the first piece has taken long, less is left of it.
        in_grace = in_grace and (
            self.started is None or self.budget.seconds_overrun < MOST_GRACE * self.grace
        )
        return self.budget.deadline_passed() and not in_grace


def _ranks(problem: LeatherProblem) -> NDArray[np.int64]:
    """The rank `(N,)` of each required piece's set."""
    return np.array([required.rank for required in problem.required_pieces], np.int64)


def _is_enough(budget: SearchBudget) -> bool:
    """Whether layings have had their share of the clock, if there is one, or the search is to end."""
    used_up = budget.seconds_left is not None and budget.fraction_used() > LAYING_SHARE
    return used_up or budget.deadline_passed()


def _likely_sets(problem: LeatherProblem) -> int:
    """Sets that the leather may hold."""
    return max(int(LIKELY_YIELD * len(problem.sets)), 1)
