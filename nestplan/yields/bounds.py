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

from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job
from nestplan.model.piece import Piece, Strip
from nestplan.model.rules import PlacementRules
from nestplan.yields.capacity import (
    SLACK,
    Stencil,
    center_area,
    grown,
    least_area,
    most_by_area,
    most_by_spacing,
    reachable,
    stencil,
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
class _Kind:
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
    known = _Known([_Ground(PlacementRules(hide, job)) for hide in hides])
    return tuple(
        _decide(article.name, _kinds(article, number, job, known), job)
        for number, article in enumerate(job.articles)
    )


def job_bound(job: Job, hides: Sequence[Hide]) -> SetBound:
    """How many times over the whole job, all its articles in the numbers asked, can be cut at most.

    0 proves that no plan on these hides places everything, and `why` says what is short. `article` is the
    job's name.
    """
    known = _Known([_Ground(PlacementRules(hide, job)) for hide in hides])
    kinds = [
        replace(kind, in_a_set=kind.in_a_set * article.sets)
        for number, article in enumerate(job.articles)
        for kind in _kinds(article, number, job, known)
    ]
    return _decide(job.name, kinds, job)


@dataclass(eq=False)
class _Ground:
    """One hide's rules, and the reachable areas already worked out on it."""

    rules: PlacementRules
    reached: dict[tuple[int, int], BaseGeometry] = field(default_factory=dict)
    kept: list[object] = field(default_factory=list)

    def reach(self, area: BaseGeometry, shape: Stencil) -> BaseGeometry:
        key = (id(area), id(shape))
        if key not in self.reached:
            self.reached[key] = reachable(area, shape)
            # Ids stay unique only while the things they name live.
            self.kept += [area, shape]
        return self.reached[key]


@dataclass(eq=False)
class _Known:
    """What the proofs share: the hides' rules and the stencils of outlines already met."""

    grounds: Sequence[_Ground]
    stencils: dict[bytes, Stencil] = field(default_factory=dict)

    def stencil(self, ring: npt.NDArray[np.float64]) -> Stencil:
        key = ring.tobytes()
        if key not in self.stencils:
            self.stencils[key] = stencil(ring)
        return self.stencils[key]


def _kinds(article: Article, number: int, job: Job, known: _Known) -> list[_Kind]:
    """Everything of a set that the proofs count."""
    kinds = [kind for piece in article.pieces for kind in _piece_kinds(piece, number, job, known)]
    return kinds + [_strip_kind(strip, job, known.grounds) for strip in article.strips]


def _decide(name: str, kinds: Sequence[_Kind], job: Job) -> SetBound:
    """The least of all limits, with the argument it comes from."""
    limits = [(kind.most // kind.in_a_set, f"no more of '{kind.name}' fit") for kind in kinds]
    whole = [kind for kind in kinds if kind.used > 0]
    limits += [(_sets_by_area(group), words) for group, words in _groups(whole, job)]
    sets, why = min(limits, key=lambda limit: limit[0])
    return SetBound(name, sets, why)


def _piece_kinds(piece: Piece, number: int, job: Job, known: _Known) -> Iterator[_Kind]:
    """The piece in each of its layers, and each of its parts that asks for more than the piece does."""
    hands = [cut for cut in job.cut_pieces if cut.article == number and cut.piece is piece]
    in_a_set = piece.count * (2 if piece.pair else 1)
    for cut in piece.cuts:
        mine = [hand for hand in hands if hand.cut is cut]
        least = mine[0].least_overcut
        name = piece.name if len(piece.cuts) == 1 else f"{piece.name}, {cut.layer}"
        allowed = [[ground for hand in mine for ground in each.rules.of(hand)] for each in known.grounds]
        layers = [part for part in piece.parts if not part.layers or cut.layer in part.layers]
        outlines = [piece.ring, *(part.ring for part in layers)]
        for rank, ring in enumerate(outlines):
            # A ground's demands are the finished outline, the cut shape, and the parts in their order.
            place = 0 if rank == 0 else rank + 1
            shape = known.stencil(ring)
            band = max(job.gap / 2 + least - SLACK, 0.0)
            rooms, most = [], 0
            for each, found in zip(known.grounds, allowed, strict=True):
                area = _united([ground.demands[place].area for ground in found])
                inside = each.reach(area, shape)
                room = grown(inside, band + SLACK)
                if found:
                    edge = grown(found[0].demands[1].area, job.gap / 2 + SLACK)
                    room = shapely.intersection(room, edge)
                rooms.append(room)
                spaced = most_by_spacing(center_area(inside, shape), 2 * (shape.radius - SLACK + band))
                most += min(spaced, most_by_area(_areal(room), least_area(ring, band)))
            if rank == 0:
                yield _Kind(name, cut.layer, in_a_set, least_area(ring, band), tuple(rooms), most)
            else:
                part = layers[rank - 1].name or f"part {rank}"
                yield _Kind(f"{name}, {part}", cut.layer, in_a_set, 0.0, (), most)


def _strip_kind(strip: Strip, job: Job, grounds: Sequence[_Ground]) -> _Kind:
    """A strip: its area, where bands of its width can lie; joined ones may be made up from several places."""
    used = strip.width * strip.length - SLACK
    shortest = strip.least_part if strip.joins else strip.length
    half = strip.width / 2
    shape = Stencil(
        half, ((half, half * (math.sqrt(2) - 1)),), strip.width * min(shortest, strip.length), 0.0
    )
    rooms = tuple(each.reach(each.rules.strip_area(strip), shape) for each in grounds)
    if strip.joins:
        most = math.floor(sum(room.area for room in rooms) / used)
    else:
        most = sum(most_by_area(_areal(room), used) for room in rooms)
    return _Kind(strip.name, strip.layer, strip.count, used, rooms, most)


def _groups(kinds: Sequence[_Kind], job: Job) -> Iterator[tuple[list[_Kind], str]]:
    """Groups whose leather is worth adding up: by reach, narrowest first, over all layers and in each.

    If a group cannot be cut from all the leather any of it can reach, no larger plan can be (the condition of
    Hall, 1935, in areas); the groups that grow by one from the narrowest reach are those most likely to
    decide.
    """
    reach = {id(kind): sum(room.area for room in kind.rooms) for kind in kinds}
    layers = [layer.name for layer in job.layers]
    for chosen in [None, *(layers if len(layers) > 1 else [])]:
        mine = sorted(
            (kind for kind in kinds if chosen in (None, kind.layer)), key=lambda kind: reach[id(kind)]
        )
        for size in range(2, len(mine) + 1):
            names = "', '".join(kind.name for kind in mine[:size])
            words = (
                f"the leather for '{names}' runs out"
                if size <= 3
                else f"the leather for {size} pieces runs out"
            )
            yield mine[:size], words


def _sets_by_area(group: Sequence[_Kind]) -> int:
    """Sets that the group allows: all the area it can reach over what one set of it uses up."""
    one_set = sum(kind.in_a_set * kind.used for kind in group)
    least = min(kind.used for kind in group)
    total = 0.0
    for rooms in zip(*(kind.rooms for kind in group), strict=True):
        parts = shapely.get_parts(_united(rooms))
        total += sum(part.area for part in parts if part.area >= least)
    return math.floor(total / one_set + 1e-9) if one_set > 0 else _NO_LIMIT


def _united(areas: Iterable[BaseGeometry]) -> BaseGeometry:
    """The union; an area given alone or again and again is handed on as it is."""
    different = list({id(area): area for area in areas}.values())
    if len(different) == 1:
        return different[0]
    return shapely.union_all(different) if different else shapely.Polygon()


def _areal(area: BaseGeometry) -> BaseGeometry:
    return shapely.MultiPolygon([part for part in shapely.get_parts(area) if part.geom_type == "Polygon"])
