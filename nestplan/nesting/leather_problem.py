"""A job on hides as shapes for the engine, and the engine's poses back as placements.

What lives here: which copies are wanted, in which order whole sets count, the demands of the rules as the engine
takes them, and the record of what a pose means on leather. What does not: the search (`lay`, `separate`, `goals`),
strips (`straps`), which copy belongs to which set (`sets`).
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
from nestplan.model.hide import Hide
from nestplan.model.job import CutPiece, Job
from nestplan.model.plan import Placement
from nestplan.model.rules import PlacementRules
from nestplan.nesting.problem import Containment, Item, PlacementOption, Poses, Problem
from nestplan.nesting.set_targets import SetTargets

__all__ = ["DECIMALS", "LeatherProblem", "RequiredPiece", "rounded"]

Ring = NDArray[np.float64]

DECIMALS = 4
"""Poses and rings are rounded to 0.1 µm and 0.0001 degrees, as files are written; shapes are grown by more."""

GAP_TOLERANCE = 0.02
MOST_ITEMS = 3000


@dataclass(frozen=True)
class RequiredPiece:
    """One shape to be cut: the number of its cut piece in `Job.cut_pieces`, and the set it is for.

    Sets of all articles stand in one row, `rank`, in which every article advances evenly toward what is asked;
    `asked` tells whether the job asks for that set or only the goal `fill` does.
    """

    piece: int
    article: int
    number: int
    rank: int
    asked: bool


@dataclass(frozen=True, eq=False)
class LeatherProblem:
    """A job on hides, with placements that stay (`keep`), as a problem of shapes.

    `beyond`: sets are planned beyond those asked, as many as the leather could hold. `widening`: the share of the way
    from the least overcut to the wish at which cut shapes are laid, 0 to 1.
    """

    job: Job
    hides: tuple[Hide, ...]
    keep: tuple[Placement, ...] = ()
    beyond: bool = False
    widening: float = 0.0

    @property
    def can_widen(self) -> bool:
        """Whether some overcut has a wish above its least."""
        return any(piece.wished_overcut > piece.least_overcut for piece in self.job.cut_pieces)

    def widened(self, share: float) -> LeatherProblem:
        """The same task at another widening; the rules, worked out once, go along."""
        twin = replace(self, widening=share)
        twin.__dict__["grounds"] = self.grounds
        return twin

    def overcut(self, piece: CutPiece) -> float:
        """The overcut at which a cut piece is laid, mm."""
        return round(
            piece.least_overcut + self.widening * (piece.wished_overcut - piece.least_overcut), DECIMALS
        )

    @cached_property
    def grounds(self) -> tuple[PlacementRules, ...]:
        """The rules on each hide."""
        return tuple(PlacementRules(hide, self.job) for hide in self.hides)

    @cached_property
    def axes(self) -> tuple[float, ...]:
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
    def wants(self) -> tuple[RequiredPiece, ...]:
        """Every shape still to be cut; what `keep` holds already is left out, from the first sets on."""
        kept = Counter(self._hand(p.piece, p.layer, p.mirrored) for p in self.keep if p.piece)
        wants: list[RequiredPiece] = []
        for rank, (article, number) in enumerate(self.sets):
            for index, piece in enumerate(self.job.cut_pieces):
                if piece.article != article:
                    continue
                for _ in range(piece.piece.count):
                    hand = self._hand(*piece.key)
                    if kept[hand] > 0:
                        kept[hand] -= 1
                    else:
                        asked = number <= self.job.articles[article].sets
                        wants.append(RequiredPiece(index, article, number, rank, asked))
        return tuple(wants[:MOST_ITEMS] if self.beyond else wants)

    @cached_property
    def items(self) -> tuple[Item, ...]:
        """The wants as the engine takes them; equal cut pieces share a kind."""
        made: dict[int, Item] = {}
        items = []
        for want in self.wants:
            if want.piece not in made:
                made[want.piece] = self._item(want.piece)
            like = made[want.piece]
            items.append(Item(like.ring, like.kind, like.allowances, like.value, want.rank))
        return tuple(items)

    @cached_property
    def fields(self) -> tuple[Polygon, ...]:
        """The hides' leather."""
        return tuple(ground.leather for ground in self.grounds)

    @cached_property
    def aim(self) -> SetTargets:
        """The articles as counts of kinds of item, for the search."""
        pieces = self.job.cut_pieces
        held: Counter[int] = Counter()
        for kept in self.keep:
            hand = self._hand(kept.piece, kept.layer, kept.mirrored) if kept.piece else None
            mine = [i for i, piece in enumerate(pieces) if hand and self._hand(*piece.key) == hand]
            if mine:
                held[mine[0]] += 1
        needs = tuple(
            {i: p.piece.count for i, p in enumerate(pieces) if p.article == number}
            for number in range(len(self.job.articles))
        )
        return SetTargets(
            kinds=np.array([want.piece for want in self.wants], np.int64),
            needs=needs,
            asked=tuple(article.sets for article in self.job.articles),
            most=tuple(self._sets_of(number) for number in range(len(self.job.articles))),
            held=(dict(held),),
            size=np.array([pieces[want.piece].piece.net_area for want in self.wants]),
            able=np.array([bool(item.allowances) for item in self.items], bool),
        )

    def problem(self, placed: Sequence[Placement] = ()) -> Problem:
        """The problem with everything in `keep`, and `placed` besides, lying fixed."""
        names = {hide.name: index for index, hide in enumerate(self.hides)}
        fixed = [(names[p.hide], self.with_gap(p.cut_ring)) for p in (*self.keep, *placed) if p.hide in names]
        return Problem(self.fields, self.items, tuple(fixed))

    def with_gap(self, ring: Ring) -> Ring:
        """A cut shape grown by half the knife gap, so that two of them may touch."""
        if self.job.gap <= 0.0:
            return ring
        return offset_outward(ring, self.job.gap / 2.0, min(GAP_TOLERANCE, self.job.gap / 10.0))

    def placements(self, poses: Poses) -> list[tuple[int, Placement]]:
        """(number of the want, placement at the least overcut) of all that lies; copies and sets come later."""
        return [
            (index, self.placement(index, int(poses.field[index]), poses.x[index], poses.y[index], poses.angle[index],
                                   flipped=bool(poses.flipped[index])))
            for index in np.flatnonzero(poses.field >= 0).tolist()
        ]  # fmt: skip

    def placement(
        self,
        want: int,
        hide: int,
        x: float,
        y: float,
        angle: float,
        *,
        flipped: bool = False,
        overcut: float | None = None,
    ) -> Placement:
        """What an item at a pose is on leather: the piece as drawn, mirrored where its hand or a turn says so."""
        piece = self.job.cut_pieces[self.wants[want].piece]
        mirrored = piece.mirrored != flipped
        px, py, turn = (round(float(value), DECIMALS) for value in (x, y, angle % 360.0))
        pose = Pose(px, py, turn, mirrored)
        wide = self.overcut(piece) if overcut is None else overcut
        shape = piece.in_hand(piece.shape_at(wide))
        return Placement(
            hide=self.hides[hide].name,
            piece=piece.piece.name,
            layer=piece.cut.layer,
            mirrored=mirrored,
            angle=pose.angle,
            x=pose.x,
            y=pose.y,
            finished=rounded(pose.apply_ring(piece.piece.ring)),
            cut=rounded(pose.apply_ring(shape)),
            overcut=wide,
        )

    def cut_piece(self, want: int) -> CutPiece:
        """The cut piece of a want."""
        return self.job.cut_pieces[self.wants[want].piece]

    def _hand(self, piece: str, layer: str, mirrored: bool) -> tuple[str, str, bool]:
        """What makes two copies the same: a piece that may be turned over has no hand."""
        return (piece, layer, mirrored and not self.job.piece(piece).turn_over)

    def _sets_of(self, index: int) -> int:
        """Sets to plan for: those asked, or with `beyond` as many as the leather's area could hold."""
        article = self.job.articles[index]
        if not self.beyond:
            return article.sets
        rooms = []
        for layer in self.job.layers:
            pieces = [p for p in self.job.cut_pieces if p.cut.layer == layer.name]
            need = sum(p.piece.net_area * p.piece.count * self.job.articles[p.article].sets for p in pieces)
            if need > 0:
                rooms.append(sum(hide.gross_area for hide in self.hides if layer.takes(hide)) / need)
        room = min(rooms, default=1.0)
        return max(article.sets, min(int(article.sets * room) + 1, 1000))

    def _item(self, index: int) -> Item:
        piece = self.job.cut_pieces[index]
        shape = piece.shape_at(self.overcut(piece))
        allowances: list[PlacementOption] = []
        for field, grounds in enumerate(self.grounds):
            for ground in grounds.for_piece(piece):
                # The rules put the finished outline first and the cut shape at its least second.
                rings = [d.ring for d in ground.constraints]
                rings[1] = mirror(shape) if ground.flipped else shape
                demands = tuple(
                    Containment(r, d.area) for r, d in zip(rings, ground.constraints, strict=True)
                )
                cost = self.cost(field)
                allowances.append(PlacementOption(field, ground.turns, demands, ground.flipped, cost))
        value = piece.piece.value if piece.piece.value is not None else piece.piece.net_area
        return Item(self.with_gap(shape), index, tuple(allowances), value)

    def cost(self, field: int) -> float:
        """What a hide costs: its price, or its area where one has no price."""
        prices = [hide.price for hide in self.hides]
        return (
            float(prices[field] or 0.0)
            if all(p is not None for p in prices)
            else self.hides[field].gross_area
        )


def rounded(ring: Any) -> tuple[tuple[float, float], ...]:
    """A ring as a plan's file holds it."""
    return tuple((x, y) for x, y in np.round(np.asarray(ring, float), DECIMALS).tolist())
