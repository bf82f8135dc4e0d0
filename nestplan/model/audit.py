"""Whether a plan is right, judged by GEOS from the plan's own polygons: a second opinion.

It reads only the plan, the job and the hides, works each rule out anew from flaws and regions, and shares no code
with nesting nor with the rules that nesting obeys.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from nestplan.model.audit_geometry import (
    DEPTH_TOLERANCE,
    AuditedHide,
    angle_between_axes,
    depth_inside,
    overlaps,
    sticks_out_of,
)
from nestplan.model.goals import find_goal
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.piece import LayerCut, Piece, Strip
from nestplan.model.plan import Placement, Plan

__all__ = ["Fault", "check"]

_ANGLE_TOLERANCE = 0.01
"""degrees; a turn is written to 0.0001 degrees."""


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

    Cut shapes overlap nowhere and keep the gap; each shape is its piece at its pose, lies on its hide, off what it
    may not cover, in its regions, the right way round; no piece is placed more often than the job asks (unless the
    goal lets it). All of this to DEPTH_TOLERANCE, 0.01 mm: what counts is how deep a shape reaches where it
    should not, not how large the area is.
    """
    named = {hide.name: AuditedHide(hide, job.permissions.run_off) for hide in hides}
    faults: list[Fault] = []
    for number, placement in enumerate(plan.placements):
        faults += _check_one(number, placement, job, named)
    faults += _check_counts(plan, job)
    faults += _check_joins(plan, job)
    for name in named:
        faults += _check_neighbours(plan, job, name)
    faults += _check_figures(plan)
    return tuple(faults)


def _check_one(
    number: int, placement: Placement, job: Job, hides: Mapping[str, AuditedHide]
) -> Iterator[Fault]:
    hide = hides.get(placement.hide)
    if hide is None:
        yield Fault("name", (number,), f"No hide is called '{placement.hide}'.")
        return
    for name, ring in (("finished", placement.finished_ring), ("cut", placement.cut_ring)):
        if not Polygon(ring).is_valid:
            yield Fault("shape", (number,), f"Its {name} outline crosses itself.")
            return
    try:
        if placement.piece:
            piece = job.piece(placement.piece)
            cut = piece.cut_in(placement.layer)
            yield from _check_piece(number, placement, piece, cut, job, hide)
        else:
            yield from _check_strip(number, placement, job.strip(placement.strip), hide)
    except KeyError:
        yield Fault("name", (number,), f"The job has no '{placement.name}' in layer '{placement.layer}'.")
        return
    if not job.layer(placement.layer).takes(hide.hide):
        yield Fault(
            "leather", (number,), f"Layer '{placement.layer}' may not be cut from '{placement.hide}'."
        )


def _check_piece(
    number: int, placement: Placement, piece: Piece, cut: LayerCut, job: Job, hide: AuditedHide
) -> Iterator[Fault]:
    yield from _check_shape(number, placement, piece, cut)
    band = Polygon(placement.cut_ring)
    over_hole = not job.permissions.through_flaws_in_overcut and hide.has_hole_under(band)
    if over_hole or hide.is_run_off_by(band) or hide.is_left_by(Polygon(placement.finished_ring)):
        yield Fault("hide", (number,), f"'{piece.name}' runs off the hide '{placement.hide}'.")
    yield from _check_flaws(number, placement, piece, cut, job, hide)
    yield from _check_regions(number, placement, piece, cut, hide)
    yield from _check_stretch(number, placement, piece, cut, hide)


def _check_shape(number: int, placement: Placement, piece: Piece, cut: LayerCut) -> Iterator[Fault]:
    finished, band = Polygon(placement.finished_ring), Polygon(placement.cut_ring)
    if not _is_same_outline(placement.finished_ring, placement.pose.apply_ring(piece.ring)):
        yield Fault("shape", (number,), f"Its finished outline is not '{piece.name}' at its pose.")
    if not (piece.turn_over or piece.pair or placement.mirrored == cut.reversed):
        yield Fault("shape", (number,), f"'{piece.name}' lies mirrored, which its pattern does not allow.")
    least = cut.overcut.least if cut.overcut else 0.0
    if placement.overcut < least - DEPTH_TOLERANCE:
        yield Fault(
            "shape", (number,), f"Its overcut of {placement.overcut:.2f} mm is less than {least:.2f} mm."
        )
    if _comes_near(band, finished, placement.overcut - DEPTH_TOLERANCE):
        yield Fault("shape", (number,), "Its cut outline is nearer to the piece than its overcut says.")


