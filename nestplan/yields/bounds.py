"""A proven upper bound on whole sets: what no plan on these hides can pass.

For each article by itself, as though nothing else were cut, and for the whole job. Three arguments, the least
counts: each piece alone (by area and by the spacing of its largest discs), each part of a piece that asks for
more, and every group of pieces together by the leather they can reach. Proofs about shapes and areas are in
`nestplan.yields.capacity`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import takewhile

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
    drawn_coarsely,
    drawn_roughly,
    eroded,
    large_enough,
    least_area,
    most_by_area,
    most_by_spacing,
    most_strips_along,
    near_discs,
    outline_measures,
    within_reaches,
)

__all__ = ["ROUNDING", "SetBound", "area_bounds", "fewest_hides", "fewest_rooms", "job_bound", "set_bounds"]

_NO_LIMIT = 10**9

ROUNDING = 1e-6
"""Share of an area that pieces may seem to need beyond what the leather has, as they may touch and may be rounded."""


ANGLE_SLACK = 0.02
"""Degrees by which a strip in an audited plan may lie further off the backbone than it may."""


def _never() -> bool:
    return False


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


def set_bounds(
    job: Job,
    hides: Sequence[Hide],
    *,
    reached: Sequence[int] | None = None,
    stop: Callable[[], bool] = _never,
) -> tuple[SetBound, ...]:
    """For each article of the job the most whole sets that any plan on these hides can give.

    Areas and distances are taken to the tolerance of the audit. Other articles are left out of account; for
    what they take from each other see `job_bound`. Where a plan has `reached` as many sets of an article as the area
    allows, nothing is left to prove. Once `stop` says so no further proof is begun, and the bounds are those proven by
    then: true, but less tight.
    """
    cache = _ProofCache([_HideReach(PlacementRules(hide, job)) for hide in hides])
    found = []
    for number, by_area in enumerate(area_bounds(job, hides)):
        if reached is not None and by_area.sets <= reached[number]:
            found.append(by_area)
            continue
        article = job.articles[number]
        items = list(takewhile(lambda _: not stop(), _set_items(article, number, job, cache, by_area.sets)))
        proven = _least_limit(article.name, items, job, stop)
        found.append(by_area if proven is None or by_area.sets < proven.sets else proven)
    return tuple(found)


def area_bounds(job: Job, hides: Sequence[Hide]) -> tuple[SetBound, ...]:
    """The same as the area of the hides alone gives: less tight, and at hand at once."""
    leather = sum(hide.gross_area for hide in hides)
    found = []
    for number, article in enumerate(job.articles):
        need = sum(p.piece.net_area * p.piece.count for p in job.cut_pieces if p.article == number)
        need += sum(strip.count * strip.length * strip.width for strip in article.strips)
        found.append(SetBound(article.name, math.floor(leather / need), "area"))
    return tuple(found)


def fewest_hides(job: Job, hides: Sequence[Hide]) -> int:
    """So many of the hides at least any plan uses that places all that is asked: by area, the largest first.

    For each layer by itself on the hides it takes, and for all together; the greatest number is the bound. All the
    hides where even these have not the area.
    """
    need: dict[str, float] = {layer.name: 0.0 for layer in job.layers}
    for piece in job.cut_pieces:
        sets = job.articles[piece.article].sets
        need[piece.cut.layer] = need.get(piece.cut.layer, 0.0) + piece.net_area * piece.piece.count * sets
    for wanted in job.wanted_strips:
        area = (
            wanted.strip.count * job.articles[wanted.article].sets * wanted.strip.length * wanted.strip.width
        )
        need[wanted.strip.layer] = need.get(wanted.strip.layer, 0.0) + area
    taken = {layer.name: [hide.gross_area for hide in hides if layer.takes(hide)] for layer in job.layers}
    every = [hide.gross_area for hide in hides]
    counts = [fewest_rooms(area, taken.get(layer, every)) for layer, area in need.items()]
    return max(fewest_rooms(sum(need.values()), every), *counts)


def fewest_rooms(area: float, rooms: Iterable[float]) -> int:
    """How many rooms, the largest first, have an area together, but for rounding; all of them where they have not."""
    count = 0
    area *= 1.0 - ROUNDING
    for room in sorted(rooms, reverse=True):
        if area <= 0.0:
            break
        area -= room
        count += 1
    return count


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
    bound = _least_limit(job.name, items, job)
    assert bound is not None
    return bound


@dataclass(eq=False)
class _HideReach:
    """One hide's rules, and the areas already worked out on it, by what they were worked out from."""

    rules: PlacementRules
    reached: dict[tuple[int, tuple[tuple[float, float], ...]], BaseGeometry] = field(default_factory=dict)
    middles: dict[tuple[int, float], BaseGeometry] = field(default_factory=dict)
    near: dict[tuple[int, float, float], BaseGeometry] = field(default_factory=dict)
    edges: dict[tuple[int, float], BaseGeometry] = field(default_factory=dict)
    rough: dict[int, BaseGeometry] = field(default_factory=dict)
    coarse: dict[int, BaseGeometry] = field(default_factory=dict)
    kept: list[object] = field(default_factory=list)

    def coarsely(self, area: BaseGeometry) -> BaseGeometry:
        """An area with few points all around another one; the same one for the same."""
        if id(area) not in self.coarse:
            self.coarse[id(area)] = drawn_coarsely(area)
            self.kept.append(area)
        return self.coarse[id(area)]

    def reach(self, area: BaseGeometry, shape: OutlineMeasures) -> BaseGeometry:
        """What of an area a shape can reach."""
        if area.is_empty:
            return area
        key = (id(area), shape.reaches)
        if key not in self.reached:
            self.reached[key] = within_reaches(area, shape, partial(self._near_discs, area))
            # Ids stay unique only while the things they name live.
            self.kept.append(area)
        return large_enough(self.reached[key], shape)

    def _near_discs(self, area: BaseGeometry, r: float, e: float) -> BaseGeometry:
        """What is within e of some disc of radius r inside an area."""
        if id(area) not in self.rough:
            self.rough[id(area)] = drawn_roughly(area)
        middles, near = (id(area), r), (id(area), r, e)
        if middles not in self.middles:
            self.middles[middles] = eroded(self.rough[id(area)], r)
        if near not in self.near:
            self.near[near] = near_discs(self.middles[middles], r, e)
        return self.near[near]

    def grown_edge(self, area: BaseGeometry, distance: float) -> BaseGeometry:
        """The area grown by so many mm."""
        key = (id(area), distance)
        if key not in self.edges:
            self.edges[key] = grown(area, distance, quarter_segments=QUARTER_SEGMENTS)
            self.kept.append(area)
        return self.edges[key]


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


