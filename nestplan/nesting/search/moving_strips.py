"""Strips as items among the pieces, so that a search moves both: equal strips side by side are one bar.

For what laying strips before or after the pieces does not find. What comes out are strips with their places; laid anew
around the pieces where that loses none, since then fewer straight edges are cut.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from nestplan.geometry.pose import Turns
from nestplan.model.plan import Placement
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.candidate import Candidate
from nestplan.nesting.construct.first_candidate import with_strips_last
from nestplan.nesting.construct.straps import place_strips, strip_placement
from nestplan.nesting.construct.strips import ROUNDING_GAP, StripPart
from nestplan.nesting.context import SearchContext
from nestplan.nesting.leather_problem import LeatherProblem, RequiredStrips
from nestplan.nesting.problem import Containment, Floats, Item, PlacementOption, Poses, Ring
from nestplan.nesting.search.ejection import EjectionRun, EjectionStart, with_pool
from nestplan.nesting.search.insertion import place_poses
from nestplan.nesting.search.parallel import SEARCHES, advance_together

__all__ = ["MovingStrips", "with_strips_among_pieces"]

BUNDLE_WIDTH = 40.0
"""mm across strips side by side that move as one bar; one strip may be wider."""
MOST_BUNDLES = 60
"""Bars at most: of more each is too small a part of the whole to be worth moving alone."""


@dataclass(frozen=True, eq=False)
class MovingStrips:
    """A problem with its strips as items after its pieces: `bundles` of (strip, count), and those `laid_last`: joined
    ones, and spirals."""

    problem: LeatherProblem
    bundles: tuple[RequiredStrips, ...]
    laid_last: tuple[RequiredStrips, ...]
    seed: int

    @classmethod
    def of(cls, problem: LeatherProblem, seed: int) -> MovingStrips | None:
        """The strips that a problem asks for; None where none can move, too many would, or one may lie nowhere."""
        moving = [strips for strips in problem.required_strips if _can_move(strips)]
        bundles = tuple(bundle for strips in moving for bundle in _bundles_of(strips, problem.job.strip_gap))
        others = tuple(strips for strips in problem.required_strips if not _can_move(strips))
        found = cls(problem, bundles, others, seed)
        if not 0 < len(bundles) <= MOST_BUNDLES or not all(item.options for item in found.items):
            return None
        return found

    @cached_property
    def items(self) -> tuple[Item, ...]:
        """The bars; equal ones share a kind, which no piece has."""
        first_kind = len(self.problem.job.cut_pieces)
        made: dict[tuple[str, int], Item] = {}
        for bundle in self.bundles:
            key = (bundle.strip.name, bundle.count)
            if key not in made:
                made[key] = self._item(bundle, first_kind + len(made))
        return tuple(made[bundle.strip.name, bundle.count] for bundle in self.bundles)

    @cached_property
    def layout(self) -> Layout:
        """Pieces and bars, none of them placed."""
        shapes = self.problem.as_shapes()
        return Layout(replace(shapes, items=(*shapes.items, *self.items)), seed=self.seed)

    @cached_property
    def sizes(self) -> Floats:
        """Area of each bar, mm²."""
        return np.array([self._width(bundle) * bundle.strip.length for bundle in self.bundles])

    def with_bars_waiting(self, poses: Poses) -> Poses:
        """Poses of the pieces, and bars that have no place."""
        none = Poses.none(len(self.bundles))
        return Poses(
            np.concatenate((poses.x, none.x)),
            np.concatenate((poses.y, none.y)),
            np.concatenate((poses.angle, none.angle)),
            np.concatenate((poses.flipped, none.flipped)),
            np.concatenate((poses.field, none.field)),
        )

    def candidate(
        self, poses: Poses, hides: Collection[int] | None, stop: Callable[[], bool] = lambda: False
    ) -> Candidate:
        """The candidate that poses of pieces and bars come to, what is laid last only on `hides` if they are given."""
        problem, count = self.problem, len(self.problem.items)
        pieces = Poses(
            poses.x[:count], poses.y[:count], poses.angle[:count], poses.flipped[:count], poses.field[:count]
        )
        strips = tuple(self._placements(poses))
        around = [placement for _, placement in problem.placements(pieces)]
        strip_hides = None if hides is None else frozenset(hides)
        anew, missing = place_strips(problem, problem.required_strips, around, hides=hides, stop=stop)
        if not missing:
            layout = Layout(problem.as_shapes(), seed=self.seed)
            return Candidate(
                problem,
                layout,
                strips_first=(),
                poses=pieces,
                strips_last=tuple(anew),
                deferred_strips=tuple(problem.required_strips),
                strip_hides=strip_hides,
            )
        lying = Candidate(
            problem,
            Layout(problem.as_shapes(strips), seed=self.seed),
            strips_first=strips,
            poses=pieces,
            missing_strips=tuple(self._without_place(poses)),
            deferred_strips=self.laid_last,
            strip_hides=strip_hides,
        )
        return with_strips_last(lying, stop=stop)

    def _placements(self, poses: Poses) -> Iterator[Placement]:
        """The strips of all bars that lie, copies numbered on from those that are kept."""
        done: dict[str, int] = {}
        for placement in self.problem.keep:
            if placement.strip:
                done[placement.strip] = max(done.get(placement.strip, 0), placement.copy)
        for number, bundle in enumerate(self.bundles):
            index = len(self.problem.items) + number
            hide, angle = int(poses.field[index]), float(poses.angle[index])
            if hide < 0:
                continue
            strip, turn = bundle.strip, math.radians(angle)
            for row in range(bundle.count):
                across = row * self._pitch(bundle)
                x = float(poses.x[index]) - math.sin(turn) * across
                y = float(poses.y[index]) + math.cos(turn) * across
                copy = done.get(strip.name, 0)
                done[strip.name] = copy + 1
                part = StripPart(0, copy, 0, x, y, angle, strip.length, strip.width, number)
                yield strip_placement(self.problem, hide, strip, part)

    def _without_place(self, poses: Poses) -> Iterator[RequiredStrips]:
        lies = poses.field[len(self.problem.items) :] >= 0
        for strips in self.problem.required_strips:
            own = [
                bundle.count
                for bundle, is_placed in zip(self.bundles, lies, strict=True)
                if bundle.strip is strips.strip and not is_placed
            ]
            if own:
                yield RequiredStrips(strips.strip, sum(own))

    def _pitch(self, bundle: RequiredStrips) -> float:
        return bundle.strip.width + self.problem.job.strip_gap + ROUNDING_GAP

    def _width(self, bundle: RequiredStrips) -> float:
        return bundle.strip.width + (bundle.count - 1) * self._pitch(bundle)

    def _item(self, bundle: RequiredStrips, kind: int) -> Item:
        """A bar whose own frame has its first strip's corner at the origin and its length along x."""
        problem, strip = self.problem, bundle.strip
        bare = _bar(strip.length, self._width(bundle))
        options = []
        for field, rules in enumerate(problem.rules):
            area, axis = rules.strip_area(strip), rules.strip_axis(strip)
            if not area.is_empty:
                turns = Turns.any() if axis is None else Turns.around(axis, strip.tolerance, 180.0)
                options.append(
                    PlacementOption(field, turns, (Containment(bare, area),), cost=problem.cost(field))
                )
        around = max(problem.job.gap, problem.job.strip_gap) / 2.0
        return Item(_bar(strip.length, self._width(bundle), around), kind, tuple(options))


