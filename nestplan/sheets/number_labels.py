"""Numbers and names inside pieces and strips: as large as they fit, clear of holes, or reported as crowded."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence

import numpy as np
import shapely

from nestplan.drawing.label_placement import (
    boxes_inside,
    centred_box,
    largest_disc_in_ring,
    largest_inner_disc,
)
from nestplan.drawing.lettering import CAP_HEIGHT, text_width
from nestplan.drawing.primitives import Box
from nestplan.model import Job, Piece, Placement, Plan
from nestplan.sheets.cutting_order import CuttingStep
from nestplan.sheets.hide_drawing import HideDrawing
from nestplan.sheets.inner_work import clear_of_work
from nestplan.sheets.placement_names import placed_name

__all__ = [
    "_LARGEST_NUMBER",
    "_NAME_SIZE",
    "_SMALLEST_NUMBER",
    "write_names",
    "write_number_over",
    "write_numbers",
    "write_word",
]

_LARGEST_NUMBER, _SMALLEST_NUMBER, _NAME_SIZE = 4.6, 2.3, 2.3
"""Sizes of numbers and names, mm on the paper: 2.3 mm is 6.5 points, the least that is still read easily."""


def write_numbers(
    drawing: HideDrawing, plan: Plan, job: Job, steps: Sequence[CuttingStep]
) -> dict[int, tuple[float, float]]:
    """Write each step's number where it lies; returns the middle of each number by its step's number.

    A step that has no room for its number goes to the drawing's crowded ones.
    """
    paper_mm = drawing.view.ratio
    rooms: dict[int, tuple[float, float]] = {}
    for step in steps:
        x, y, radius = _room(drawing, plan, job, step)
        size = min(_LARGEST_NUMBER, _size_in_disc(step.label, radius / paper_mm))
        box: Box | None = None
        if size >= _SMALLEST_NUMBER:
            box = centred_box(
                x, y, text_width(step.label, size, True) * paper_mm, size * CAP_HEIGHT * paper_mm
            )
        if box is None or not drawing.occupied.is_clear(box, 0.2 * paper_mm):
            # A number may be wider than its disc where the piece is long enough; else it is too crowded.
            size = max(min(size, 3.0), _SMALLEST_NUMBER)
            width = (text_width(step.label, size, True) + 0.6) * paper_mm
            shape = _shape(drawing, plan, job, step)
            box = drawing.occupied.take_first_clear(
                boxes_inside(shape, width, (size * CAP_HEIGHT + 0.5) * paper_mm)
            )
            if box is None:
                drawing.crowded.append(step)
                continue
        drawing.occupied.take(box)
        # Strips have cuts running through under their number.
        halo = drawing.view.style.strip_fill if len(step.members) > 1 else None
        write_word(drawing, box, step.label, size, layer="numbers", bold=True, halo=halo)
        rooms[step.number] = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
    return rooms


def write_number_over(drawing: HideDrawing, plan: Plan, step: CuttingStep) -> None:
    """Write a step's number across its lines, where it is too narrow at any scale that still shows its place."""
    x, y, _ = largest_disc_in_ring(drawing.view.turned(plan.placements[step.members[0]].finished_ring))
    paper_mm = drawing.view.ratio
    box = centred_box(
        x,
        y,
        text_width(step.label, _SMALLEST_NUMBER, True) * paper_mm,
        _SMALLEST_NUMBER * CAP_HEIGHT * paper_mm,
    )
    drawing.occupied.take(box)
    write_word(
        drawing,
        box,
        step.label,
        _SMALLEST_NUMBER,
        layer="numbers",
        bold=True,
        halo=drawing.view.style.background,
    )


