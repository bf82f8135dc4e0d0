"""The plan at full size on a table under a projector: what is shown at each step of the cutting, in pixels.

The hide lies on the table where two of its points were found. How the projector is calibrated is said in
`drawing/table_projection`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from nestplan.drawing.primitives import Points, circle_ring
from nestplan.drawing.table_projection import Calibration
from nestplan.errors import InputError
from nestplan.geometry.pose import Pose
from nestplan.model import Hide, Job, Plan
from nestplan.sheets.cutting_order import CuttingStep, cutting_steps
from nestplan.sheets.inner_work import InnerLine, inner_lines
from nestplan.sheets.placement_names import placed_name

__all__ = [
    "ProjectedLine",
    "ProjectedRole",
    "ProjectorStep",
    "hide_on_table",
    "projected_lines",
    "projector_steps",
]

_SPOT_RADIUS = 2.0
"""A spot is shown as a circle of this radius, mm."""


@dataclass(frozen=True, eq=False)
class ProjectorStep:
    """What to show for one step of the cutting order: closed rings (n, 2), hide coordinates, mm.

    `cut` are the lines the knife follows, `finished` those it is trimmed to later (empty without an overcut);
    `inside` is what is cut out of the piece now, a slit as a ring there and back; `marked` is drawn now: spots, and
    what is done once the layers are glued and trimmed.
    """

    number: int
    label: str
    words: str
    reason: str
    cut: tuple[Points, ...]
    finished: tuple[Points, ...]
    inside: tuple[Points, ...] = ()
    marked: tuple[Points, ...] = ()


ProjectedRole = Literal["hide", "cut already", "later", "finished now", "marked now", "inside now", "cut now"]


@dataclass(frozen=True, eq=False)
class ProjectedLine:
    """One closed line in the projector's picture: what it is, and its corners (n, 2) in pixels, y down."""

    role: ProjectedRole
    pixels: Points


def hide_on_table(on_hide: Points, on_table: Points) -> Pose:
    """The pose from hide coordinates to the table's, from two points (2, 2) found on both, mm.

    Lengths are kept: the second point only gives the direction.

    Raises InputError if the two points are one.
    """
    hide, table = np.asarray(on_hide, dtype=np.float64), np.asarray(on_table, dtype=np.float64)
    along_hide, along_table = hide[1] - hide[0], table[1] - table[0]
    if min(float(np.hypot(*along_hide)), float(np.hypot(*along_table))) < 1.0:
        raise InputError("The two points are the same.", mend="Take two points far apart, such as A and B.")
    angle = math.degrees(
        math.atan2(along_table[1], along_table[0]) - math.atan2(along_hide[1], along_hide[0])
    )
    turned = Pose(0.0, 0.0, angle).apply(hide)
    # The middle of both points is kept, so that an error of the tape is shared by both ends.
    shift = (table - turned).mean(axis=0)
    return Pose(float(shift[0]), float(shift[1]), angle)


def projector_steps(plan: Plan, job: Job, hide: Hide) -> tuple[ProjectorStep, ...]:
    """The steps for one hide in cutting order, as `cutting_order` numbers them."""
    return tuple(_step(plan, job, cut) for cut in cutting_steps(plan, job, hide))


def projected_lines(
    calibration: Calibration, on_table: Pose, hide: Hide, steps: Sequence[ProjectorStep], current: int
) -> list[ProjectedLine]:
    """Everything to draw for one moment at the table, in pixels: the hide, what is cut, what is cut now, the rest.

    `current` is the place of the step in `steps`; the lines of the step itself come last, to lie on top.

    Raises InputError if there is no such step.
    """
    if not 0 <= current < max(len(steps), 1):
        raise InputError(
            f"There is no step {current + 1}; there are {len(steps)}.", mend="Choose another step."
        )

    def shown(role: ProjectedRole, ring: Points) -> ProjectedLine:
        return ProjectedLine(role, calibration.pixels(on_table.apply(ring)))

    lines = [shown("hide", ring) for ring in (hide.ring, *hide.hole_rings)]
    for place, step in enumerate(steps):
        if place != current:
            role: ProjectedRole = "cut already" if place < current else "later"
            lines.extend(shown(role, ring) for ring in step.cut)
    for step in steps[current : current + 1]:
        lines.extend(shown("finished now", ring) for ring in step.finished)
        lines.extend(shown("marked now", ring) for ring in step.marked)
        lines.extend(shown("inside now", ring) for ring in step.inside)
        lines.extend(shown("cut now", ring) for ring in step.cut)
    return lines


def _step(plan: Plan, job: Job, cut: CuttingStep) -> ProjectorStep:
    placed: Sequence[int] = cut.members
    first = plan.placements[placed[0]]
    words = placed_name(job, first)
    inner: list[InnerLine] = []
    if len(placed) > 1:
        words = f"{len(placed)} × {words}"
    elif first.piece:
        inner = list(inner_lines(job.piece(first.piece), first.layer, first.pose))
        words = f"{words}, turned over" if first.mirrored else words
    return ProjectorStep(
        cut.number,
        cut.label,
        words,
        cut.reason,
        tuple(plan.placements[n].cut_ring for n in placed),
        tuple(plan.placements[n].finished_ring for n in placed if plan.placements[n].overcut > 0.0),
        tuple(_ring(line) for line in inner if line.cuts and not line.later),
        tuple(_ring(line) for line in inner if line.later or not line.cuts),
    )


def _ring(line: InnerLine) -> Points:
    """A closed ring (n, 2), mm, for what is done inside a piece."""
    if line.symbol in ("opening", "bar"):
        return line.points
    (x, y) = (float(value) for value in line.points[0])
    return circle_ring(x, y, line.radius or _SPOT_RADIUS, 24)
