"""A proven upper bound on whole sets: what no plan on these hides can pass.

For each article by itself, as though nothing else were cut, and for the whole job. Three arguments, the least
counts: each piece alone (by area and by the spacing of its largest discs), each part of a piece that asks for
more, and every group of pieces together by the leather they can reach. Proofs about shapes and areas are in
`nestplan.yields.capacity`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from nestplan.geometry.areas import grown, polygons_in
from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job
from nestplan.model.piece import Piece, Strip
from nestplan.model.rules import PlacementRules
from nestplan.yields.capacity import (
    QUARTER_SEGMENTS,
    SLACK,
    OutlineMeasures,
    center_area,
    least_area,
    most_by_area,
    most_by_spacing,
    outline_measures,
    reachable,
)

__all__ = ["SetBound", "job_bound", "set_bounds"]

_NO_LIMIT = 10**9


@dataclass(frozen=True)
class SetBound:
    """At most `sets` whole sets of `article` can be cut from the hides; `why` names the argument that
    decides.
    """

    article: str
    sets: int
    why: str


@dataclass(frozen=True, eq=False)
class _SetItem:
    """One thing of a set as the proofs see it: how many a set needs, what one uses up, where it can reach.

    `used` mm² is never too much; `rooms` are the areas, hide by hide, outside which no grown copy has a
    point; `most` is the proven limit on single copies.
    """

    name: str
    layer: str
    in_a_set: int
    used: float
    rooms: tuple[BaseGeometry, ...]
    most: int


def set_bounds(job: Job, hides: Sequence[Hide]) -> tuple[SetBound, ...]:
    """For each article of the job the most whole sets that any plan on these hides can give.

    Areas and distances are taken to the tolerance of the audit. Other articles are left out of account; for
    what they take from each other see `job_bound`.
    """
    cache = _ProofCache([_HideReach(PlacementRules(hide, job)) for hide in hides])
    return tuple(
        _least_limit(article.name, _set_items(article, number, job, cache), job)
        for number, article in enumerate(job.articles)
    )


def job_bound(job: Job, hides: Sequence[Hide]) -> SetBound:
    """How many times over the whole job, all its articles in the numbers asked, can be cut at most.

    0 proves that no plan on these hides places everything, and `why` says what is short. `article` is the
    job's name.
    """
    cache = _ProofCache([_HideReach(PlacementRules(hide, job)) for hide in hides])
    items = [
        replace(item, in_a_set=item.in_a_set * article.sets)
        for number, article in enumerate(job.articles)
        for item in _set_items(article, number, job, cache)
    ]
    return _least_limit(job.name, items, job)


@dataclass(eq=False)
class _HideReach:
    """One hide's rules, and the reachable areas already worked out on it."""

    rules: PlacementRules
    reached: dict[tuple[int, int], BaseGeometry] = field(default_factory=dict)
    kept: list[object] = field(default_factory=list)

    def reach(self, area: BaseGeometry, shape: OutlineMeasures) -> BaseGeometry:
        key = (id(area), id(shape))
        if key not in self.reached:
            self.reached[key] = reachable(area, shape)
            # Ids stay unique only while the things they name live.
            self.kept += [area, shape]
        return self.reached[key]


@dataclass(eq=False)
class _ProofCache:
    """What the proofs share: the hides' rules and the measures of outlines already met."""

    hides: Sequence[_HideReach]
    measures: dict[bytes, OutlineMeasures] = field(default_factory=dict)

    def outline_measures(self, ring: npt.NDArray[np.float64]) -> OutlineMeasures:
        key = ring.tobytes()
        if key not in self.measures:
            self.measures[key] = outline_measures(ring)
        return self.measures[key]


def _set_items(article: Article, number: int, job: Job, cache: _ProofCache) -> list[_SetItem]:
    """Everything of a set that the proofs count."""
    items = [item for piece in article.pieces for item in _piece_items(piece, number, job, cache)]
    return items + [_strip_item(strip, job, cache.hides) for strip in article.strips]