def with_strips_among_pieces(candidate: Candidate, context: SearchContext, until: float) -> Candidate:
    """The candidate with more of its strips, by chains of moves of strips and pieces over all hides, until that share
    of the budget is used up; the candidate itself where none is found."""
    moving = MovingStrips.of(candidate.problem, context.seed)
    if moving is None:
        return candidate
    budget, layout = context.budget, moving.layout
    place_poses(layout, moving.with_bars_waiting(candidate.poses))
    waiting = np.flatnonzero(~layout.placed())
    asked = np.array([required.asked for required in candidate.problem.required_pieces], bool)
    waiting = waiting[np.concatenate((asked, np.ones(len(moving.bundles), bool)))[waiting]]
    with_pool(layout, context.pool, seed=context.seed, stop=budget.deadline_passed)
    size = np.concatenate((candidate.problem.set_targets.size, moving.sizes))
    every = np.ones(len(layout.problem.fields), bool)
    start = EjectionStart(layout.snapshot(), waiting.tolist(), every, size)
    runs = [
        EjectionRun(layout.copy(seed=context.seed * 1000 + k), start, seed=(context.seed, 77, k), number=k)
        for k in range(SEARCHES)
    ]
    best, least = candidate, float(size[waiting].sum())
    while not budget.is_spent() and budget.fraction_used() < until:
        succeeded = advance_together(runs, budget, context.pool)
        budget.count_pass()
        nearest = min(runs, key=lambda run: run.least_waiting)
        if nearest.least_waiting < least:
            least = nearest.least_waiting
            layout.restore(nearest.best)
            found = moving.candidate(layout.poses(), None, budget.is_overrun)
            if found.merit > best.merit:
                best = found
                context.publish_improvement(best)
        if any(succeeded):
            break
    return best


def _bar(length: float, width: float, around: float = 0.0) -> Ring:
    """A rectangle from the origin, with so much around it."""
    x, y = length + around, width + around
    return np.array([(-around, -around), (x, -around), (x, y), (-around, y)])


def _can_move(strips: RequiredStrips) -> bool:
    """Whether strips lie whole and straight."""
    return strips.strip.source != "disc" and not strips.strip.joins


def _bundles_of(strips: RequiredStrips, gap: float) -> Sequence[RequiredStrips]:
    """Equal strips in bars as even as can be."""
    most = max(int((BUNDLE_WIDTH + gap) / (strips.strip.width + gap)), 1)
    bars = math.ceil(strips.count / most)
    each, more = divmod(strips.count, bars)
    return [RequiredStrips(strips.strip, each + (number < more)) for number in range(bars)]
