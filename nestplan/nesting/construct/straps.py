"""The straps and laces of a job on its hides: from which hide, around what lies there, along which axis.

How strips fill an area is in `strips`, how a disc is cut into lace in `spirals`.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import shapely
from shapely import Polygon

from nestplan.geometry.ring import disc_ring
from nestplan.model.piece import Strip
from nestplan.model.plan import Placement
from nestplan.nesting.construct.spirals import LaceDisc, lay_laces
from nestplan.nesting.construct.strips import StripLayout, StripPart, StripRequest, lay_strips
from nestplan.nesting.leather_problem import DECIMALS, LeatherProblem, RequiredStrips, rounded_points

__all__ = ["place_strips", "strip_placement"]

HOLE = 50.8
"""mm across the centre hole that spiral lace leaves: 2 in (leatherworker.net, makinglace)."""
TAIL = 89.0
"""mm of spiral lace that start it and are cut off: 3 to 4 in, here 3 1/2 in (the same source)."""


def place_strips(
    problem: LeatherProblem,
    required: Iterable[RequiredStrips],
    around: Sequence[Placement] = (),
    *,
    hides: Collection[int] | None = None,
    stop: Callable[[], bool] = lambda: False,
) -> tuple[list[Placement], list[RequiredStrips]]:
    """Strips placed around what the problem keeps and `around`, and those that found no place; only on `hides` if they
    are given. Once `stop` says so no further hide is looked at: one for each group of straight strips, none for spiral
    laces.

    Strips that may share an area and a direction are placed together, long ones first. Each group goes to the hide
    that takes most of it with the fewest straight edges, the rest to the next. Laces that may come from a disc
    are cut spirally from what is left. Copies are numbered on from those that are kept.
    """
    every = range(len(problem.hides))
    free = _FreeAreas(problem, (*problem.keep, *around), every if hides is None else sorted(hides))
    placed: list[Placement] = []
    missing: list[RequiredStrips] = []
    for group in _groups(required):
        from_edge = [strips for strips in group if strips.strip.source != "disc"]
        from_disc = [strips for strips in group if strips.strip.source == "disc"]
        if from_edge:
            made, short = _from_edges(problem, free, from_edge, stop)
            placed += made
            from_disc += [strips for strips in short if strips.strip.source == "either"]
            missing += [strips for strips in short if strips.strip.source == "edge"]
        for strips in from_disc:
            before = _last_copy(strips.strip, (*problem.keep, *placed))
            made, left = _from_discs(problem, free, strips, before, stop)
            placed += made
            missing += [left] if left.count else []
    return placed, missing


class _FreeAreas:
    """What is still free of each of the hides that strips may come from."""

    def __init__(self, problem: LeatherProblem, around: Iterable[Placement], hides: Sequence[int]) -> None:
        self.problem = problem
        self.hides = hides
        self.taken: dict[int, list[tuple[bool, Polygon]]] = {}
        names = {hide.name: index for index, hide in enumerate(problem.hides)}
        for placement in around:
            if placement.hide in names:
                self.take(names[placement.hide], placement)

    def take(self, hide: int, placement: Placement) -> None:
        """Note that something lies on a hide."""
        self.taken.setdefault(hide, []).append((bool(placement.strip), Polygon(placement.cut_ring)))

    def area(self, hide: int, strip: Strip) -> Any:
        """Where strips like this one may still lie: the knife gap away from pieces, the strips' own gap from
        strips."""
        area = self.problem.rules[hide].strip_area(strip)
        job = self.problem.job
        taken = self.taken.get(hide, [])
        for are_strips, gap in ((False, job.gap), (True, job.strip_gap)):
            shapes = [shape for is_strip, shape in taken if is_strip == are_strips]
            if shapes:
                grown = shapely.buffer(shapely.union_all(shapes, grid_size=1e-4), gap, join_style="mitre")
                area = area.difference(grown)
        return area


def _groups(required: Iterable[RequiredStrips]) -> list[list[RequiredStrips]]:
    """Strips that may lie in the same area along the same direction; groups with the longest strip first."""
    groups: dict[tuple[Any, ...], list[RequiredStrips]] = {}
    for strips in required:
        s = strips.strip
        key = (s.layer, s.along, s.tolerance, s.over_flaws, s.regions, s.not_regions, s.least_firmness)
        groups.setdefault(key, []).append(strips)
    return sorted(groups.values(), key=lambda g: -max(each.strip.length * each.strip.width for each in g))


def _from_edges(
    problem: LeatherProblem, free: _FreeAreas, group: Sequence[RequiredStrips], stop: Callable[[], bool]
) -> tuple[list[Placement], list[RequiredStrips]]:
    """Strips of a group placed side by side, hide after hide, and those that found no place."""
    placed: list[Placement] = []
    strips = [each.strip for each in group]
    left = {each.strip.name: each.count for each in group}
    done = {strip.name: _last_copy(strip, problem.keep) for strip in strips}
    hides = list(free.hides)
    known: dict[int, StripLayout] = {}
    while hides and any(left.values()) and not (placed and stop()):
        best = _best_hide(problem, free, strips, left, hides, known, stop)
        if best is None:
            break
        hide, layout = best
        hides.remove(hide)
        for part in layout.parts:
            strip = strips[part.kind]
            placement = _strip_placement(problem, hide, strip, part, done[strip.name])
            placed.append(placement)
            free.take(hide, placement)
        for kind, strip in enumerate(strips):
            done[strip.name] += layout.laid(kind)
            left[strip.name] -= layout.laid(kind)
    return placed, [RequiredStrips(strip, left[strip.name]) for strip in strips if left[strip.name]]


def _last_copy(strip: Strip, placements: Iterable[Placement]) -> int:
    """The highest number among the copies of a strip; 0 where there is none."""
    return max((p.copy for p in placements if p.strip == strip.name), default=0)


def _best_hide(
    problem: LeatherProblem,
    free: _FreeAreas,
    strips: Sequence[Strip],
    left: Mapping[str, int],
    hides: Iterable[int],
    known: dict[int, StripLayout],
    stop: Callable[[], bool],
) -> tuple[int, StripLayout] | None:
    """The hide that takes most of the strips left with the fewest straight edges, a small one before a large one,
    and how they lie on it; None where no hide has an area for them.

    `known` are layouts of hides on which nothing was laid since; one with fewer strips of each kind than are left holds
    the same again, since the number wanted did not bound it.
    """
    gap = problem.job.strip_gap
    options: list[tuple[float, int, float, int, StripLayout]] = []
    for hide in hides:
        layout = known.get(hide)
        if layout is None or any(layout.laid(kind) >= left[s.name] for kind, s in enumerate(strips)):
            area = free.area(hide, strips[0])
            if area.is_empty or (options and stop()):
                continue
            wishes = [_wish(kind, s, left[s.name], gap) for kind, s in enumerate(strips) if left[s.name]]
            axis = problem.rules[hide].strip_axis(strips[0])
            tolerance = 90.0 if axis is None else strips[0].tolerance
            layout = known[hide] = lay_strips(area, wishes, direction=axis or 0.0, tolerance=tolerance)
        short = sum((left[s.name] - layout.laid(kind)) * s.length * s.width for kind, s in enumerate(strips))
        options.append((short, layout.bundles, problem.fields[hide].area, hide, layout))
    if not options:
        return None
    *_, hide, layout = min(options, key=lambda option: option[:4])
    return hide, layout


def _wish(kind: int, strip: Strip, count: int, gap: float) -> StripRequest:
    least = strip.least_part + gap if strip.joins else None
    return StripRequest(
        kind, strip.width + gap, strip.length + gap, count, least, strip.lap + gap, strip.joins + 1
    )


def _strip_placement(
    problem: LeatherProblem, hide: int, strip: Strip, part: StripPart, done: int
) -> Placement:
    """A strip, or a part of a joined one, less the gap it was laid with; `done` copies were placed before."""
    gap = problem.job.strip_gap
    turn = math.radians(part.angle)
    along, across = (math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))
    own = replace(
        part,
        copy=done + part.copy,
        x=part.x + gap / 2.0 * (along[0] + across[0]),
        y=part.y + gap / 2.0 * (along[1] + across[1]),
        length=part.length - gap,
        width=strip.width,
    )
    return strip_placement(problem, hide, strip, own)


def strip_placement(problem: LeatherProblem, hide: int, strip: Strip, part: StripPart) -> Placement:
    """A strip, or a part of a joined one, that lies on a hide as `part` says, whose copies are counted from 0."""
    # A line that two strips share is worked out for each of them and may differ in the last bits; rounded twice it
    # comes to the same for both, even where it lies half-way between two steps of the file.
    ring = rounded_points(np.round(part.ring, DECIMALS + 3))
    return Placement(
        hide=problem.hides[hide].name,
        strip=strip.name,
        layer=strip.layer,
        copy=part.copy + 1,
        part=part.part + 1 if part.length < strip.length - 1e-6 else 0,
        angle=round(part.angle % 360.0, 4),
        x=round(part.x, 4),
        y=round(part.y, 4),
        finished=ring,
        cut=ring,
        length=round(part.length, 4),
    )


def _from_discs(
    problem: LeatherProblem,
    free: _FreeAreas,
    required: RequiredStrips,
    done: int,
    stop: Callable[[], bool],
) -> tuple[list[Placement], RequiredStrips]:
    """Spiral laces from what is left of each hide, small hides first; all parts of one from the same hide. Then what
    found no place."""
    strip = required.strip
    placed: list[Placement] = []
    count = 0
    for hide in sorted(free.hides, key=lambda h: (problem.fields[h].area, h)):
        if count == required.count or stop():
            break
        area = free.area(hide, strip)
        if area.is_empty:
            continue
        discs, _missing = lay_laces(
            area, strip.width, [strip.length] * (required.count - count), hole=HOLE, tail=TAIL,
            least=strip.least_part if strip.joins else math.inf, lap=strip.lap, most_parts=strip.joins + 1,
            gap=problem.job.strip_gap,
        )  # fmt: skip
        copies = {index: n for n, index in enumerate(sorted({index for index, _ in discs}))}
        parts = Counter[int]()
        for index, disc in discs:
            parts[index] += 1
            copy = done + count + copies[index] + 1
            placement = _disc_placement(problem, hide, strip, disc, copy, parts[index])
            placed.append(placement)
            free.take(hide, placement)
        count += len(copies)
    return placed, RequiredStrips(strip, required.count - count)


def _disc_placement(
    problem: LeatherProblem, hide: int, strip: Strip, disc: LaceDisc, copy: int, part: int
) -> Placement:
    ring = rounded_points(disc_ring((disc.x, disc.y), disc.diameter / 2.0, side="inside"))
    return Placement(
        hide=problem.hides[hide].name,
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