def _comes_near(band: Polygon, finished: Polygon, wished: float) -> bool:
    """Whether a finished outline sticks out of its cut shape or comes nearer to its edge than is wished, mm."""
    if wished <= 0.0:
        return not finished.equals_exact(band, 0.0) and sticks_out_of(finished, band)
    edge = band.exterior
    shapely.prepare(edge)
    # What keeps away from the edge is inside or outside as a whole.
    return bool(shapely.dwithin(edge, finished, wished)) or not shapely.contains_xy(
        band, *finished.exterior.coords[0]
    )


def _is_same_outline(one: NDArray[np.float64], other: NDArray[np.float64]) -> bool:
    """Whether two rings (n, 2) and (m, 2) are nowhere farther from each other than DEPTH_TOLERANCE."""
    if one.shape == other.shape and np.hypot(*(one - other).T).max() <= DEPTH_TOLERANCE:
        # Corner by corner so near, so are all points of the edges between them.
        return True
    apart = shapely.hausdorff_distance(shapely.linearrings(one), shapely.linearrings(other))
    return bool(apart <= DEPTH_TOLERANCE)


def _check_flaws(
    number: int, placement: Placement, piece: Piece, cut: LayerCut, job: Job, hide: AuditedHide
) -> Iterator[Fault]:
    outlines = [(Polygon(placement.finished_ring), cut.shows)]
    outlines += [
        (Polygon(placement.pose.apply(part.ring)), part.shows or cut.shows)
        for part in piece.parts_in(cut.layer)
    ]
    band = Polygon(placement.cut_ring)
    for flaw in hide.flaws:
        if any(flaw.spoils_for(shows) and flaw.is_too_near(outline) for outline, shows in outlines):
            yield Fault("flaw", (number,), f"'{piece.name}' covers the flaw '{flaw.words}'.")
        if flaw.goes_through and not job.permissions.through_flaws_in_overcut and flaw.is_covered_by(band):
            yield Fault("flaw", (number,), f"The overcut of '{piece.name}' covers '{flaw.words}'.")


def _check_regions(
    number: int, placement: Placement, piece: Piece, cut: LayerCut, hide: AuditedHide
) -> Iterator[Fault]:
    wishes = [(Polygon(placement.finished_ring), cut.regions, cut.not_regions, cut.least_firmness)]
    wishes += [
        (Polygon(placement.pose.apply(part.ring)), part.regions, part.not_regions, part.least_firmness)
        for part in piece.parts_in(cut.layer)
    ]
    for zone in hide.zones:
        for outline, only, never, firmness in wishes:
            barred = (only and zone.name not in only) or zone.name in never or zone.firmness < firmness
            if barred and zone.holds_some_of(outline):
                yield Fault("region", (number,), f"'{piece.name}' lies in {zone.words}, where it may not.")
                break


def _check_stretch(
    number: int, placement: Placement, piece: Piece, cut: LayerCut, hide: AuditedHide
) -> Iterator[Fault]:
    rule = cut.stretch
    if rule is None or rule.tolerance >= 90:
        return
    finished = Polygon(placement.finished_ring)
    axis = ((-rule.axis if placement.mirrored else rule.axis) + placement.angle) % 180.0
    for zone in hide.zones:
        if not zone.holds_some_of(finished):
            continue
        if not isinstance(zone.stretch, float):
            yield Fault(
                "stretch",
                (number,),
                f"'{piece.name}' lies in {zone.words}, which has no one stretch direction.",
            )
            continue
        off = angle_between_axes(axis, zone.stretch)
        if off > rule.tolerance + _ANGLE_TOLERANCE:
            yield Fault(
                "stretch",
                (number,),
                f"'{piece.name}' lies {off:.1f}° off the stretch in {zone.words}; "
                f"{rule.tolerance:.1f}° is allowed.",
            )


def _check_strip(number: int, placement: Placement, strip: Strip, hide: AuditedHide) -> Iterator[Fault]:
    yield from _check_strip_shape(number, placement, strip)
    shape = Polygon(placement.finished_ring)
    if hide.is_left_by(shape):
        yield Fault("hide", (number,), f"'{strip.name}' runs off the hide '{placement.hide}'.")
    for flaw in hide.flaws:
        if (flaw.goes_through or not strip.over_flaws) and flaw.is_too_near(shape):
            yield Fault("flaw", (number,), f"'{strip.name}' runs over the flaw '{flaw.words}'.")
    for zone in hide.zones:
        barred = (strip.regions and zone.name not in strip.regions) or zone.name in strip.not_regions
        if (barred or zone.firmness < strip.least_firmness) and zone.holds_some_of(shape):
            yield Fault("region", (number,), f"'{strip.name}' lies in {zone.words}, where it may not.")
    along = hide.backbone_axis
    if strip.along == "backbone" and along is not None and not placement.spiral:
        off = angle_between_axes(placement.angle, along)
        if off > strip.tolerance + _ANGLE_TOLERANCE:
            yield Fault("stretch", (number,), f"'{strip.name}' lies {off:.1f}° off the backbone.")


