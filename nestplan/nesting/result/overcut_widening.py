"""Overcuts widened from their least toward the wish, wherever there is room, once all has its place."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import shapely
from msgspec.structs import replace
from numpy.typing import NDArray
from shapely import Polygon

from nestplan.model.job import CutPiece
from nestplan.model.plan import Placement
from nestplan.nesting.leather_problem import LeatherProblem, rounded_points

__all__ = ["widened_overcuts"]

STEPS = 8
"""Widths tried between the least overcut and the wish."""
SAFE = 0.001
"""mm kept besides the gap, for rounding."""


def widened_overcuts(
    problem: LeatherProblem, placements: Sequence[Placement], *, stop: Callable[[], bool] = lambda: False
) -> list[Placement]:
    """Placements with each overcut as wide as its wish or as its neighbours, the hide and its flaws allow.

    In the order given, each piece to the widest of a few even steps; what is kept from before stays as it is, and
    so does what is left once `stop` says so.
    """
    pieces = {piece.key: piece for piece in problem.job.cut_pieces}
    found = list(placements)
    drawn: dict[tuple[tuple[str, str, bool], float], NDArray[np.float64]] = {}
    kept = {(p.name, p.layer, p.copy, p.part) for p in problem.keep}
    for index, hide in enumerate(problem.hides):
        mine = [number for number, p in enumerate(found) if p.hide == hide.name]
        shapes = {number: Polygon(found[number].cut_ring) for number in mine}
        tree = shapely.STRtree(list(shapes.values()))
        for number in mine:
            if stop():
                return found
            placement = found[number]
            piece = _piece_of(pieces, placement)
            if piece is None or (placement.name, placement.layer, placement.copy, placement.part) in kept:
                continue
            if piece.wished_overcut <= placement.overcut:
                continue
            reach = piece.wished_overcut - placement.overcut + problem.job.gap + 1.0
            near = [mine[k] for k in tree.query(shapes[number].buffer(2.0 * reach))]
            around = shapely.union_all([shapes[other] for other in near if other != number])
            room = next(g.constraints[1].area for g in problem.rules[index].for_piece(piece))
            for overcut in np.linspace(
                piece.wished_overcut, placement.overcut, STEPS, endpoint=False
            ).tolist():
                key = (piece.key, round(overcut, 4))
                if key not in drawn:
                    drawn[key] = piece.in_hand(piece.shape_at(key[1]))
                ring = rounded_points(placement.pose.apply_ring(drawn[key]))
                shape = Polygon(ring)
                # With nothing around there is no distance to it.
                apart = around.is_empty or shape.distance(around) >= problem.job.gap + SAFE
                if apart and room.covers(shape):
                    found[number] = replace(placement, cut=ring, overcut=round(overcut, 4))
                    shapes[number] = shape
                    break
    return found


def _piece_of(pieces: dict[tuple[str, str, bool], CutPiece], placement: Placement) -> CutPiece | None:
    """The cut piece of a placement; one turned over is known by its other hand."""
    name, layer, mirrored = placement.piece, placement.layer, placement.mirrored
    return pieces.get((name, layer, mirrored)) or pieces.get((name, layer, not mirrored))