def _set_items(
    article: Article, number: int, job: Job, cache: _ProofCache, sets: int = _NO_LIMIT
) -> Iterator[_SetItem]:
    """Everything of a set that the proofs count, as far as it may show that fewer than so many sets are possible."""
    for strip in article.strips:
        yield _strip_item(strip, job, cache.hides)
    for piece in article.pieces:
        yield from _piece_items(piece, number, job, cache, sets)


def _least_limit(
    name: str, items: Sequence[_SetItem], job: Job, stop: Callable[[], bool] = _never
) -> SetBound | None:
    """The least of all limits, with the argument it comes from; None where there is nothing to count.

    Groups are left out that cannot lower it.
    """
    if not items:
        return None
    limits = [(item.most // item.in_a_set, _words_of_one(item)) for item in items]
    sets, why = min(limits, key=lambda limit: limit[0])
    whole = [item for item in items if item.used > 0]
    for mine in _group_orders(whole, job):
        union = _GrowingUnion(mine)
        # All together first: where that decides, hardly a smaller group needs to be looked at.
        for size in (len(mine), *range(2, len(mine))):
            if size < 2 or stop():
                continue
            limit = union.sets_at_most(size, sets)
            if limit < sets:
                sets, why = limit, _words_of(mine[:size])
    return SetBound(name, sets, why)


def _piece_items(piece: Piece, number: int, job: Job, cache: _ProofCache, sets: int) -> Iterator[_SetItem]:
    """The piece in each of its layers, and each of its parts that asks for more than the piece does.

    Copies are counted until there are enough for so many `sets`.
    """
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
            used = least_area(ring, band)
            rooms, most = [], 0
            for each, found in zip(cache.hides, allowed, strict=True):
                area = _united([each.coarsely(one.constraints[place].area) for one in found])
                inside = each.reach(area, shape)
                room = grown(inside, band + SLACK, quarter_segments=QUARTER_SEGMENTS)
                if found:
                    edge = each.grown_edge(each.coarsely(found[0].constraints[1].area), job.gap / 2 + SLACK)
                    room = shapely.intersection(room, edge)
                rooms.append(room)
                if most >= sets * in_a_set:
                    continue
                spaced = most_by_spacing(center_area(inside, shape), 2 * (shape.radius - SLACK + band))
                most += min(spaced, most_by_area(polygons_in(room), used))
            if rank == 0:
                yield _SetItem(name, cut.layer, in_a_set, used, tuple(rooms), most)
            else:
                part = parts[rank - 1].name or f"part {rank}"
                yield _SetItem(f"{name}, {part}", cut.layer, in_a_set, 0.0, (), most)


def _strip_item(strip: Strip, job: Job, hides: Sequence[_HideReach]) -> _SetItem:
    """A strip: its area, where bands of its width can lie; joined ones may be made up from several places.

    Straight ones along the backbone are counted across it as well, and no straight one is longer than the leather."""
    used = strip.width * strip.length - SLACK
    shortest = strip.least_part if strip.joins else strip.length
    half = strip.width / 2
    shape = OutlineMeasures(
        half, ((half, half * (math.sqrt(2) - 1)),), strip.width * min(shortest, strip.length)
    )
    rooms = tuple(each.reach(drawn_coarsely(each.rules.strip_area(strip)), shape) for each in hides)
    if strip.joins:
        most = math.floor(sum(room.area for room in rooms) / used)
    else:
        most = sum(
            min(most_by_area(polygons_in(room), used), _most_straight(strip, each.rules, room))
            for each, room in zip(hides, rooms, strict=True)
        )
    return _SetItem(strip.name, strip.layer, strip.count, used, rooms, most)


def _most_straight(strip: Strip, rules: PlacementRules, room: BaseGeometry) -> int:
    """How many strips that are cut whole and straight fit into a room, by its length and by lines across; no proof of
    those that may be cut from discs."""
    if strip.source != "edge":
        return _NO_LIMIT
    axis = rules.strip_axis(strip)
    tolerance = 90.0 if axis is None else strip.tolerance + ANGLE_SLACK
    return most_strips_along(room, axis or 0.0, tolerance, strip.length, strip.width)


def _group_orders(items: Sequence[_SetItem], job: Job) -> Iterator[list[_SetItem]]:
    """Orders of items such that their beginnings are the groups whose leather is worth adding up: by reach, narrowest
    first, over all layers and in each.

    If a group cannot be cut from all the leather any of it can reach, no larger plan can be (the condition of
    Hall, 1935, in areas); the groups that grow by one from the narrowest reach are those most likely to
    decide.
    """
    reach = {id(item): sum(room.area for room in item.rooms) for item in items}
    layers = [layer.name for layer in job.layers]
    for chosen in [None, *(layers if len(layers) > 1 else [])]:
        mine = [item for item in items if chosen in (None, item.layer)]
        yield sorted(mine, key=lambda item: reach[id(item)])


def _words_of_one(item: _SetItem) -> str:
    return f"no more of '{item.name}' fit" if item.most else f"'{item.name}' fits nowhere"


def _words_of(group: Sequence[_SetItem]) -> str:
    if len(group) > 3:
        return f"the leather for {len(group)} pieces runs out"
    names = "', '".join(item.name for item in group)
    return f"the leather for '{names}' runs out"


class _GrowingUnion:
    """All the leather that the first so many of `items` can reach, hide by hide, as the number grows.

    The union of a group is kept, and grows by what the next group reaches besides.
    """

    def __init__(self, items: Sequence[_SetItem]) -> None:
        self.items = items
        self.size = 0
        self.total = 0.0
        hides = len(items[0].rooms) if items else 0
        self.unions: list[BaseGeometry] = [shapely.Polygon()] * hides

    def sets_at_most(self, size: int, enough: int) -> int:
        """Sets that the first `size` items allow: all the area they can reach over what one set of them uses up. Where
        that is certain to be `enough` or more, a number that is."""
        group = self.items[:size]
        one_set = sum(item.in_a_set * item.used for item in group)
        if one_set <= 0:
            return _NO_LIMIT
        least = min(item.used for item in group)
        at_least = sum(max(room.area for room in rooms) for rooms in self._rooms(size))
        if math.floor(max(at_least, self.total if self.size <= size else 0.0) / one_set) >= enough:
            return _NO_LIMIT
        if size == len(self.items):
            unions = [_united(rooms) for rooms in self._rooms(size)]
        else:
            unions = self.unions = [
                _united((union, *rooms[self.size :]))
                for union, rooms in zip(self.unions, self._rooms(size), strict=True)
            ]
        parts = (part for union in unions for part in shapely.get_parts(union))
        total = sum(part.area for part in parts if part.area >= least)
        if size < len(self.items):
            self.size, self.total = size, total
        sets: int = math.floor(total / one_set + 1e-9)
        return sets

    def _rooms(self, size: int) -> Iterator[tuple[BaseGeometry, ...]]:
        """For each hide the rooms of the first items on it."""
        return zip(*(item.rooms for item in self.items[:size]), strict=True)


def _united(areas: Iterable[BaseGeometry]) -> BaseGeometry:
    """The union; an area given alone or again and again is handed on as it is, and what lies in the largest is not
    added to it."""
    different = sorted({id(area): area for area in areas if not area.is_empty}.values(), key=_minus_area)
    if not different:
        return shapely.Polygon()
    largest = different[0]
    shapely.prepare(largest)
    others = [area for area in different[1:] if not largest.covers(area)]
    return shapely.union_all([largest, *others]) if others else largest


def _minus_area(area: BaseGeometry) -> float:
    return -float(area.area)
