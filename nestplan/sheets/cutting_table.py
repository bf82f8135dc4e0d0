"""The table a maker works down at the table: what to cut next, where it lies by tape, which way round, and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from nestplan.drawing.booklet_builder import BookletBuilder, Column
from nestplan.model import Hide, Job, Plan
from nestplan.sheets.cutting_order import GROUP_REASONS, CuttingStep
from nestplan.sheets.placement_names import placed_name
from nestplan.sheets.tape_positions import TapeFrame, anchor_points, tape_frame, tape_position
from nestplan.sheets.unit_formatting import UnitFormatter

__all__ = [
    "add_cutting_table",
    "step_words",
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
        Column("mate, apart", 20.0, "right"),
        Column("why now", 36.0),
        Column("cut", 9.0, "middle"),
    )


def add_cutting_table(
    booklet: BookletBuilder,
    plan: Plan,
    job: Job,
    hide: Hide,
    steps: Sequence[CuttingStep],
    formatter: UnitFormatter,
) -> None:
    """Every step of one hide in cutting order, the reason of each group as a line before it."""
    frame = tape_frame(hide)
    rows: list[list[str]] = []
    group = ""
    for step in steps:
        if step.group != group:
            group = step.group
            rows.append([GROUP_REASONS[step.group]])
        rows.append(_row(plan, job, frame, step, formatter))
    booklet.table(_columns(frame), rows)


def _row(plan: Plan, job: Job, frame: TapeFrame, step: CuttingStep, formatter: UnitFormatter) -> list[str]:
    placed = plan.placements[step.members[0]]
    place = tape_position(frame, *anchor_points(job, placed, frame))
    side = ""
    if frame.two_sided and abs(place.p_across) >= 0.5:
        side = " L" if place.p_across > 0 else " R"
    is_piece = bool(placed.piece)
    return [
        step.label,
        step_words(plan, job, step, formatter),
        formatter.tape(place.p_along),
        formatter.tape(abs(place.p_across)) + side,
        formatter.tape(place.p_a),
        formatter.tape(place.p_b),
        "" if placed.spiral else formatter.tape(place.q_a),
        "" if placed.spiral else formatter.tape(place.q_b),
        "" if placed.spiral else f"{place.turn:.1f}°",
        ("turned over" if placed.mirrored else "as drawn") if is_piece else "",
        formatter.length(placed.overcut) if placed.overcut > 0.0 else "",
        _mate_words(step, formatter),
        step.reason,
        "☐",
    ]


def _mate_words(step: CuttingStep, formatter: UnitFormatter) -> str:
    """The number of its mate and how far that lies apart, or the hide that it is cut from."""
    if step.mate_hide:
        return f"on {step.mate_hide}"
    if step.mate_apart is None:
        return ""
    apart = formatter.length(step.mate_apart)
    return apart if step.mate is None else f"{step.mate}, {apart}"


def step_words(plan: Plan, job: Job, step: CuttingStep, formatter: UnitFormatter) -> str:
    """What one step gives: the piece with its set, or the strips with their sizes, or the disc with its lace."""
    placed = plan.placements[step.members[0]]
    if placed.piece:
        return f"{placed_name(job, plan.placements[step.members[0]])} (set {placed.set})"
    if placed.spiral:
        strip = job.strip(placed.strip)
        low, high = placed.cut_ring.min(axis=0), placed.cut_ring.max(axis=0)
        return (
            f"{placed.strip}: disc of {formatter.length(float(high[0] - low[0]))}, cut round and round "
            f"{formatter.length(strip.width)} wide: {formatter.long(placed.length or strip.length)}"
        )
    kinds = Counter(
        (plan.placements[n].strip, round(plan.placements[n].length or 0.0, 1)) for n in step.members
    )
    return "; ".join(
        (f"{count} × " if count > 1 else "")
        + f"{name} {formatter.size(length or job.strip(name).length, job.strip(name).width)}"
        for (name, length), count in kinds.items()
    )