def _check_strip_shape(number: int, placement: Placement, strip: Strip) -> Iterator[Fault]:
    shape, cut = Polygon(placement.finished_ring), Polygon(placement.cut_ring)
    if shapely.hausdorff_distance(cut.exterior, shape.exterior) > DEPTH_TOLERANCE:
        yield Fault("shape", (number,), f"The line along which '{strip.name}' is cut is not its outline.")
    length = placement.length or strip.length
    if placement.spiral:
        if length > shape.area / strip.width * (1 + 1e-6):
            yield Fault("shape", (number,), f"Its disc gives less than {length:.0f} mm of lace.")
        return
    corners = np.array([[0, 0], [length, 0], [length, strip.width], [0, strip.width]], float)
    box = Polygon(placement.pose.apply(corners))
    if shapely.hausdorff_distance(box.exterior, shape.exterior) > DEPTH_TOLERANCE:
        yield Fault("shape", (number,), f"Its outline is not a strip of {length:.1f} × {strip.width:.1f} mm.")


def _check_counts(plan: Plan, job: Job) -> Iterator[Fault]:
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
    if not find_goal(plan.goal).may_exceed_asked:
        yield from _check_not_too_many(placed, hands, job)


def _check_joins(plan: Plan, job: Job) -> Iterator[Fault]:
    """Every copy of a strip is whole, or joined from parts enough; but where a part is locked or cut already, the
    rest may still be without a place."""
    copies: dict[tuple[str, int], list[int]] = {}
    for number, placement in enumerate(plan.placements):
        if placement.strip:
            copies.setdefault((placement.strip, placement.copy), []).append(number)
    for (name, copy), numbers in copies.items():
        strip = next((wanted.strip for wanted in job.wanted_strips if wanted.strip.name == name), None)
        if strip is None:
            continue
        parts = [plan.placements[number] for number in numbers]
        lengths = [strip.length if part.length is None else float(part.length) for part in parts]
        if len(parts) > strip.joins + 1:
            yield Fault(
                "shape",
                tuple(numbers),
                f"Copy {copy} of '{name}' is joined from {len(parts)} parts; {strip.joins + 1} are allowed.",
            )
        if len(parts) > 1 and min(lengths) < strip.least_part - DEPTH_TOLERANCE:
            yield Fault(
                "shape",
                tuple(numbers),
                f"A part of copy {copy} of '{name}' is {min(lengths):.1f} mm long; "
                f"{float(strip.least_part):.1f} mm is the least.",
            )
        lacking = strip.length + (len(parts) - 1) * strip.lap - sum(lengths)
        if lacking > DEPTH_TOLERANCE and not any(part.locked or part.done for part in parts):
            yield Fault("shape", tuple(numbers), f"Copy {copy} of '{name}' is {lacking:.1f} mm too short.")


def _check_not_too_many(
    placed: Mapping[tuple[str, str], set[int]], hands: Mapping[tuple[str, str, bool], int], job: Job
) -> Iterator[Fault]:
    asked: Counter[tuple[str, str]] = Counter()
    by_hand: Counter[tuple[str, str, bool]] = Counter()
    for piece in job.cut_pieces:
        count = piece.piece.count * job.articles[piece.article].sets
        asked[piece.piece.name, piece.cut.layer] += count
        by_hand[piece.key] += count
    for wanted in job.wanted_strips:
        asked[wanted.strip.name, wanted.strip.layer] += wanted.strip.count * job.articles[wanted.article].sets
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
    pairs = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=max(widest, DEPTH_TOLERANCE))
    for first, second in pairs.T:
        if first >= second:
            continue
        both = (numbers[first], numbers[second])
        one, other = (plan.placements[number] for number in both)
        if overlaps(shapes[first], shapes[second]):
            depth = max(
                depth_inside(shapes[first], shapes[second]), depth_inside(shapes[second], shapes[first])
            )
            yield Fault(
                "overlap",
                both,
                f"'{one.name}' and '{other.name}' overlap by {depth:.{1 if depth >= 1 else 3}f} mm.",
            )
            continue
        gap = job.strip_gap if one.strip and other.strip else job.gap
        distance = shapes[first].distance(shapes[second])
        if distance < gap - DEPTH_TOLERANCE:
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
