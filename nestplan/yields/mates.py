"""The left and right of each pair in a plan, and how far apart they lie: like leather for like places.

Counted from the plan's own outlines; no code is shared with nesting.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from nestplan.model.job import Job
from nestplan.model.piece import Piece
from nestplan.model.plan import Placement, Plan

__all__ = ["MatePair", "far_mates", "mate_pairs"]


@dataclass(frozen=True)
class MatePair:
    """A left and a right of one piece, layer and set, as numbers in the plan's placements.

    `apart` is mm from edge to edge of what is cut, None on two hides. `near`: on one hide and no farther
    apart than the piece is long. `asked`: the piece asks for its mates near; `far`: it does, and they lie on two hides
    or farther apart than the job's limit.
    """

    left: int
    right: int
    apart: float | None
    near: bool
    asked: bool
    far: bool


def mate_pairs(plan: Plan, job: Job) -> tuple[MatePair, ...]:
    """Every left with its right, in the order of the plan; of several in one set, those nearest to each other."""
    groups: dict[tuple[str, str, int], list[int]] = {}
    for number, placed in enumerate(plan.placements):
        if placed.piece and job.piece(placed.piece).pair:
            groups.setdefault((placed.piece, placed.layer, placed.set), []).append(number)
    return tuple(
        _pair(plan, job, left, right)
        for (piece, _, _), members in groups.items()
        for left, right in _nearest_pairs(plan, job.piece(piece), members)
    )


def far_mates(plan: Plan, job: Job) -> tuple[MatePair, ...]:
    """The pairs that ask to lie near each other and do not."""
    return tuple(pair for pair in mate_pairs(plan, job) if pair.far)


def _pair(plan: Plan, job: Job, left: int, right: int) -> MatePair:
    one, other = plan.placements[left], plan.placements[right]
    piece, apart = job.piece(one.piece), _apart(one, other)
    length = float((piece.ring.max(axis=0) - piece.ring.min(axis=0)).max())
    return MatePair(
        left,
        right,
        apart,
        near=apart is not None and apart <= length,
        asked=piece.mates_near,
        far=piece.mates_near and (apart is None or apart > job.mates_limit),
    )


def _nearest_pairs(plan: Plan, piece: Piece, members: Sequence[int]) -> list[tuple[int, int]]:
    """Lefts and rights among the members of one set paired, the nearest first; of a piece that may be turned over any
    two."""
    lefts = members if piece.turn_over else [n for n in members if not plan.placements[n].mirrored]
    rights = members if piece.turn_over else [n for n in members if plan.placements[n].mirrored]
    ways = sorted(
        (_far_last(_apart(plan.placements[left], plan.placements[right])), left, right)
        for left in lefts
        for right in rights
        if left != right
    )
    taken: set[int] = set()
    found = []
    for _, left, right in ways:
        if left not in taken and right not in taken:
            taken |= {left, right}
            found.append((left, right))
    return sorted(found)


def _apart(one: Placement, other: Placement) -> float | None:
    if one.hide != other.hide:
        return None
    return float(shapely.distance(shapely.Polygon(one.cut_ring), shapely.Polygon(other.cut_ring)))


def _far_last(apart: float | None) -> float:
    return float("inf") if apart is None else apart