def write_names(
    drawing: HideDrawing,
    plan: Plan,
    job: Job,
    steps: Sequence[CuttingStep],
    rooms: dict[int, tuple[float, float]],
) -> None:
    """The thing's name by its number where there is room for it; the table has it in any case."""
    paper_mm = drawing.view.ratio
    for step in steps:
        if step.number not in rooms or len(step.members) > 1:
            continue
        words = placed_name(job, plan.placements[step.members[0]])
        x, y = rooms[step.number]
        width, height = (text_width(words, _NAME_SIZE) + 0.8) * paper_mm, _NAME_SIZE * paper_mm
        shape = _shape(drawing, plan, job, step)
        for drop in (3.6, -3.8, 4.8):
            box = centred_box(x, y - drop * paper_mm, width, height)
            if not drawing.occupied.is_clear(box, 0.1 * paper_mm):
                continue
            word = shapely.box(*box)
            # Cheap first: what is not in the shape is not away from its edge either.
            if shape.contains(word) and shape.buffer(-0.3 * paper_mm).contains(word):
                drawing.occupied.take(box)
                write_word(drawing, box, words, _NAME_SIZE, layer="names")
                break


def write_word(
    drawing: HideDrawing,
    box: Box,
    words: str,
    size: float,
    *,
    layer: str,
    bold: bool = False,
    color: str | None = None,
    halo: str | None = None,
) -> None:
    """One word in the middle of its box, its capitals centred on the box's height."""
    drawing.picture.text(
        (box[0] + box[2]) / 2,
        (box[1] + box[3]) / 2 - size * CAP_HEIGHT / 2.0 * drawing.view.ratio,
        words,
        size * drawing.view.ratio,
        anchor="middle",
        bold=bold,
        color=color or drawing.view.style.ink,
        halo=halo or drawing.view.style.halo,
        layer=layer,
    )


def _size_in_disc(words: str, radius: float) -> float:
    """The letters' size, mm on paper, at which a word's box just fits into a disc of `radius` mm on paper."""
    width = text_width(words, 1.0, True)
    return 0.92 * radius / math.hypot(width / 2.0, CAP_HEIGHT / 2.0)


def _room(drawing: HideDrawing, plan: Plan, job: Job, step: CuttingStep) -> tuple[float, float, float]:
    """Middle and radius, in the view's mm, of the roomiest disc of a step, clear of its holes."""
    placed = plan.placements[step.members[0]]
    if placed.piece:
        # Copies share their shape: the disc is sought once for each piece, in the piece's own frame.
        x, y, radius = _room_in_piece(job.piece(placed.piece), placed.layer)
        spot = drawing.view.turned(placed.pose.apply(np.array(((x, y),))))[0]
        return float(spot[0]), float(spot[1]), radius
    if len(step.members) == 1:
        return largest_disc_in_ring(drawing.view.turned(placed.finished_ring))
    return _room_in_block(_corners_of(drawing, plan, step))


@functools.lru_cache(maxsize=512)
def _room_in_piece(piece: Piece, layer: str) -> tuple[float, float, float]:
    return largest_inner_disc(_clear_of_work(piece, layer))


@functools.lru_cache(maxsize=512)
def _clear_of_work(piece: Piece, layer: str) -> shapely.Geometry:
    return clear_of_work(piece, layer)


def _shape(drawing: HideDrawing, plan: Plan, job: Job, step: CuttingStep) -> shapely.Geometry:
    """Where a step's words may stand, in the view's mm: its finished shape, or all its strips together."""
    placed: list[Placement] = [plan.placements[n] for n in step.members]
    if placed[0].piece:
        free = _clear_of_work(job.piece(placed[0].piece), placed[0].layer)
        return shapely.transform(free, lambda points: drawing.view.turned(placed[0].pose.apply(points)))
    return _block(_corners_of(drawing, plan, step))


def _corners_of(drawing: HideDrawing, plan: Plan, step: CuttingStep) -> tuple[bytes, ...]:
    """The corners of each of a step's strips, in the view's mm."""
    return tuple(drawing.view.turned(plan.placements[n].finished_ring).tobytes() for n in step.members)


@functools.lru_cache(maxsize=512)
def _room_in_block(corners: tuple[bytes, ...]) -> tuple[float, float, float]:
    return largest_inner_disc(_block(corners))


@functools.lru_cache(maxsize=512)
def _block(corners: tuple[bytes, ...]) -> shapely.Geometry:
    """Strips side by side as one shape; remembered, since a hide is drawn at several scales."""
    strips = [shapely.Polygon(np.frombuffer(each).reshape(-1, 2)) for each in corners]
    merged = shapely.union_all([strip.buffer(2.0, join_style="mitre") for strip in strips])
    return merged.buffer(-2.0, join_style="mitre")
