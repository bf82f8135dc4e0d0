"""A proven lower bound on hides: so many at least any plan uses that places all that is asked.

Besides the hides' areas what large pieces need: of those whose largest disc has some radius or more, each takes up a
disc of that radius, and such discs keep apart. So a hide holds no more of them than discs fit between its edges and
flaws, none where no disc does, and the fewest hides hold all of them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from nestplan.geometry.areas import grown, polygons_in
from nestplan.geometry.inscribed import largest_disc
from nestplan.model.hide import Hide
from nestplan.model.job import CutPiece, Job
from nestplan.model.rules import PlacementRules
from nestplan.yields.bounds import ROUNDING, fewest_hides, fewest_rooms
from nestplan.yields.capacity import (
    QUARTER_SEGMENTS,
    SLACK,
    drawn_coarsely,
    least_area,
    most_by_area,
    most_by_spacing,
)

__all__ = ["proven_fewest_hides"]

_MOST_SIZES = 8
"""Sizes of disc that are looked at for each layer, spread evenly over all; and pieces that are by themselves."""


@dataclass(frozen=True, eq=False)
class _LargePiece:
    """A cut piece as the proof sees it: how many are asked, a disc (radius, mm) that each holds, and what each uses up
    (mm²) with `band` mm all round."""

    piece: CutPiece
    count: int
    radius: float
    used: float
    band: float


def proven_fewest_hides(
    job: Job,
    hides: Sequence[Hide],
    *,
    reached: int | None = None,
    stop: Callable[[], bool] = lambda: False,
) -> int:
    """So many of the hides at least any plan uses that places all that is asked.

    Where a plan has `reached` as few hides as their area allows, nothing is left to prove. Once `stop` says so, what is
    proven by then.
    """
    fewest = fewest_hides(job, hides)
    if fewest >= len(hides) or (reached is not None and reached <= fewest):
        return fewest
    rooms = _Rooms(job, hides)
    for layer in job.layers:
        pieces = sorted(
            (_as_large_piece(piece, job) for piece in job.cut_pieces if piece.cut.layer == layer.name),
            key=lambda large: -large.radius,
        )
        for group in _groups(pieces, rooms):
            if stop():
                return fewest
            fewest = max(fewest, _fewest_for(group, pieces, rooms, stop))
    return min(fewest, len(hides))


def _as_large_piece(piece: CutPiece, job: Job) -> _LargePiece:
    band = max(job.gap / 2 + piece.least_overcut - SLACK, 0.0)
    ring = piece.piece.ring
    return _LargePiece(
        piece=piece,
        count=piece.piece.count * job.articles[piece.article].sets,
        radius=largest_disc(shapely.Polygon(ring), SLACK)[2] - SLACK,
        used=least_area(ring, band),
        band=band,
    )


def _groups(pieces: Sequence[_LargePiece], rooms: _Rooms) -> list[list[_LargePiece]]:
    """The largest so many pieces, for some numbers; and by itself each that some hide may not hold, up to a number."""
    ends = [
        end
        for end in range(1, len(pieces) + 1)
        if (end == len(pieces) or pieces[end].radius < pieces[end - 1].radius)
    ]
    steps = max(len(ends) / _MOST_SIZES, 1.0)
    chosen = {ends[int(index * steps)] for index in range(min(len(ends), _MOST_SIZES))}
    kept_off = [[large] for large in pieces if any(rooms.are_closed_to(large))]
    return [*(list(pieces[:end]) for end in sorted(chosen)), *kept_off[:_MOST_SIZES]]


def _fewest_for(
    group: Sequence[_LargePiece], every: Sequence[_LargePiece], rooms: _Rooms, stop: Callable[[], bool]
) -> int:
    """The fewest hides that hold a group of all pieces of a layer: by how many of its discs each holds, and by area on
    those that hold any; and with these, the fewest that have the area of all pieces."""
    radius, band = group[-1].radius, min(large.band for large in group)
    least = min(large.used for large in group)
    counts, areas = [], []
    for number in range(len(rooms.hides)):
        area = rooms.of_group(group, number)
        middles = shapely.buffer(area, -0.99 * (radius - SLACK), quad_segs=QUARTER_SEGMENTS)
        if stop() or middles.is_empty:
            # Without a proof as many as are asked.
            counts.append(0 if middles.is_empty else sum(large.count for large in group))
            areas.append(0.0 if middles.is_empty else area.area)
            continue
        room = polygons_in(grown(area, band + SLACK))
        counts.append(min(most_by_spacing(middles, 2 * (radius - SLACK + band)), most_by_area(room, least)))
        areas.append(room.area)
    by_count = fewest_rooms(float(sum(large.count for large in group)), map(float, counts))
    by_area = fewest_rooms(sum(large.count * large.used for large in group), areas)
    holding = max(by_count, by_area)
    leather = [(count > 0, rules.hide.gross_area) for count, rules in zip(counts, rooms.hides, strict=True)]
    first = sorted((area for holds, area in leather if holds), reverse=True)
    others = [*first[holding:], *(area for holds, area in leather if not holds)]
    need = (1.0 - ROUNDING) * sum(large.count * large.piece.net_area for large in every)
    need -= sum(first[:holding])
    return holding + fewest_rooms(need, others)


class _Rooms:
    """Where pieces may lie on hides, drawn with few points all around."""

    def __init__(self, job: Job, hides: Sequence[Hide]) -> None:
        self.hides = [PlacementRules(hide, job) for hide in hides]
        self._coarse: dict[int, BaseGeometry] = {}
        self._kept: list[BaseGeometry] = []

    def of_group(self, group: Sequence[_LargePiece], number: int) -> BaseGeometry:
        """What of a hide any piece of a group may lie on."""
        allowed = (each for large in group for each in self.hides[number].for_piece(large.piece))
        areas = {id(area): area for area in (self._coarsely(each.constraints[0].area) for each in allowed)}
        return shapely.union_all(list(areas.values())) if areas else shapely.Polygon()

    def are_closed_to(self, large: _LargePiece) -> Iterator[bool]:
        """Of each hide, whether the rules keep a piece off it."""
        return (not rules.for_piece(large.piece) for rules in self.hides)

    def _coarsely(self, area: BaseGeometry) -> BaseGeometry:
        if id(area) not in self._coarse:
            self._coarse[id(area)] = drawn_coarsely(area)
            # Ids stay unique only while the things they name live.
            self._kept.append(area)
        return self._coarse[id(area)]
