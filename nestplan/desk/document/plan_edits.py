"""A plan changed by hand: pieces moved, turned over, locked, taken off, put back, marked as cut.

Each function takes a plan and gives the changed plan; nothing here knows Qt, and nothing searches.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

import msgspec
import numpy as np

from nestplan.geometry.pose import Pose
from nestplan.geometry.ring import bounds
from nestplan.model.hide import Hide
from nestplan.model.job import CutPiece, Job
from nestplan.model.piece import Piece, Strip
from nestplan.model.plan import Placement, Plan, Unplaced
from nestplan.model.values import as_points

__all__ = [
    "Waiting",
    "cut_piece_of",
    "laid_down",
    "marked_cut",
    "moved",
    "pieces_waiting",
    "renamed_layers",
    "renamed_piece",
    "replaced",
    "set_locked",
    "taken_off",
    "turned_over",
]

_BY_HAND = "It was taken off by hand."


@dataclass(frozen=True)
class Waiting:
    """A cut piece or strip of which `count` still have no place."""

    name: str
    layer: str
    mirrored: bool
    strip: bool
    count: int
    label: str


def cut_piece_of(job: Job, placement: Placement) -> CutPiece | None:
    """The cut piece a placement lays down (of a pair, the hand it is in); None for a strip."""
    if placement.strip:
        return None
    named = [p for p in job.cut_pieces if p.piece.name == placement.piece and p.cut.layer == placement.layer]
    if not named:
        return None
    return next((piece for piece in named if piece.mirrored == placement.mirrored), named[0])


def replaced(plan: Plan, changes: dict[int, Placement | None]) -> Plan:
    """The plan with placements, by their number, replaced, or left out where None is given."""
    placements = tuple(
        changes.get(number, placement)
        for number, placement in enumerate(plan.placements)
        if changes.get(number, placement) is not None
    )
    return msgspec.structs.replace(plan, placements=placements)


def moved(placement: Placement, pose: Pose, hide: str = "") -> Placement:
    """The placement at another pose (and on another hide, where one is named), its outlines moved with it."""
    back = placement.pose.inverse()
    return msgspec.structs.replace(
        placement,
        hide=hide or placement.hide,
        mirrored=pose.mirrored,
        angle=pose.angle % 360.0,
        x=pose.x,
        y=pose.y,
        finished=as_points(pose.apply_ring(back.apply_ring(placement.finished_ring))),
        cut=as_points(pose.apply_ring(back.apply_ring(placement.cut_ring))),
    )


def turned_over(placement: Placement) -> Placement:
    """The placement turned over about the upright line through the middle of its finished outline."""
    low_x, _, high_x, _ = bounds(placement.finished_ring)
    over = Pose(low_x + high_x, 0.0, 0.0, True)
    return moved(placement, placement.pose.then(over))


def set_locked(plan: Plan, selected: tuple[Placement, ...], locked: bool) -> Plan:
    """The plan with those placements locked, or let go."""
    return _changed(plan, selected, locked=locked)


def marked_cut(plan: Plan, selected: tuple[Placement, ...], done: bool) -> Plan:
    """The plan with those placements marked as cut, or not; what is cut stays where it is."""
    return _changed(plan, selected, done=done)


def taken_off(plan: Plan, selected: tuple[Placement, ...]) -> Plan:
    """The plan without those placements; they are listed as unplaced, taken off by hand."""
    gone = {id(placement) for placement in selected}
    counted = Counter(
        (p.piece, p.strip, p.layer, p.mirrored) for p in plan.placements if id(p) in gone and p.part <= 1
    )
    listed = list(plan.unplaced)
    for (piece, strip, layer, mirrored), count in counted.items():
        same = [
            number
            for number, entry in enumerate(listed)
            if (entry.piece, entry.strip, entry.layer, entry.mirrored) == (piece, strip, layer, mirrored)
        ]
        if same:
            entry = listed[same[0]]
            listed[same[0]] = msgspec.structs.replace(entry, count=entry.count + count)
        else:
            listed.append(
                Unplaced(
                    piece=piece,
                    strip=strip,
                    layer=layer,
                    mirrored=mirrored,
                    count=count,
                    reason="no room",
                    why=_BY_HAND,
                )
            )
    return msgspec.structs.replace(
        plan,
        placements=tuple(p for p in plan.placements if id(p) not in gone),
        unplaced=tuple(listed),
        figures=None,
    )


def pieces_waiting(plan: Plan | None, job: Job) -> tuple[Waiting, ...]:
    """What the job asks for and the plan does not hold, in the order of the job; pairs hand by hand."""
    placed: Counter[tuple[str, str, bool, bool]] = Counter()
    for placement in plan.placements if plan else ():
        if placement.part <= 1:
            mirrored = placement.mirrored and not placement.strip and not _free_side(job, placement)
            placed[placement.name, placement.layer, mirrored, bool(placement.strip)] += 1
    waiting = []
    for piece in job.cut_pieces:
        asked = piece.piece.count * job.articles[piece.article].sets
        mirrored = piece.mirrored and not (piece.piece.turn_over and not piece.piece.pair)
        count = asked - placed[piece.piece.name, piece.cut.layer, mirrored, False]
        if count > 0:
            waiting.append(
                Waiting(piece.piece.name, piece.cut.layer, piece.mirrored, False, count, piece.label)
            )
    for wanted in job.wanted_strips:
        strip = wanted.strip
        count = strip.count * job.articles[wanted.article].sets - placed[strip.name, strip.layer, False, True]
        if count > 0:
            waiting.append(Waiting(strip.name, strip.layer, False, True, count, strip.name))
    return tuple(waiting)


def laid_down(
    plan: Plan, job: Job, hide: Hide, what: Waiting, at: tuple[float, float]
) -> tuple[Plan, Placement]:
    """The plan with one of `what` laid with its middle at `at` (mm) on `hide`, and that placement."""
    copies = {p.copy for p in plan.placements if p.name == what.name and p.layer == what.layer}
    copy = next(number for number in range(1, len(copies) + 2) if number not in copies)
    if what.strip:
        strip = job.strip(what.name)
        ring = np.array(
            [[0, 0], [strip.length, 0], [strip.length, strip.width], [0, strip.width]], dtype=float
        )
        angle = hide.backbone_angle or 0.0
        made = Placement(
            hide=hide.name,
            strip=what.name,
            layer=what.layer,
            copy=copy,
            set=(copy - 1) // strip.count + 1,
            angle=angle,
            finished=as_points(Pose(0, 0, angle).apply(ring)),
            cut=as_points(Pose(0, 0, angle).apply(ring)),
            length=strip.length,
        )
    else:
        piece = next(p for p in job.cut_pieces if p.key == (what.name, what.layer, what.mirrored))
        rule, axis = piece.stretch, hide.stretch_axis
        angle = (axis - rule.axis) % 360.0 if rule is not None and axis is not None else 0.0
        lay = Pose(0, 0, angle)
        made = Placement(
            hide=hide.name,
            piece=what.name,
            layer=what.layer,
            copy=copy,
            set=(copy - 1) // piece.piece.copies_in_set + 1,
            mirrored=piece.mirrored,
            angle=angle,
            finished=as_points(lay.apply(piece.finished)),
            cut=as_points(lay.apply(piece.shape)),
            overcut=piece.least_overcut,
        )
    low_x, low_y, high_x, high_y = bounds(made.finished_ring)
    shift = Pose(at[0] - (low_x + high_x) / 2, at[1] - (low_y + high_y) / 2)
    made = moved(made, made.pose.then(shift))
    unplaced = list(plan.unplaced)
    for number, entry in enumerate(unplaced):
        if (entry.piece or entry.strip, entry.layer, entry.mirrored) == (
            what.name,
            what.layer,
            what.mirrored,
        ):
            left = [msgspec.structs.replace(entry, count=entry.count - 1)] if entry.count > 1 else []
            unplaced[number : number + 1] = left
            break
    return (
        msgspec.structs.replace(
            plan, placements=(*plan.placements, made), unplaced=tuple(unplaced), figures=None
        ),
        made,
    )


def renamed_piece(plan: Plan, old: str, piece: Piece | Strip) -> Plan:
    """The plan with a piece or strip that was called `old` called as `piece` is, wherever it stands."""
    field = "piece" if isinstance(piece, Piece) else "strip"
    return msgspec.structs.replace(
        plan,
        placements=tuple(
            msgspec.structs.replace(p, **{field: piece.name}) if getattr(p, field) == old else p
            for p in plan.placements
        ),
        unplaced=tuple(
            msgspec.structs.replace(u, **{field: piece.name}) if getattr(u, field) == old else u
            for u in plan.unplaced
        ),
    )


def renamed_layers(plan: Plan, names: Mapping[str, str]) -> Plan:
    """The plan with layers called otherwise, by their old names."""
    replace = msgspec.structs.replace
    return replace(
        plan,
        placements=tuple(replace(p, layer=names.get(p.layer, p.layer)) for p in plan.placements),
        unplaced=tuple(replace(u, layer=names.get(u.layer, u.layer)) for u in plan.unplaced),
        figures=None,
    )


def _changed(plan: Plan, selected: tuple[Placement, ...], **fields: bool) -> Plan:
    chosen = {id(placement) for placement in selected}
    return msgspec.structs.replace(
        plan,
        placements=tuple(
            msgspec.structs.replace(p, **fields) if id(p) in chosen else p for p in plan.placements
        ),
    )


def _free_side(job: Job, placement: Placement) -> bool:
    try:
        piece = job.piece(placement.piece)
    except KeyError:
        return False
    return piece.turn_over and not piece.pair
