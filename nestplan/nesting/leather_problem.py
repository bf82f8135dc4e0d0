"""A job on hides as shapes for the engine, and the engine's poses back as placements.

Which pieces and strips are required, in which order whole sets count, where the rules of leather let them lie, and
what a pose means on leather.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from nestplan.geometry.pose import Pose
from nestplan.geometry.ring import mirror, offset_outward
from nestplan.model.goals import COMPLETE, Goal
from nestplan.model.hide import Hide
from nestplan.model.job import CutPiece, Job
from nestplan.model.piece import Strip
from nestplan.model.plan import Placement
from nestplan.model.rules import PlacementRules
from nestplan.nesting.problem import Containment, Item, MateGroup, PlacementOption, Poses, Problem
from nestplan.nesting.proofs import Proofs
from nestplan.nesting.set_targets import SetTargets

__all__ = ["DECIMALS", "LeatherProblem", "RequiredPiece", "RequiredStrips", "rounded_points"]

Ring = NDArray[np.float64]

DECIMALS = 4
"""Poses and rings are rounded to 0.1 µm and 0.0001 degrees, as files are written; shapes are grown by more."""

GAP_TOLERANCE = 0.02
"""mm by which a cut shape grown by half the gap may be too large at its corners."""
SEARCH_TOLERANCE = 0.3
"""mm by which outlines of many points, freed of roughness, are drawn on the safe side in the search: what a cutter
cannot see."""
MOST_ITEMS = 3000
"""Pieces planned for at most where the goal plans beyond what is asked."""
MOST_SETS = 1000
"""Sets of an article planned for at most where the goal plans beyond what is asked."""


@dataclass(frozen=True)
class RequiredPiece:
    """One shape to be cut: `piece`, the index of its cut piece in `Job.cut_pieces`, and the set it is for.

    Sets of all articles stand in one row, in which every article advances evenly toward what is asked; `rank` is the
    place of the piece's set in it. `asked` tells whether the job asks for that set or only the goal does.
    """

    piece: int
    rank: int
    asked: bool


@dataclass(frozen=True)
class RequiredStrips:
    """So many copies of one strip."""

    strip: Strip
    count: int


@dataclass(frozen=True, eq=False)
class LeatherProblem:
    """A job on hides, with placements that stay (`keep`), as a problem of shapes.

    `overcut_fraction`: the share of the way from the least overcut to the wish at which cut shapes are laid, 0 to 1.
    `exact`: the search takes every point of an outline; else long ones are drawn on the safe side with fewer.
    """

    job: Job
    hides: tuple[Hide, ...]
    keep: tuple[Placement, ...] = ()
    goal: Goal = COMPLETE
    overcut_fraction: float = 0.0
    exact: bool = False

    @property
    def can_widen(self) -> bool:
        """Whether some overcut has a wish above its least."""
        return any(piece.wished_overcut > piece.least_overcut for piece in self.job.cut_pieces)

    def at_overcut(self, fraction: float) -> LeatherProblem:
        """The same problem at another overcut; the rules, worked out once, go along."""
        twin = replace(self, overcut_fraction=fraction)
        twin.__dict__.update(rules=self.rules, proofs=self.proofs)
        return twin

    def with_exact_outlines(self) -> LeatherProblem:
        """The same problem, its outlines taken as they are."""
        twin = replace(self, exact=True)
        twin.__dict__.update(
            rules=self.rules, proofs=self.proofs, items=self.items, required_pieces=self.required_pieces
        )
        return twin

    def overcut(self, piece: CutPiece) -> float:
        """The overcut at which a cut piece is laid, mm."""
        return round(
            piece.least_overcut + self.overcut_fraction * (piece.wished_overcut - piece.least_overcut),
            DECIMALS,
        )

    @cached_property
    def rules(self) -> tuple[PlacementRules, ...]:
        """The rules of the job on each hide."""
        return tuple(PlacementRules(hide, self.job) for hide in self.hides)

    @cached_property
    def proofs(self) -> Proofs:
        """What is proven of all plans of the job on the hides."""
        return Proofs(self.job, self.hides)

    @cached_property
    def backbone_angles(self) -> tuple[float, ...]:
        """Direction of each hide's backbone, degrees; 0 where it has none."""
        return tuple(hide.backbone_angle or 0.0 for hide in self.hides)

    @cached_property
    def sets(self) -> tuple[tuple[int, int], ...]:
        """(article, number from 1) of every set in the order in which sets count."""
        rows = []
        for index, article in enumerate(self.job.articles):
            for number in range(1, self._sets_of(index) + 1):
                rows.append((number / article.sets, index, number))
        return tuple((index, number) for _, index, number in sorted(rows))

    @cached_property
    def required_pieces(self) -> tuple[RequiredPiece, ...]:
        """Every piece still to be cut; what `keep` holds already is left out, from the first sets on."""
        kept = Counter(self.job.kind_of_copy(p.piece, p.layer, p.mirrored) for p in self.keep if p.piece)
        pieces_of = {
            number: [(i, piece) for i, piece in enumerate(self.job.cut_pieces) if piece.article == number]
            for number in range(len(self.job.articles))
        }
        required: list[RequiredPiece] = []
        for rank, (article, number) in enumerate(self.sets):
            asked = number <= self.job.articles[article].sets
            for index, piece in pieces_of[article]:
                hand = self.job.kind_of_copy(*piece.key)
                already = min(kept[hand], piece.piece.count)
                kept[hand] -= already
                required += [RequiredPiece(index, rank, asked)] * (piece.piece.count - already)
        return tuple(required[:MOST_ITEMS] if self.goal.extra_sets else required)

    @cached_property
    def required_strips(self) -> tuple[RequiredStrips, ...]:
        """Copies of each strip the job asks for besides those that `keep` holds."""
        kept = Counter(name for name, _ in {(p.strip, p.copy) for p in self.keep if p.strip})
        required = []
        for wanted in self.job.wanted_strips:
            strip = wanted.strip
            count = strip.count * self.job.articles[wanted.article].sets - kept[strip.name]
            if count > 0:
                required.append(RequiredStrips(strip, count))
        return tuple(required)

    @cached_property
    def items(self) -> tuple[Item, ...]:
        """The required pieces as the engine takes them; equal cut pieces share a kind."""
        kinds = {required.piece for required in self.required_pieces}
        made = {index: self._item(index) for index in sorted(kinds)}
        return tuple(made[required.piece] for required in self.required_pieces)

    @cached_property
    def fields(self) -> tuple[Polygon, ...]:
        """The hides' leather."""
        return tuple(rules.leather for rules in self.rules)

    @cached_property
    def set_targets(self) -> SetTargets:
        """The articles as counts of kinds of item, for the search."""
        pieces = self.job.cut_pieces
        kept: Counter[int] = Counter()
        for placement in self.keep:
            if not placement.piece:
                continue
            hand = self.job.kind_of_copy(placement.piece, placement.layer, placement.mirrored)
            alike = [index for index, piece in enumerate(pieces) if self.job.kind_of_copy(*piece.key) == hand]
            kept.update(alike[:1])
        needs = tuple(
            {i: p.piece.count for i, p in enumerate(pieces) if p.article == number}
            for number in range(len(self.job.articles))
        )
        return SetTargets(
            kinds=np.array([required.piece for required in self.required_pieces], np.int64),
            needs=needs,
            asked=tuple(article.sets for article in self.job.articles),
            most=tuple(self._sets_of(number) for number in range(len(self.job.articles))),
            kept=dict(kept),
            size=np.array([pieces[required.piece].net_area for required in self.required_pieces]),
            placeable=np.array([bool(item.options) for item in self.items], bool),
        )

    @cached_property
    def mate_groups(self) -> tuple[MateGroup, ...]:
        """The lefts and rights, in one layer, of each piece whose pairs are asked to lie near each other. What is kept
        is fixed in the problem of shapes."""
        hands: dict[tuple[str, str], tuple[list[int], list[int]]] = {}
        for number, required in enumerate(self.required_pieces):
            cut = self.job.cut_pieces[required.piece]
            if cut.piece.pair and cut.piece.mates_near:
                hands.setdefault(cut.key[:2], ([], []))[cut.hand].append(number)
        names = {hide.name for hide in self.hides}
        fixed = [placement for placement in self.keep if placement.hide in names]
        for number, placement in enumerate(fixed, start=len(self.required_pieces)):
            if (placement.piece, placement.layer) in hands:
                piece = self.job.piece(placement.piece)
                cut_here = piece.cut_in(placement.layer)
                hand = int(placement.mirrored != cut_here.reversed)
                hands[placement.piece, placement.layer][hand].append(number)
        return tuple(MateGroup(tuple(lefts), tuple(rights)) for lefts, rights in hands.values())

    def as_shapes(self, placed: Sequence[Placement] = ()) -> Problem:
        """The problem of shapes, with everything in `keep`, and `placed` besides, lying fixed."""
        names = {hide.name: index for index, hide in enumerate(self.hides)}
        fixed = [(names[p.hide], self.with_gap(p.cut_ring)) for p in (*self.keep, *placed) if p.hide in names]
        return Problem(self.fields, self.items, tuple(fixed), 0.0 if self.exact else SEARCH_TOLERANCE)

    def with_gap(self, ring: Ring) -> Ring:
        """A cut shape grown by half the knife gap, so that two of them may touch."""
        if self.job.gap <= 0.0:
            return ring
        return offset_outward(ring, self.job.gap / 2.0, min(GAP_TOLERANCE, self.job.gap / 10.0))

    def placements(self, poses: Poses) -> list[tuple[int, Placement]]:
        """(index of the required piece, placement) of all that is placed; copies and sets are numbered later."""
        columns = (poses.field, poses.x, poses.y, poses.angle, poses.flipped)
        placed = np.flatnonzero(poses.field >= 0)
        rows = zip(placed.tolist(), *(column[placed].tolist() for column in columns), strict=True)
        return [(index, self._placement_at(index, pose)) for index, *pose in rows]

    def _placement_at(self, index: int, pose: list[Any]) -> Placement:
        """A piece at a field, x, y, angle and side; the same as last time where it lies as it did then."""
        last = self._last_placement.get(index)
        if last is not None and last[0] == pose:
            return last[1]
        field, x, y, angle, flipped = pose
        made = self.placement(index, field, x, y, angle, flipped=flipped)
        self._last_placement[index] = pose, made
        return made

    @cached_property
    def _last_placement(self) -> dict[int, tuple[list[Any], Placement]]:
        """By required piece the pose asked for last and its placement: between two plans of a search few move."""
        return {}

    def placement(
        self,
        index: int,
        hide: int,
        x: float,
        y: float,
        angle: float,
        *,
        flipped: bool = False,
    ) -> Placement:
        """What a required piece at a pose (mm, degrees) is on leather: the piece as drawn, mirrored where its hand or
        its being turned over says so."""
        piece = self.cut_piece(index)
        mirrored = piece.mirrored != flipped
        px, py, turn = (round(float(value), DECIMALS) for value in (x, y, angle % 360.0))
        pose = Pose(px, py, turn, mirrored)
        overcut = self.overcut(piece)
        shape = piece.in_hand(self._shape(self.required_pieces[index].piece))
        return Placement(
            hide=self.hides[hide].name,
            piece=piece.piece.name,
            layer=piece.cut.layer,
            mirrored=mirrored,
            angle=pose.angle,
            x=pose.x,
            y=pose.y,
            finished=rounded_points(pose.apply_ring(piece.piece.ring)),
            cut=rounded_points(pose.apply_ring(shape)),
            overcut=overcut,
        )

    def cut_piece(self, index: int) -> CutPiece:
        """The cut piece that a required piece, given by its index, is."""
        return self.job.cut_pieces[self.required_pieces[index].piece]

    def _sets_of(self, index: int) -> int:
        """Sets to plan for: those asked, or as many as the leather's area could hold where the goal wants more."""
        article = self.job.articles[index]
        if not self.goal.extra_sets:
            return article.sets
        rooms = []
        for layer in self.job.layers:
            pieces = [p for p in self.job.cut_pieces if p.cut.layer == layer.name]
            need = sum(p.net_area * p.piece.count * self.job.articles[p.article].sets for p in pieces)
            if need > 0:
                rooms.append(sum(hide.gross_area for hide in self.hides if layer.takes(hide)) / need)
        room = min(rooms, default=1.0)
        return max(article.sets, min(int(article.sets * room) + 1, MOST_SETS))

    def _shape(self, index: int) -> Ring:
        """The shape in which a cut piece, given by its index, is laid; grown once for all its placements."""
        if index not in self._shapes:
            piece = self.job.cut_pieces[index]
            self._shapes[index] = piece.shape_at(self.overcut(piece))
        return self._shapes[index]

    @cached_property
    def _shapes(self) -> dict[int, Ring]:
        return {}

    def _item(self, index: int) -> Item:
        piece = self.job.cut_pieces[index]
        shape = self._shape(index)
        options: list[PlacementOption] = []
        for field, rules in enumerate(self.rules):
            for allowed in rules.for_piece(piece):
                # The rules put the finished outline first and the cut shape at its least overcut second.
                rings = [constraint.ring for constraint in allowed.constraints]
                rings[1] = mirror(shape) if allowed.flipped else shape
                areas = [constraint.area for constraint in allowed.constraints]
                constraints = tuple(map(Containment, rings, areas))
                options.append(
                    PlacementOption(field, allowed.turns, constraints, allowed.flipped, self.cost(field))
                )
        # Grown as drawn, which left and right share.
        grown = piece.in_hand(self.with_gap(piece.in_hand(shape)))
        return Item(grown, index, tuple(options))

    def cost(self, field: int) -> float:
        """What a hide costs: its price, or its area where one has no price."""
        prices = [hide.price for hide in self.hides]
        if all(price is not None for price in prices):
            return float(prices[field] or 0.0)
        return self.hides[field].gross_area


def rounded_points(ring: Any) -> tuple[tuple[float, float], ...]:
    """A ring `(n, 2)`, mm, as a plan's file holds it."""
    return tuple(map(tuple, np.round(np.asarray(ring, float), DECIMALS).tolist()))