def _least_limit(name: str, items: Sequence[_SetItem], job: Job) -> SetBound:
    """The least of all limits, with the argument it comes from."""
    limits = [(item.most // item.in_a_set, f"no more of '{item.name}' fit") for item in items]
    whole = [item for item in items if item.used > 0]
    limits += [(_sets_by_area(group), words) for group, words in _groups(whole, job)]
    sets, why = min(limits, key=lambda limit: limit[0])
    return SetBound(name, sets, why)


def _piece_items(piece: Piece, number: int, job: Job, cache: _ProofCache) -> Iterator[_SetItem]:
    """The piece in each of its layers, and each of its parts that asks for more than the piece does."""
    hands = [cut for cut in job.cut_pieces if cut.article == number and cut.piece is piece]
    in_a_set = piece.copies_in_set
    for cut in piece.cuts:
        mine = [hand for hand in hands if hand.cut is cut]
        least = mine[0].least_overcut
        name = piece.name if len(piece.cuts) == 1 else f"{piece.name}, {cut.layer}"
        allowed = [[found for hand in mine for found in each.rules.for_piece(hand)] for each in cache.hides]
        parts = piece.parts_in(cut.layer)
        outlines = [piece.ring, *(part.ring for part in parts)]
        for rank, ring in enumerate(outlines):
            # Constraints come in the order of the finished outline, the cut shape, and the parts.
            place = 0 if rank == 0 else rank + 1
            shape = cache.outline_measures(ring)
            band = max(job.gap / 2 + least - SLACK, 0.0)
            rooms, most = [], 0
            for each, found in zip(cache.hides, allowed, strict=True):
                area = _united([one.constraints[place].area for one in found])
                inside = each.reach(area, shape)
                room = grown(inside, band + SLACK, quarter_segments=QUARTER_SEGMENTS)
                if found:
                    edge = grown(
                        found[0].constraints[1].area, job.gap / 2 + SLACK, quarter_segments=QUARTER_SEGMENTS
                    )
                    room = shapely.intersection(room, edge)
                rooms.append(room)
                spaced = most_by_spacing(center_area(inside, shape), 2 * (shape.radius - SLACK + band))
                most += min(spaced, most_by_area(polygons_in(room), least_area(ring, band)))
            if rank == 0:
                yield _SetItem(name, cut.layer, in_a_set, least_area(ring, band), tuple(rooms), most)
            else:
                part = parts[rank - 1].name or f"part {rank}"
                yield _SetItem(f"{name}, {part}", cut.layer, in_a_set, 0.0, (), most)


def _strip_item(strip: Strip, job: Job, hides: Sequence[_HideReach]) -> _SetItem:
    """A strip: its area, where bands of its width can lie; joined ones may be made up from several places."""
    used = strip.width * strip.length - SLACK
    shortest = strip.least_part if strip.joins else strip.length
    half = strip.width / 2
    shape = OutlineMeasures(
        half, ((half, half * (math.sqrt(2) - 1)),), strip.width * min(shortest, strip.length)
    )
    rooms = tuple(each.reach(each.rules.strip_area(strip), shape) for each in hides)
    if strip.joins:
        most = math.floor(sum(room.area for room in rooms) / used)
    else:
        most = sum(most_by_area(polygons_in(room), used) for room in rooms)
    return _SetItem(strip.name, strip.layer, strip.count, used, rooms, most)


def _groups(items: Sequence[_SetItem], job: Job) -> Iterator[tuple[list[_SetItem], str]]:
    """Groups whose leather is worth adding up: by reach, narrowest first, over all layers and in each.

    If a group cannot be cut from all the leather any of it can reach, no larger plan can be (the condition of
    Hall, 1935, in areas); the groups that grow by one from the narrowest reach are those most likely to
    decide.
    """
    reach = {id(item): sum(room.area for room in item.rooms) for item in items}
    layers = [layer.name for layer in job.layers]
    for chosen in [None, *(layers if len(layers) > 1 else [])]:
        mine = sorted(
            (item for item in items if chosen in (None, item.layer)), key=lambda item: reach[id(item)]
        )
        for size in range(2, len(mine) + 1):
            names = "', '".join(item.name for item in mine[:size])
            words = (
                f"the leather for '{names}' runs out"
                if size <= 3
                else f"the leather for {size} pieces runs out"
            )
            yield mine[:size], words


def _sets_by_area(group: Sequence[_SetItem]) -> int:
    """Sets that the group allows: all the area it can reach over what one set of it uses up."""
    one_set = sum(item.in_a_set * item.used for item in group)
    least = min(item.used for item in group)
    total = 0.0
    for rooms in zip(*(item.rooms for item in group), strict=True):
        parts = shapely.get_parts(_united(rooms))
        total += sum(part.area for part in parts if part.area >= least)
    return math.floor(total / one_set + 1e-9) if one_set > 0 else _NO_LIMIT


def _united(areas: Iterable[BaseGeometry]) -> BaseGeometry:
    """The union; an area given alone or again and again is handed on as it is."""
    different = list({id(area): area for area in areas}.values())
    if len(different) == 1:
        return different[0]
    return shapely.union_all(different) if different else shapely.Polygon()
