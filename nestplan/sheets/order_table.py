"""The table a maker works down at the table: what to cut next, where it lies by tape, which way round, and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from nestplan.drawing.flow import Column, Flow
from nestplan.model import Hide, Job, Plan
from nestplan.sheets.cutting_order import GROUP_WORDS, Cut
from nestplan.sheets.measures import Measures
from nestplan.sheets.naming import placement_label
from nestplan.sheets.positions import TapeFrame, anchor_points, tape_frame, tape_position

__all__ = [
    "set_order_table",
    "what_words",
]


def _columns(frame: TapeFrame) -> tuple[Column, ...]:
    line = "backbone" if frame.has_backbone else "line A–B"
    return (
        Column("No.", 13.0, "right"),
        Column("what", 58.0),
        Column("P from rear", 18.0, "right"),
        Column(f"P from {line}", 19.0, "right"),
        Column("P–A", 18.0, "right"),
        Column("P–B", 18.0, "right"),
        Column("Q–A", 18.0, "right"),
        Column("Q–B", 18.0, "right"),
        Column("turn", 14.0, "right"),
        Column("template", 21.0),
        Column("overcut", 17.0, "right"),
        Column("mate", 11.0, "right"),
        Column("why now", 36.0),
        Column("cut", 9.0, "middle"),
    )


def set_order_table(
    flow: Flow, plan: Plan, job: Job, hide: Hide, order: Sequence[Cut], measures: Measures
) -> None:
    """Every step of one hide in cutting order, the reason of each group as a line before it."""
    frame = tape_frame(hide)
    rows: list[list[str]] = []
    group = ""
    for cut in order:
        if cut.group != group:
            group = cut.group
            rows.append([GROUP_WORDS[cut.group]])
        rows.append(_row(plan, job, frame, cut, measures))
    flow.table(_columns(frame), rows)


def _row(plan: Plan, job: Job, frame: TapeFrame, cut: Cut, measures: Measures) -> list[str]:
    placed = plan.placements[cut.members[0]]
    place = tape_position(frame, *anchor_points(job, placed, frame))
    side = ""
    if frame.two_sided and abs(place.p_across) >= 0.5:
        side = " L" if place.p_across > 0 else " R"
    is_piece = bool(placed.piece)
    return [
        cut.label,
        what_words(plan, job, cut, measures),
        measures.tape(place.p_along),
        measures.tape(abs(place.p_across)) + side,
        measures.tape(place.p_a),
        measures.tape(place.p_b),
        "" if placed.spiral else measures.tape(place.q_a),
        "" if placed.spiral else measures.tape(place.q_b),
        "" if placed.spiral else f"{place.turn:.1f}°",
        ("turned over" if placed.mirrored else "as drawn") if is_piece else "",
        measures.length(placed.overcut) if placed.overcut > 0.0 else "",
        "" if cut.mate is None else str(cut.mate),
        cut.reason,
        "☐",
    ]


def what_words(plan: Plan, job: Job, cut: Cut, measures: Measures) -> str:
    """What one step gives: the piece with its set, or the strips with their sizes, or the disc with its lace."""
    placed = plan.placements[cut.members[0]]
    if placed.piece:
        return f"{placement_label(job, plan, cut.members[0])} (set {placed.set})"
    if placed.spiral:
        strip = job.strip(placed.strip)
        low, high = placed.cut_ring.min(axis=0), placed.cut_ring.max(axis=0)
        return (
            f"{placed.strip}: disc of {measures.length(float(high[0] - low[0]))}, cut round and round "
            f"{measures.length(strip.width)} wide: {measures.long(placed.length or strip.length)}"
        )
    kinds = Counter(
        (plan.placements[n].strip, round(plan.placements[n].length or 0.0, 1)) for n in cut.members
    )
    return "; ".join(
        (f"{count} × " if count > 1 else "")
        + f"{name} {measures.size(length or job.strip(name).length, job.strip(name).width)}"
        for (name, length), count in kinds.items()
    )
