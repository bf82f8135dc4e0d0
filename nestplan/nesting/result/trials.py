"""Trials on the hides of a problem: whether single pieces and strips have a place, with some rules left out.

On empty hides, and beside what lies. What cannot be, by area or by the largest disc, is known without a trial.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import chain
from typing import Literal

import numpy as np
import shapely

from nestplan.geometry.inscribed import largest_disc
from nestplan.model.job import CutPiece
from nestplan.model.piece import Strip
from nestplan.model.plan import Placement
from nestplan.model.rules import AllowedPlacement, PlacementRules, RuleKind
from nestplan.nesting.construct.lay import LayEffort, lay
from nestplan.nesting.construct.prepared_problem import PreparedProblem
from nestplan.nesting.construct.straps import place_strips
from nestplan.nesting.construct.strips import StripRequest, lay_strips
from nestplan.nesting.leather_problem import LeatherProblem, RequiredStrips
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem, Ring

__all__ = ["Trials", "Verdict"]

TRIAL_EFFORT = LayEffort(samples=6000, refined=2)
"""How hard to look for the place of one piece on an empty hide."""

MOST_TRIALS_BESIDE = 40
"""Places beside what lies that are looked for in all, so that the reasons of many pieces take a second or two."""
BARE = 0.5
"""Share of a hide that, if nothing lies on it, is more than any way of laying leaves."""
MOST_TRIED_BESIDE = 2
"""Hides on which a place beside what lies is tried, of those that may have one those with most left."""

Verdict = Literal["fits", "never", "unknown"]


@dataclass(frozen=True, eq=False)
class _Measures:
    """What a ring needs of any area that is to hold it: its area mm² and the radius mm of its largest disc."""

    area: float
    radius: float


class Trials:
    """Whether single pieces and strips have a place on the empty hides, with some rules left out."""

    def __init__(
        self, problem: LeatherProblem, stop: Callable[[], bool], placed: Sequence[Placement] = ()
    ) -> None:
        """`placed` is what lies, all that is kept included; once `stop` says so nothing more is tried."""
        self.problem = problem
        self.stop = stop
        self.placed = placed
        self._rules: dict[tuple[int, frozenset[RuleKind]], PlacementRules] = {
            (index, frozenset()): rules for index, rules in enumerate(problem.rules)
        }
        self._measures: dict[bytes, _Measures] = {}
        self._kept: dict[int, shapely.Geometry] = {}
        self._trials_left = MOST_TRIALS_BESIDE

    def rules(self, hide: int, relaxed: frozenset[RuleKind]) -> PlacementRules:
        """The rules on a hide without those left out."""
        if (hide, relaxed) not in self._rules:
            job = self.problem.job
            self._rules[hide, relaxed] = PlacementRules(self.problem.hides[hide], job, relaxed)
        return self._rules[hide, relaxed]

    def verdict(self, piece: CutPiece, relaxed: frozenset[RuleKind], scale: float = 1.0) -> Verdict:
        """Whether such a piece, scaled, finds a place alone; "unknown" where it may but there is no time to try."""
        possible = self._possible(piece, relaxed, scale)
        # One hide is enough to know that it may: the others are looked at only where there is time to try them.
        first = next(possible, None)
        if first is None:
            return "never"
        if self.stop():
            return "unknown"
        if self._place_on(piece, chain([first], possible), scale) is not None:
            return "fits"
        return "unknown" if self.stop() else "never"

    def lets_in(self, piece: CutPiece, relaxed: frozenset[RuleKind]) -> bool:
        """Whether leaving out some rules lets a piece in that has no place under all of them. Without time to try it
        does where all of them rule the piece out for certain, and the others do not."""
        verdict = self.verdict(piece, relaxed)
        ruled_out = not any(True for _ in self._possible(piece, frozenset(), 1.0))
        return verdict == "fits" or (verdict == "unknown" and ruled_out)

    def hides_that_may_hold(self, piece: CutPiece) -> list[int]:
        """Numbers of the hides that area and largest disc let a piece lie on, were they empty; none where there is no
        time to look."""
        found = []
        for hide, _ in self._possible(piece, frozenset(), 1.0):
            if self.stop():
                return []
            found.append(hide)
        return sorted(found)

    def place(
        self, piece: CutPiece, relaxed: frozenset[RuleKind], scale: float = 1.0
    ) -> tuple[int, float] | None:
        """(hide, turn) at which one such piece finds a place alone; None where it does not, or there is no time."""
        return self._place_on(piece, self._possible(piece, relaxed, scale), scale)

    def _possible(
        self, piece: CutPiece, relaxed: frozenset[RuleKind], scale: float
    ) -> Iterator[tuple[int, list[AllowedPlacement]]]:
        """The hides, large ones first, with the ways in which the piece may lie there by area and largest disc."""
        fields = self.problem.fields
        for hide in sorted(range(len(fields)), key=lambda index: -fields[index].area):
            allowed = self.rules(hide, relaxed).for_piece(piece)
            ways = [way for way in allowed if self._can_hold(way.constraints, scale)]
            if ways:
                yield hide, ways

    def _can_hold(self, constraints: Sequence[Containment], scale: float) -> bool:
        return all(self._may_lie_in(each, scale) for each in constraints)

    def _measures_of(self, ring: Ring) -> _Measures:
        key = ring.tobytes()
        if key not in self._measures:
            polygon = shapely.Polygon(ring)
            self._measures[key] = _Measures(polygon.area, largest_disc(polygon, 0.5)[2] - 0.5)
        return self._measures[key]

    def _may_lie_in(self, constraint: Containment, scale: float) -> bool:
        """Whether some part of the area is not too small, nor too narrow, for the ring."""
        measures = self._measures_of(constraint.ring)
        parts = [
            part
            for part in shapely.get_parts(constraint.area)
            if part.area >= measures.area * scale**2 * (1.0 - 1e-6)
        ]
        return any(
            not shapely.buffer(part, -0.98 * measures.radius * scale, quad_segs=4).is_empty for part in parts
        )

    def _place_on(
        self, piece: CutPiece, possible: Iterable[tuple[int, list[AllowedPlacement]]], scale: float
    ) -> tuple[int, float] | None:
        for hide, ways in possible:
            if self.stop():
                return None
            turn = self._turn_on(piece, hide, ways, scale)
            if turn is not None:
                return hide, turn
        return None

    def _turn_on(
        self, piece: CutPiece, hide: int, ways: Sequence[AllowedPlacement], scale: float = 1.0
    ) -> float | None:
        """The turn at which a piece, scaled, finds a place on a hide in one of these ways; None where it finds none."""
        item = Item(piece.shape * scale, 0, _options(ways, scale))
        shapes = Problem((self.problem.fields[hide],), (item,))
        poses = lay(PreparedProblem.of(shapes), effort=TRIAL_EFFORT, spread=True)
        return float(poses.angle[0]) if poses.field[0] >= 0 else None

    def beside(self, piece: CutPiece, relaxed: frozenset[RuleKind]) -> Verdict:
        """Whether such a piece finds a place beside what lies; "never" where what is left is too small or too narrow
        everywhere, "unknown" where it may, but no place is found or there is no time."""
        needs, tried = self._measures_of(piece.shape), 0
        for hide in self._roomiest:
            if self.stop():
                return "unknown"
            left = self._left[hide]
            if left.area < needs.area * (1.0 - 1e-6) or left.radius < 0.98 * needs.radius:
                continue
            ways = [way for way in self.rules(hide, relaxed).for_piece(piece) if self._has_room(way, hide)]
            if ways and (tried == MOST_TRIED_BESIDE or not self._trials_left):
                return "unknown"
            if ways:
                tried += 1
                self._trials_left -= 1
                if self._lies_beside(piece, hide, ways):
                    return "fits"
        return "unknown" if tried else "never"

    def lies_open(self, layer: str, area: float) -> bool:
        """Whether so much of some hide of a layer is bare that so much area (mm²) more would have had a place."""
        takes = self.problem.job.layer(layer).takes
        return any(
            takes(hide) and self._free[number] - area > BARE * self.problem.fields[number].area
            for number, hide in enumerate(self.problem.hides)
        )

    def area_left(self, piece: CutPiece) -> float:
        """The area (mm²) of all hides that is left and that a piece may cover."""
        return sum(
            max(float(way.constraints[0].area.difference(taken).area) for way in ways)
            for taken, rules in zip(self._taken, self.problem.rules, strict=True)
            if (ways := rules.for_piece(piece))
        )

    @cached_property
    def _free(self) -> list[float]:
        """Area of each hide that nothing lies on, mm²."""
        return [
            float(leather.area) - sum(shapely.Polygon(ring).area for ring in rings)
            for leather, rings in zip(self.problem.fields, self._rings_on, strict=True)
        ]

    @cached_property
    def _rings_on(self) -> list[list[Ring]]:
        """The cut shapes on each hide."""
        return [[p.cut_ring for p in self.placed if p.hide == hide.name] for hide in self.problem.hides]

    @cached_property
    def _taken(self) -> list[shapely.Geometry]:
        """What is covered of each hide."""
        return [shapely.union_all([shapely.Polygon(ring) for ring in rings]) for rings in self._rings_on]

    @cached_property
    def _left(self) -> list[_Measures]:
        """The largest part and the largest disc that are left of each hide."""
        found = []
        for leather, taken in zip(self.problem.fields, self._taken, strict=True):
            parts = [part for part in shapely.get_parts(leather.difference(taken)) if part.area > 0.0]
            radius = max((largest_disc(part, 0.5)[2] + 0.5 for part in parts), default=0.0)
            found.append(_Measures(max((float(part.area) for part in parts), default=0.0), radius))
        return found

    @cached_property
    def _roomiest(self) -> list[int]:
        """The hides, those with most left first."""
        return sorted(range(len(self._free)), key=lambda hide: -self._free[hide])

    def _has_room(self, way: AllowedPlacement, hide: int) -> bool:
        """Whether area and largest disc let a piece lie in such a way beside what lies."""
        return all(
            self._may_lie_in(Containment(each.ring, each.area.difference(self._taken[hide])), 1.0)
            for each in way.constraints
        )

    def _lies_beside(self, piece: CutPiece, hide: int, ways: Sequence[AllowedPlacement]) -> bool:
        """Whether a place is found for a piece on a hide beside what lies."""
        free = [replace(way, constraints=self._beside_what_lies(way.constraints, hide)) for way in ways]
        open_ways = [way for way in free if not way.constraints[1].area.is_empty]
        return self._turn_on(piece, hide, open_ways) is not None

    def _beside_what_lies(self, constraints: Sequence[Containment], hide: int) -> tuple[Containment, ...]:
        """The constraints of a piece with its cut shape, the second of them, kept the knife gap away from what lies."""
        finished, cut, *parts = constraints
        return finished, Containment(cut.ring, cut.area.difference(self._kept_free(hide))), *parts

    def _kept_free(self, hide: int) -> shapely.Geometry:
        """What is covered of a hide, and the knife gap round it."""
        if hide not in self._kept:
            self._kept[hide] = shapely.buffer(self._taken[hide], self.problem.job.gap)
        return self._kept[hide]

    def strips_beside(self, strip: Strip, count: int) -> bool:
        """Whether so many of a strip find a place beside what lies; not where there is no time."""
        wanted = [RequiredStrips(strip, count)]
        return not self.stop() and not place_strips(self.problem, wanted, self.placed, stop=self.stop)[1]

    def strip_verdict(
        self,
        strip: Strip,
        relaxed: frozenset[RuleKind] = frozenset(),
        *,
        tolerance: float | None = None,
        length: float = 0.0,
    ) -> Verdict:
        """Whether one such strip finds a place alone, at another length or tolerance where these are given."""
        wanted = length or strip.length
        unknown = False
        for hide in range(len(self.problem.hides)):
            rules = self.rules(hide, relaxed)
            area = rules.strip_area(strip)
            if not _may_hold_strip(area, strip.width, wanted):
                continue
            if self.stop():
                unknown = True
                continue
            axis = rules.strip_axis(strip)
            wide = 90.0 if axis is None else strip.tolerance if tolerance is None else tolerance
            one = StripRequest(0, strip.width, wanted, 1)
            if lay_strips(area, [one], direction=axis or 0.0, tolerance=wide).laid(0):
                return "fits"
        return "unknown" if unknown else "never"


def _options(ways: Sequence[AllowedPlacement], scale: float) -> tuple[PlacementOption, ...]:
    """The ways in which a piece, scaled, may lie, as options on one hide."""
    return tuple(
        PlacementOption(
            0,
            way.turns,
            tuple(Containment(each.ring * scale, each.area) for each in way.constraints),
            way.flipped,
        )
        for way in ways
    )


def _may_hold_strip(area: shapely.Geometry, width: float, length: float) -> bool:
    """Whether some part of the area is large and long enough for a strip."""
    for part in shapely.get_parts(area):
        corners = shapely.get_coordinates(shapely.convex_hull(part))
        if part.area >= width * length * (1.0 - 1e-6) and len(corners) > 2:
            spans = corners[:, None] - corners[None]
            if float(np.hypot(spans[..., 0], spans[..., 1]).max()) >= length * (1.0 - 1e-6):
                return True
    return False
