"""The straps and laces of a job on its hides: from which hide, around what lies, along which axis.

What lives here: the job's strips as wishes on areas, hide by hide, and what is laid as placements. What does not:
how strips fill an area (`strips`), pieces.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import shapely
from shapely import Polygon

from nestplan.geometry.ring import disc_ring
from nestplan.model.piece import Strip
from nestplan.model.plan import Placement
from nestplan.nesting.construct.spirals import LaceDisc, lay_laces
from nestplan.nesting.construct.strips import StripPart, StripWish, lay_strips
from nestplan.nesting.leather_problem import LeatherProblem, rounded

__all__ = ["StripsWanted", "lay_straps", "strips_wanted"]

HOLE = 50.8
TAIL = 89.0
"""Spiral lace: a 2 in centre hole and a starting tail of 3 to 4 in, here 3 1/2 in (leatherworker.net, makinglace)."""


@dataclass(frozen=True)
class StripsWanted:
    """So many copies of one strip."""

    strip: Strip
    count: int


def strips_wanted(task: LeatherProblem) -> tuple[StripsWanted, ...]:
    """Copies of each strip the job still wants besides what is kept."""
    kept = Counter(name for name, _ in {(p.strip, p.copy) for p in task.keep if p.strip})
    wanted = []
    for w in task.job.wanted_strips:
        count = w.strip.count * task.job.articles[w.article].sets - kept[w.strip.name]
        if count > 0:
            wanted.append(StripsWanted(w.strip, count))
    return tuple(wanted)


def lay_straps(
    task: LeatherProblem, wanted: Iterable[StripsWanted], around: Sequence[Placement] = ()
) -> tuple[list[Placement], list[StripsWanted]]:
    """Strips laid around `task.keep` and `around`, and what found no place.

    Strips that share their ground and direction are laid together, long ones first. Each group goes to the hide
    that takes most of it with the fewest straight edges, the rest to the next. Laces that may come from a disc
    are cut spirally from what is left.
    """
    free = _Free(task, (*task.keep, *around))
    laid: list[Placement] = []
    missing: list[StripsWanted] = []
    for group in _groups(wanted):
        from_edge = [w for w in group if w.strip.source != "disc"]
        from_disc = [w for w in group if w.strip.source == "disc"]
        if from_edge:
            made, short = _from_edges(task, free, from_edge)
            laid += made
            from_disc += [w for w in short if w.strip.source == "either"]
            missing += [w for w in short if w.strip.source == "edge"]
        for wish in from_disc:
            made, left = _from_discs(task, free, wish, sum(1 for p in laid if p.strip == wish.strip.name))
            laid += made
            missing += [left] if left.count else []
    return laid, missing


class _Free:
    """What is still free of each hide."""

    def __init__(self, task: LeatherProblem, around: Iterable[Placement]) -> None:
        self.task = task
        self.taken: dict[int, list[tuple[bool, Polygon]]] = {}
        names = {hide.name: index for index, hide in enumerate(task.hides)}
        for placement in around:
            if placement.hide in names:
                self.take(names[placement.hide], placement)

    def take(self, hide: int, placement: Placement) -> None:
        self.taken.setdefault(hide, []).append((bool(placement.strip), Polygon(placement.cut_ring)))

    def area(self, hide: int, strip: Strip) -> Any:
        """Where strips like this one may still lie: the knife gap away from pieces, the strips' own gap from
        strips."""
        area = self.task.grounds[hide].strip_area(strip)
        job = self.task.job
        taken = self.taken.get(hide, [])
        for are_strips, gap in ((False, job.gap), (True, job.strip_gap)):
            shapes = [shape for is_strip, shape in taken if is_strip == are_strips]
            if shapes:
                grown = shapely.buffer(shapely.union_all(shapes, grid_size=1e-4), gap, join_style="mitre")
                area = area.difference(grown)
        return area


def _groups(wanted: Iterable[StripsWanted]) -> list[list[StripsWanted]]:
    """Strips that may lie on the same ground along the same direction; groups with the longest strip first."""
    groups: dict[tuple[Any, ...], list[StripsWanted]] = {}
    for w in wanted:
        s = w.strip
        key = (s.layer, s.along, s.tolerance, s.over_flaws, s.regions, s.not_regions, s.least_firmness)
        groups.setdefault(key, []).append(w)
    return sorted(groups.values(), key=lambda g: -max(w.strip.length * w.strip.width for w in g))


def _from_edges(
    task: LeatherProblem, free: _Free, group: Sequence[StripsWanted]
) -> tuple[list[Placement], list[StripsWanted]]:
    laid: list[Placement] = []
    left = {w.strip.name: w.count for w in group}
    done = {w.strip.name: 0 for w in group}
    strips = [w.strip for w in group]
    gap = task.job.strip_gap
    hides = list(range(len(task.hides)))
    while hides and any(left.values()):
        options = []
        for hide in hides:
            area = free.area(hide, strips[0])
            if area.is_empty:
                continue
            wishes = [_wish(kind, s, left[s.name], gap) for kind, s in enumerate(strips) if left[s.name]]
            axis = task.grounds[hide].strip_axis(strips[0])
            tolerance = 90.0 if axis is None else strips[0].tolerance
            layout = lay_strips(area, wishes, direction=axis or 0.0, tolerance=tolerance)
            short = sum(count * strips[kind].length * strips[kind].width for kind, count in layout.missing)
            options.append((short, layout.bundles, task.fields[hide].area, hide, layout))
        if not options:
            break
        *_, hide, layout = min(options, key=lambda option: option[:4])
        hides.remove(hide)
        for part in layout.parts:
            strip = strips[part.kind]
            placement = _strip_placement(task, hide, strip, part, done[strip.name], gap)
            laid.append(placement)
            free.take(hide, placement)
        for kind, strip in enumerate(strips):
            done[strip.name] += layout.laid(kind)
            left[strip.name] -= layout.laid(kind)
    return laid, [StripsWanted(w.strip, left[w.strip.name]) for w in group if left[w.strip.name]]


def _wish(kind: int, strip: Strip, count: int, gap: float) -> StripWish:
    least = strip.least_part + gap if strip.joins else None
    return StripWish(
        kind, strip.width + gap, strip.length + gap, count, least, strip.lap + gap, strip.joins + 1
    )


def _strip_placement(
    task: LeatherProblem, hide: int, strip: Strip, part: StripPart, done: int, gap: float
) -> Placement:
    turn = math.radians(part.angle)
    along, across = (math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))
    x = part.x + gap / 2.0 * (along[0] + across[0])
    y = part.y + gap / 2.0 * (along[1] + across[1])
    own = StripPart(part.kind, 0, 0, x, y, part.angle, part.length - gap, strip.width, 0)
    ring = rounded(own.ring)
    return Placement(
        hide=task.hides[hide].name,
        strip=strip.name,
        layer=strip.layer,
        copy=done + part.copy + 1,
        part=part.part + 1 if own.length < strip.length - 1e-6 else 0,
        angle=round(part.angle % 360.0, 4),
        x=round(x, 4),
        y=round(y, 4),
        finished=ring,
        cut=ring,
        length=round(own.length, 4),
    )


def _from_discs(
    task: LeatherProblem, free: _Free, wish: StripsWanted, done: int
) -> tuple[list[Placement], StripsWanted]:
    """Spiral laces from what is left of each hide, small hides first; all parts of one from the same hide."""
    strip = wish.strip
    laid: list[Placement] = []
    count = 0
    for hide in sorted(range(len(task.hides)), key=lambda h: (task.fields[h].area, h)):
        area = free.area(hide, strip)
        if area.is_empty or count == wish.count:
            continue
        discs, _missing = lay_laces(
            area, strip.width, [strip.length] * (wish.count - count), hole=HOLE, tail=TAIL,
            least=strip.least_part if strip.joins else math.inf, lap=strip.lap, most_parts=strip.joins + 1,
            gap=task.job.strip_gap,
        )  # fmt: skip
        copies = {index: n for n, index in enumerate(sorted({index for index, _ in discs}))}
        parts = Counter[int]()
        for index, disc in discs:
            parts[index] += 1
            placement = _disc_placement(
                task, hide, strip, disc, done + count + copies[index] + 1, parts[index]
            )
            laid.append(placement)
            free.take(hide, placement)
        count += len(copies)
    return laid, StripsWanted(strip, wish.count - count)


def _disc_placement(
    task: LeatherProblem, hide: int, strip: Strip, disc: LaceDisc, copy: int, part: int
) -> Placement:
    ring = rounded(disc_ring((disc.x, disc.y), disc.diameter / 2.0, side="inside"))
    return Placement(
        hide=task.hides[hide].name,
        strip=strip.name,
        layer=strip.layer,
        copy=copy,
        part=part if disc.length < strip.length - 1e-6 else 0,
        x=round(disc.x, 4),
        y=round(disc.y, 4),
        finished=ring,
        cut=ring,
        length=round(disc.length, 4),
        spiral=True,
    )
