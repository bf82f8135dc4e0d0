"""Whether a plan is right, judged by GEOS from the plan's own polygons. The independent witness.

It reads only the plan, the job and the hides, works each rule out anew from flaws and regions, and shares no
code with nesting. Not here: how good a plan is (yields).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nestplan.model.goals import find_goal
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.piece import LayerCut, Piece, Strip
from nestplan.model.plan import Placement, Plan
from nestplan.model.rules import Zone, zones_of

__all__ = ["AREA_TOLERANCE", "LENGTH_TOLERANCE", "Fault", "check"]

#: mm²: two cut shapes may overlap by no more, and a shape may leave its allowed area by no more.
AREA_TOLERANCE = 0.01
#: mm: distances (gap, margin, overcut) may fall short by no more.
LENGTH_TOLERANCE = 0.01
#: degrees: a turn is written to 0.0001 degrees.
_ANGLE_TOLERANCE = 0.01


@dataclass(frozen=True)
class Fault:
    """One way in which a plan is wrong: which rule, which placements (by number in the file, from 0), in words."""

    rule: Literal[
        "name", "count", "shape", "hide", "leather", "flaw", "region", "stretch", "overlap", "gap", "figures"
    ]
    placements: tuple[int, ...]
    what: str

    def __str__(self) -> str:
        where = ", ".join(f"placements[{number}]" for number in self.placements)
        return f"{where}: {self.what}" if where else self.what


def check(plan: Plan, job: Job, hides: Sequence[Hide]) -> tuple[Fault, ...]:
    """Every fault of `plan` against `job` and `hides`; empty when the plan is right.

    Two cut shapes overlap by at most AREA_TOLERANCE and keep the gap to LENGTH_TOLERANCE; each shape is its
    piece at its pose, lies on its hide, off what it may not cover, in its regions, the right way round; no
    piece is placed more often than the job asks, unless the goal lets it.
    """
    named = {hide.name: _Sheet(hide) for hide in hides}
    faults: list[Fault] = []
    for number, placement in enumerate(plan.placements):
        faults += _check_one(number, placement, job, named)
    faults += _check_counts(plan, job)
    for name in named:
        faults += _check_neighbours(plan, job, name)
    faults += _check_figures(plan)
    return tuple(faults)


@dataclass(frozen=True, eq=False)
class _Sheet:
    """A hide as the audit sees it."""

    hide: Hide

    @cached_property
    def leather(self) -> Polygon:
        return Polygon(self.hide.ring, self.hide.hole_rings)

    @cached_property
    def flaws(self) -> tuple[Polygon, ...]:
        return tuple(Polygon(flaw.ring) for flaw in self.hide.flaws)

    @cached_property
    def zones(self) -> tuple[Zone, ...]:
        return zones_of(self.hide)


def _check_one(number: int, placement: Placement, job: Job, sheets: Mapping[str, _Sheet]) -> Iterator[Fault]:
    sheet = sheets.get(placement.hide)
    if sheet is None:
        yield Fault("name", (number,), f"No hide is called '{placement.hide}'.")
        return
    for name, ring in (("finished", placement.finished_ring), ("cut", placement.cut_ring)):
        if not Polygon(ring).is_valid:
            yield Fault("shape", (number,), f"Its {name} outline crosses itself.")
            return
    try:
        if placement.piece:
            piece = job.piece(placement.piece)
            cut = next(cut for cut in piece.cuts if cut.layer == placement.layer)
            yield from _check_piece(number, placement, piece, cut, job, sheet)
        else:
            yield from _check_strip(number, placement, job.strip(placement.strip), job, sheet)
    except (KeyError, StopIteration):
        yield Fault("name", (number,), f"The job has no '{placement.name}' in layer '{placement.layer}'.")
        return
    if not job.layer(placement.layer).takes(sheet.hide):
        yield Fault(
            "leather", (number,), f"Layer '{placement.layer}' may not be cut from '{placement.hide}'."
        )


def _check_piece(
    number: int, placement: Placement, piece: Piece, cut: LayerCut, job: Job, sheet: _Sheet
) -> Iterator[Fault]:
    finished, band = Polygon(placement.finished_ring), Polygon(placement.cut_ring)
    expected = Polygon(placement.pose.apply(piece.ring))
    if shapely.hausdorff_distance(finished.exterior, expected.exterior) > LENGTH_TOLERANCE:
        yield Fault("shape", (number,), f"Its finished outline is not '{piece.name}' at its pose.")
    if not (piece.turn_over or piece.pair or placement.mirrored == cut.reversed):
        yield Fault("shape", (number,), f"'{piece.name}' lies mirrored, which its pattern does not allow.")
    least = cut.overcut.least if cut.overcut else 0.0
    if placement.overcut < least - LENGTH_TOLERANCE:
        yield Fault(
            "shape", (number,), f"Its overcut of {placement.overcut:.2f} mm is less than {least:.2f} mm."
        )
    wanted = finished.buffer(placement.overcut - LENGTH_TOLERANCE) if placement.overcut else finished
    if wanted.difference(band).area > AREA_TOLERANCE + 1e-4 * finished.length:
        yield Fault("shape", (number,), "Its cut outline is nearer to the piece than its overcut says.")
    room: BaseGeometry = Polygon(sheet.hide.ring)
    if job.permissions.run_off > 0:
        room = room.buffer(job.permissions.run_off)
    if not job.permissions.through_flaws_in_overcut:
        room = room.difference(shapely.union_all([Polygon(hole) for hole in sheet.hide.hole_rings]))
    if (
        band.difference(room).area > AREA_TOLERANCE
        or finished.difference(sheet.leather).area > AREA_TOLERANCE
    ):
        yield Fault("hide", (number,), f"'{piece.name}' runs off the hide '{placement.hide}'.")
    yield from _check_flaws(number, placement, piece, cut, job, sheet)
    yield from _check_zones(number, placement, piece, cut, sheet)


def _check_flaws(
    number: int, placement: Placement, piece: Piece, cut: LayerCut, job: Job, sheet: _Sheet
) -> Iterator[Fault]:
    finished, band = Polygon(placement.finished_ring), Polygon(placement.cut_ring)
    parts = [
        (Polygon(placement.pose.apply(part.ring)), part.shows or cut.shows)
        for part in piece.parts
        if not part.layers or cut.layer in part.layers
    ]
    for flaw, shape in zip(sheet.hide.flaws, sheet.flaws, strict=True):
        for outline, shows in [(finished, cut.shows), *parts]:
            spoiled = flaw.spoils == "through" or (
                flaw.spoils in ("grain", "flesh") and shows in (flaw.spoils, "both")
            )
            if spoiled and _too_near(outline, shape, flaw.margin):
                yield Fault(
                    "flaw", (number,), f"'{piece.name}' covers the flaw '{flaw.name or flaw.spoils}'."
                )
                break
        if (
            flaw.spoils == "through"
            and not job.permissions.through_flaws_in_overcut
            and band.intersection(shape).area > AREA_TOLERANCE
        ):
            yield Fault(
                "flaw", (number,), f"The overcut of '{piece.name}' covers '{flaw.name or flaw.spoils}'."
            )


def _check_zones(
    number: int, placement: Placement, piece: Piece, cut: LayerCut, sheet: _Sheet
) -> Iterator[Fault]:
    finished = Polygon(placement.finished_ring)
    wishes = [(finished, cut.regions, cut.not_regions, cut.least_firmness)]
    wishes += [
        (Polygon(placement.pose.apply(part.ring)), part.regions, part.not_regions, part.least_firmness)
        for part in piece.parts
        if not part.layers or cut.layer in part.layers
    ]
    axis = None
    if cut.stretch is not None and cut.stretch.tolerance < 90:
        own = -cut.stretch.axis if placement.mirrored else cut.stretch.axis
        axis = (own + placement.angle) % 180.0
    for zone in sheet.zones:
        name = zone.name or "no region"
        for outline, only, never, firmness in wishes:
            barred = (only and zone.name not in only) or zone.name in never or zone.firmness < firmness
            if barred and _covers(outline, zone.area):
                yield Fault("region", (number,), f"'{piece.name}' lies in {name}, where it may not.")
                break
        if axis is None or cut.stretch is None or not _covers(finished, zone.area):
            continue
        if not isinstance(zone.stretch, float):
            yield Fault(
                "stretch", (number,), f"'{piece.name}' lies in {name}, which has no one stretch direction."
            )
        elif _between(axis, zone.stretch) > cut.stretch.tolerance + _ANGLE_TOLERANCE:
            yield Fault(
                "stretch",
                (number,),
                f"'{piece.name}' lies {_between(axis, zone.stretch):.1f}° off the stretch in {name}; "
                f"{cut.stretch.tolerance:.1f}° is allowed.",
            )


def _check_strip(number: int, placement: Placement, strip: Strip, job: Job, sheet: _Sheet) -> Iterator[Fault]:
    shape = Polygon(placement.finished_ring)
    length = placement.length or strip.length
    if not placement.spiral:
        box = placement.pose.apply(
            np.array([[0, 0], [length, 0], [length, strip.width], [0, strip.width]], float)
        )
        if shapely.hausdorff_distance(Polygon(box).exterior, shape.exterior) > LENGTH_TOLERANCE:
            yield Fault(
                "shape", (number,), f"Its outline is not a strip of {length:.1f} × {strip.width:.1f} mm."
            )
    elif length > shape.area / strip.width * (1 + 1e-6):
        yield Fault("shape", (number,), f"Its disc gives less than {length:.0f} mm of lace.")
    if shape.difference(sheet.leather).area > AREA_TOLERANCE:
        yield Fault("hide", (number,), f"'{strip.name}' runs off the hide '{placement.hide}'.")
    for flaw, outline in zip(sheet.hide.flaws, sheet.flaws, strict=True):
        hinders = not strip.over_flaws or flaw.spoils == "through"
        if hinders and _too_near(shape, outline, flaw.margin):
            yield Fault("flaw", (number,), f"'{strip.name}' runs over the flaw '{flaw.name or flaw.spoils}'.")
    for zone in sheet.zones:
        barred = (strip.regions and zone.name not in strip.regions) or zone.name in strip.not_regions
        if (barred or zone.firmness < strip.least_firmness) and _covers(shape, zone.area):
            yield Fault(
                "region", (number,), f"'{strip.name}' lies in {zone.name or 'no region'}, where it may not."
            )
    along = sheet.hide.backbone_angle
    if strip.along == "backbone" and along is not None and not placement.spiral:
        off = _between(placement.angle % 180.0, along % 180.0)
        if off > strip.tolerance + _ANGLE_TOLERANCE:
            yield Fault("stretch", (number,), f"'{strip.name}' lies {off:.1f}° off the backbone.")


def _check_counts(plan: Plan, job: Job) -> Iterator[Fault]:
    asked: Counter[tuple[str, str]] = Counter()
    by_hand: Counter[tuple[str, str, bool]] = Counter()
    for piece in job.cut_pieces:
        count = piece.piece.count * job.articles[piece.article].sets
        asked[piece.piece.name, piece.cut.layer] += count
        by_hand[piece.key] += count
    for wanted in job.wanted_strips:
        asked[wanted.strip.name, wanted.strip.layer] += wanted.strip.count * job.articles[wanted.article].sets
    copies: Counter[tuple[str, str, int, int]] = Counter()
    placed: dict[tuple[str, str], set[int]] = {}
    hands: Counter[tuple[str, str, bool]] = Counter()
    for number, placement in enumerate(plan.placements):
        key = (placement.name, placement.layer)
        copies[*key, placement.copy, placement.part] += 1
        placed.setdefault(key, set()).add(placement.copy)
        hands[*key, placement.mirrored] += bool(placement.piece)
        if copies[*key, placement.copy, placement.part] == 2:
            yield Fault("count", (number,), f"Copy {placement.copy} of '{placement.name}' is placed twice.")
    if find_goal(plan.goal).may_exceed_asked:
        return
    for key, found in placed.items():
        if key in asked and len(found) > asked[key]:
            yield Fault(
                "count", (), f"'{key[0]}' is placed {len(found)} times; the job asks for {asked[key]}."
            )
    free = {piece.key[:2] for piece in job.cut_pieces if piece.piece.turn_over}
    for (name, layer, mirrored), count in hands.items():
        if (name, layer) in asked and (name, layer) not in free and count > by_hand[name, layer, mirrored]:
            side = "mirrored" if mirrored else "as drawn"
            yield Fault(
                "count",
                (),
                f"'{name}' lies {side} {count} times; {by_hand[name, layer, mirrored]} are asked.",
            )


def _check_neighbours(plan: Plan, job: Job, hide: str) -> Iterator[Fault]:
    numbers = [number for number, placement in enumerate(plan.placements) if placement.hide == hide]
    shapes = [Polygon(plan.placements[number].cut_ring) for number in numbers]
    if len(shapes) < 2 or not all(shape.is_valid for shape in shapes):
        return
    widest = max(job.gap, job.strip_gap)
    pairs = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=max(widest, LENGTH_TOLERANCE))
    for first, second in pairs.T:
        if first >= second:
            continue
        both = (numbers[first], numbers[second])
        one, other = (plan.placements[number] for number in both)
        overlap = shapes[first].intersection(shapes[second]).area
        if overlap > AREA_TOLERANCE:
            yield Fault("overlap", both, f"'{one.name}' and '{other.name}' overlap by {overlap:.3f} mm².")
            continue
        gap = job.strip_gap if one.strip and other.strip else job.gap
        distance = shapes[first].distance(shapes[second])
        if distance < gap - LENGTH_TOLERANCE:
            yield Fault(
                "gap",
                both,
                f"'{one.name}' and '{other.name}' are {distance:.3f} mm apart, less than {gap} mm.",
            )


def _check_figures(plan: Plan) -> Iterator[Fault]:
    if plan.figures is None or not plan.placements:
        return
    cut = sum(Polygon(placement.cut_ring).area for placement in plan.placements)
    if abs(plan.figures.cut - cut) > 1e-3 * max(cut, 1.0):
        yield Fault(
            "figures",
            (),
            f"The cut area is said to be {plan.figures.cut:.0f} mm²; its outlines have {cut:.0f}.",
        )


def _too_near(outline: Polygon, flaw: Polygon, margin: float) -> bool:
    if margin > 0:
        return bool(outline.distance(flaw) < margin - LENGTH_TOLERANCE)
    return bool(outline.intersection(flaw).area > AREA_TOLERANCE)


def _covers(outline: Polygon, area: BaseGeometry) -> bool:
    return bool(outline.intersection(area).area > AREA_TOLERANCE)


def _between(one: float, other: float) -> float:
    """Angle between two axes, degrees in [0, 90]."""
    apart = abs(one - other) % 180.0
    return min(apart, 180.0 - apart)
