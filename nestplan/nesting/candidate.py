"""A candidate for a plan: strips and pieces with places that keep every rule, and what is missing.

How candidates come about is in `construct` and `search`; copies and sets are numbered when a plan is built of one.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from nestplan.model.goals import LayoutCounts, Merit
from nestplan.model.plan import Placement
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.leather_problem import LeatherProblem, RequiredStrips
from nestplan.nesting.problem import Poses
from nestplan.yields import whole_sets

__all__ = ["Candidate"]


@dataclass(frozen=True, eq=False)
class Candidate:
    """Strips laid first, the poses of the pieces in `layout`'s problem, and strips laid last, around the pieces.

    `missing_strips` found no place; `deferred_strips` are those that are laid last, placed or not, on `strip_hides` if
    these are given. `stale_strips`: pieces were moved since, so that these are to be laid anew.
    """

    problem: LeatherProblem
    layout: Layout
    strips_first: tuple[Placement, ...]
    poses: Poses
    strips_last: tuple[Placement, ...] = ()
    missing_strips: tuple[RequiredStrips, ...] = ()
    deferred_strips: tuple[RequiredStrips, ...] = ()
    strip_hides: frozenset[int] | None = None
    stale_strips: bool = False

    @cached_property
    def pieces(self) -> list[tuple[int, Placement]]:
        """(index of the required piece, placement) of every piece that has a place."""
        return self.problem.placements(self.poses)

    @property
    def placements(self) -> list[Placement]:
        """Everything that has a place, what is kept first; copies and sets are not yet numbered."""
        pieces = [placement for _, placement in self.pieces]
        return [*self.problem.keep, *self.strips_first, *pieces, *self.strips_last]

    @cached_property
    def whole_sets(self) -> tuple[int, ...]:
        """Whole sets of each article, what is kept included."""
        job, placements = self.problem.job, self.placements
        return tuple(whole_sets(article, job, placements) for article in job.articles)

    @property
    def net_area(self) -> float:
        """Area of the pieces that have a place as they are drawn, mm²."""
        placed = np.flatnonzero(self.poses.field >= 0)
        return float(sum(self.problem.cut_piece(int(index)).net_area for index in placed))

    @property
    def fields_used(self) -> set[int]:
        """Numbers of the hides that pieces lie on."""
        return set(self.poses.field[self.poses.field >= 0].tolist())

    @cached_property
    def hides_used(self) -> frozenset[int]:
        """Numbers of the hides that anything lies on, what is kept included."""
        names = {p.hide for p in (*self.problem.keep, *self.strips_first, *self.strips_last)}
        of_others = (index for index, hide in enumerate(self.problem.hides) if hide.name in names)
        return frozenset(self.fields_used.union(of_others))

    @property
    def merit(self) -> Merit:
        """What makes one candidate better than another, as the goal judges it: the greater the better."""
        return self.problem.goal.merit(
            LayoutCounts(
                whole_sets=self.whole_sets,
                sets_asked=tuple(article.sets for article in self.problem.job.articles),
                placed=int((self.poses.field >= 0).sum()),
                missing_strips=sum(strips.count for strips in self.missing_strips),
                net_area=self.net_area,
                hides_used=len(self.hides_used),
            )
        )

    def is_worse_than(self, other: Candidate) -> bool:
        """Whether it has fewer whole sets than another, or as many and fewer things that have a place."""
        return self.merit[:2] < other.merit[:2]

    @property
    def cost(self) -> float:
        """What the hides in use cost, in money or else mm²."""
        return sum(self.problem.cost(index) for index in sorted(self.hides_used))

    @property
    def complete(self) -> bool:
        """Whether all that was asked has a place."""
        required = self.problem.required_pieces
        placed = all(self.poses.field[i] >= 0 for i in range(len(required)) if required[i].asked)
        return placed and not self.missing_strips

    @property
    def progress_counts(self) -> dict[str, object]:
        """Its counts for the progress record."""
        problem = self.problem
        room = sum(problem.fields[field].area for field in self.fields_used)
        strips = len({(p.strip, p.copy) for p in (*self.strips_first, *self.strips_last)})
        kept = len({(p.name, p.layer, p.copy) for p in problem.keep})
        asked = sum(required.asked for required in problem.required_pieces)
        return {
            "placed": int((self.poses.field >= 0).sum()) + strips + kept,
            "asked": asked + sum(strips.count for strips in problem.required_strips) + kept,
            "sets": sum(self.whole_sets),
            "sets_asked": sum(article.sets for article in problem.job.articles),
            "cut_yield": self.net_area / room if room else 0.0,
        }
