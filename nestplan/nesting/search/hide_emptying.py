"""Emptying hides: all that lies on the hides in use is brought onto a choice of hides that costs less.

Each choice that may hold everything is an attempt: what lies elsewhere waits for a place, and chains of moves find it
one. Attempts go on in turns, those that come nearest more often, until one succeeds; then what was reached is where the
next ones begin. Strips are laid anew on the hides chosen, before or after the pieces, or move among them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from nestplan.model.goals import GATHER_OFFCUT
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.candidate import Candidate
from nestplan.nesting.construct.first_candidate import strip_orders, with_strips_last
from nestplan.nesting.construct.lay import LayEffort, lay
from nestplan.nesting.construct.prepared_problem import PreparedProblem, hardest_first
from nestplan.nesting.construct.straps import place_strips
from nestplan.nesting.context import SearchContext
from nestplan.nesting.leather_problem import LeatherProblem
from nestplan.nesting.problem import Bools, Floats, Poses
from nestplan.nesting.search.ejection import EjectionRun, EjectionStart, with_pool
from nestplan.nesting.search.hide_choice import Choice, HideChoices
from nestplan.nesting.search.insertion import place_poses
from nestplan.nesting.search.moving_strips import MovingStrips
from nestplan.nesting.search.parallel import SEARCHES, advance_together

__all__ = ["Patience", "hide_choices", "on_cheaper_hides"]

ROUNDS_A_TURN = 12
"""Rounds for which an attempt goes on until others may have their turn."""
WAITING_SHARE, DENSITY_SHARE, TURN_SHARE = 0.7, 0.5, 0.001
"""What decides whose turn is next, the least first: the area that still waits as a share of all, by how much a choice
not tried yet is denser than the roomiest, and each turn had."""
NOT_TRIED = 0.05
"""The area, as a share of all, that is expected to wait after a first turn."""
LEAST_PATIENCE, PATIENCE_SHARE = 3000, 4
"""Rounds without any gain after which no more is tried: at least, and as a multiple of those until the last gain."""
MOST_ATTEMPTS = 6
"""Attempts that are remembered; of more the least promising is forgotten."""


def on_cheaper_hides(candidate: Candidate, context: SearchContext, until: float) -> Candidate:
    """The candidate with all that has a place on as few or as cheap hides as are found until that share of the budget
    is used up."""
    budget = context.budget
    fewest = _fewest_hides(candidate, context)
    moving = MovingStrips.of(candidate.problem, context.seed)
    emptying = _Emptying(candidate, context, fewest, moving)
    patience = Patience(budget.progress.passes)
    while not budget.is_spent() and budget.fraction_used() < until:
        attempt = emptying.next_attempt()
        if attempt is None:
            if len(emptying.candidate.hides_used) <= fewest:
                budget.note_end("bound")
            break
        if patience.is_over(budget.progress.passes):
            budget.note_end("no gain")
            break
        found = attempt.advance(context)
        patience.note(budget.progress.passes, attempt.least_waiting)
        if found is not None and emptying.is_cheaper(found):
            context.publish_improvement(found)
            emptying = _Emptying(found, context, fewest, moving)
            patience = Patience(budget.progress.passes)
    return emptying.candidate


def _fewest_hides(candidate: Candidate, context: SearchContext) -> int:
    """So many hides at least all of a candidate needs, as proven."""
    if not candidate.complete:
        return 0
    return candidate.problem.proofs.fewest_hides(len(candidate.hides_used), context.budget.deadline_passed)


class Patience:
    """Whether anything was gained of late: less area than ever before waits for a place in some attempt."""

    def __init__(self, began: int) -> None:
        self._began = self._last_gain = began
        self._least = np.inf

    def note(self, passes: int, waiting: float) -> None:
        """After so many rounds in all, so much area (mm²) waited least in the attempt that was last gone on with."""
        if waiting < self._least:
            self._least, self._last_gain = waiting, passes

    def is_over(self, passes: int) -> bool:
        """Whether nothing was gained for long, after so many rounds in all."""
        patience = max(LEAST_PATIENCE, PATIENCE_SHARE * (self._last_gain - self._began))
        return passes - self._last_gain >= patience


def hide_choices(problem: LeatherProblem, wanted: Bools) -> HideChoices:
    """What may be chosen among the hides of a problem for the `wanted (N,)` pieces, by price where all hides have one,
    else by number; of as many the smaller ones, where large offcuts are wanted."""
    count = len(problem.hides)
    costs = np.array([problem.cost(index) for index in range(count)])
    if all(hide.price is not None for hide in problem.hides):
        # Among choices that cost the same the one with fewer hides.
        least = 1e-6 * float(costs.max(initial=0.0)) or 1.0
    else:
        costs = costs if GATHER_OFFCUT in problem.goal.steps else np.zeros(count)
        least = float(costs.sum()) or 1.0
    names = {hide.name: index for index, hide in enumerate(problem.hides)}
    kept = frozenset(names[placement.hide] for placement in problem.keep if placement.hide in names)
    return HideChoices.of(problem.as_shapes(), wanted, costs + least, kept)


class _Emptying:
    """The attempts that begin from one candidate."""

    def __init__(
        self, candidate: Candidate, context: SearchContext, fewest: int, moving: MovingStrips | None
    ) -> None:
        """`fewest`: so many hides at least all of it needs; `moving`: its strips, where they can move."""
        self.candidate = candidate
        self.context = context
        self.moving = moving
        self.choices = hide_choices(candidate.problem, candidate.poses.field >= 0)
        cheaper = self.choices.cheaper(candidate.hides_used)
        self.open_choices = [choice for choice in cheaper if len(choice) >= fewest]
        self.attempts: dict[Choice, _Attempt] = {}
        self.turns: dict[Choice, int] = {}
        self.size = _sizes(candidate)

    def is_cheaper(self, found: Candidate) -> bool:
        """Whether a candidate costs less than the one at hand and has all that this one has."""
        if found.is_worse_than(self.candidate):
            return False
        return self.choices.cost(found.hides_used) < self.choices.cost(self.candidate.hides_used)

    def next_attempt(self) -> _Attempt | None:
        """The attempt whose turn it is; None where no choice is left."""
        open_choices = [choice for choice in self.open_choices if not self._is_over(choice)]
        if not open_choices:
            return None
        roomiest = self.choices.density(open_choices[0])
        choice = min(open_choices, key=lambda choice: self._rank(choice, roomiest))
        if choice not in self.attempts:
            if len(self.attempts) >= MOST_ATTEMPTS:
                del self.attempts[max(self.attempts, key=lambda choice: self._rank(choice, roomiest))]
            self.attempts[choice] = _Attempt(
                _bases(self.candidate, choice, self.context, self.moving), choice
            )
        self.turns[choice] = self.turns.get(choice, 0) + 1
        return self.attempts[choice]

    def _rank(self, choice: Choice, roomiest: float) -> tuple[float, list[int]]:
        denser = DENSITY_SHARE * (self.choices.density(choice) - roomiest)
        waits = NOT_TRIED + denser
        if choice in self.attempts:
            waits = WAITING_SHARE * self.attempts[choice].least_waiting / float(self.size.sum())
        return waits + TURN_SHARE * self.turns.get(choice, 0), sorted(choice)

    def _is_over(self, choice: Choice) -> bool:
        return choice in self.attempts and not self.attempts[choice].variants


@dataclass(frozen=True, eq=False)
class _Base:
    """What an attempt begins from: the candidate with the strips laid first and last that it is to have, and the layout
    in which pieces are moved, with their poses and sizes (mm²). `moving`: the strips among the items of that layout."""

    candidate: Candidate
    layout: Layout
    poses: Poses
    is_wanted: Bools
    size: Floats
    moving: MovingStrips | None = None

    def found(self, poses: Poses, choice: Choice, context: SearchContext) -> Candidate:
        """The candidate that poses without overlap come to, its strips laid."""
        stop = context.budget.is_overrun
        if self.moving is not None:
            return self.moving.candidate(poses, choice, stop)
        return with_strips_last(replace(self.candidate, poses=poses, strips_last=()), stop=stop)


class _Attempt:
    """Everything on one choice of hides, with the strips laid in different orders."""

    def __init__(self, bases: Sequence[_Base], choice: Choice) -> None:
        self.variants = [_Variant(base, choice, number) for number, base in enumerate(bases)]
        self.least_waiting = max((float(base.size.sum()) for base in bases), default=0.0)

    def advance(self, context: SearchContext) -> Candidate | None:
        """Go on for one turn; the candidate in which nothing waits any more if there is one now."""
        variant = self.variants.pop(0)
        found = variant.advance(context)
        self.least_waiting = min(self.least_waiting, variant.least_waiting)
        if variant.least_waiting > 0.0:
            self.variants.append(variant)
        return found


class _Variant:
    """One order of strips and pieces in an attempt; set up when it is first its turn."""

    def __init__(self, base: _Base, choice: Choice, number: int) -> None:
        self.base, self.choice, self.number = base, choice, number
        self.least_waiting = float(base.size.sum())
        self.runs: list[EjectionRun] = []

    def advance(self, context: SearchContext) -> Candidate | None:
        """As in `_Attempt`."""
        if not self.runs:
            self._set_up(context)
        for _ in range(ROUNDS_A_TURN):
            if context.budget.is_spent():
                return None
            succeeded = advance_together(self.runs, context.budget, context.pool)
            context.budget.count_pass()
            self.least_waiting = min(self.least_waiting, *(run.least_waiting for run in self.runs))
            for run, success in zip(self.runs, succeeded, strict=True):
                if success:
                    return self.base.found(run.layout.poses(), self.choice, context)
        return None

    def _set_up(self, context: SearchContext) -> None:
        layout = self.base.layout
        if not len(layout.state.pool.known):
            with_pool(layout, context.pool, seed=context.seed, stop=context.budget.deadline_passed)
        seeds = [(context.seed, self.number, k, *sorted(self.choice)) for k in range(SEARCHES)]
        self.runs = [
            EjectionRun(layout.copy(seed=context.seed * 1000 + k), start, seed=seed, number=k)
            for k, (seed, start) in enumerate(zip(seeds, self._starts(context), strict=True))
        ]

    def _starts(self, context: SearchContext) -> tuple[EjectionStart, EjectionStart]:
        """What lies on the hides chosen as it is, the rest waiting; and everything laid anew there."""
        layout, is_wanted = self.base.layout, self.base.is_wanted
        is_open = np.array([index in self.choice for index in range(len(layout.problem.fields))])
        place_poses(layout, self.base.poses)
        _lift_until_clean(layout, is_open)
        starts = []
        for anew in (False, True):
            if anew:
                prepared = PreparedProblem.from_layout(layout)
                poses = lay(
                    prepared,
                    order=hardest_first(prepared, np.flatnonzero(is_wanted).tolist()),
                    seed=context.seed,
                    effort=LayEffort.for_count(layout.item_count),
                    fields=self.choice,
                    pool=context.pool,
                    stop=lambda _: context.budget.deadline_passed(),
                )
                place_poses(layout, poses)
            waiting = np.flatnonzero(~layout.placed() & is_wanted).tolist()
            starts.append(EjectionStart(layout.snapshot(), waiting, is_open, self.base.size))
        return starts[0], starts[1]


def _lift_until_clean(layout: Layout, is_open: Bools) -> None:
    """Take off what lies on closed fields or overlaps strips."""
    state, count = layout.state, layout.item_count
    for item in range(count):
        field = int(state.field[item])
        if field >= 0 and (not is_open[field] or state.pair_loss[item, count:].any()):
            layout.lift(item)


def _sizes(candidate: Candidate) -> Floats:
    """Area of each item, mm²."""
    problem = candidate.problem
    return np.array([problem.cut_piece(index).net_area for index in range(len(candidate.poses.field))])


def _bases(
    candidate: Candidate, choice: Choice, context: SearchContext, moving: MovingStrips | None
) -> list[_Base]:
    """What attempts on a choice of hides begin from: the candidate with its strips laid there, in each order in which
    they find a place before there is any piece, and with strips that move."""
    problem, is_wanted, size = candidate.problem, candidate.poses.field >= 0, _sizes(candidate)
    strips = problem.required_strips
    if not strips:
        start = replace(candidate, strip_hides=choice)
        return [_Base(start, candidate.layout, candidate.poses, is_wanted, size)]
    bases = []
    for first, last in strip_orders(strips):
        placed, missing = place_strips(problem, first, hides=choice)
        if missing:
            continue
        keeps_layout = not placed and not candidate.strips_first
        layout = candidate.layout if keeps_layout else Layout(problem.as_shapes(placed), seed=context.seed)
        start = Candidate(
            problem,
            layout,
            strips_first=tuple(placed),
            poses=candidate.poses,
            deferred_strips=tuple(last),
            strip_hides=choice,
        )
        bases.append(_Base(start, layout, candidate.poses, is_wanted, size))
    if bases and moving is not None:
        bases.insert(1, _moving_base(candidate, moving, is_wanted, size))
    return bases


def _moving_base(candidate: Candidate, moving: MovingStrips, is_wanted: Bools, size: Floats) -> _Base:
    every = np.ones(len(moving.bundles), bool)
    return _Base(
        candidate,
        moving.layout,
        moving.with_bars_waiting(candidate.poses),
        np.concatenate((is_wanted, every)),
        np.concatenate((size, moving.sizes)),
        moving,
    )
