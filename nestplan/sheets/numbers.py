"""Numbers and names inside pieces and strips: as large as they fit, clear of holes, or reported as crowded."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence

import numpy as np
import shapely

from nestplan.drawing.label_placement import Box, box_at, boxes_inside, roomiest, roomiest_in_ring
from nestplan.drawing.lettering import ASCENT, text_width
from nestplan.model import Job, Piece, Placement, Plan
from nestplan.sheets.cutting_order import Cut
from nestplan.sheets.drawing import HideDrawing
from nestplan.sheets.naming import placement_label

__all__ = ["LARGEST", "LEAST", "NAME", "write_names", "write_number_over", "write_numbers", "write_word"]

LARGEST, LEAST, NAME = 4.6, 2.3, 2.3
"""Sizes of numbers and names, mm on the paper: 2.3 mm is 6.5 points, the least that is still read easily."""


def write_numbers(
    drawing: HideDrawing, plan: Plan, job: Job, order: Sequence[Cut]
) -> dict[int, tuple[float, float]]:
    """Write each step's number where it lies; returns the middle of each number by its step's number.

    A step that has no room for its number goes to the drawing's crowded ones.
    """
    pen = drawing.view.ratio
    rooms: dict[int, tuple[float, float]] = {}
    for cut in order:
        x, y, radius = _room(drawing, plan, job, cut)
        size = min(LARGEST, _size_in_disc(cut.label, radius / pen))
        box: Box | None = None
        if size >= LEAST:
            box = box_at(x, y, text_width(cut.label, size, True) * pen, size * ASCENT * pen)
        if box is None or not drawing.spots.clear(box, 0.2 * pen):
            # A number may be wider than its disc where the piece is long enough; else it is too crowded.
            size = max(min(size, 3.0), LEAST)
            width = (text_width(cut.label, size, True) + 0.6) * pen
            shape = _shape(drawing, plan, job, cut)
            box = drawing.spots.first_clear(boxes_inside(shape, width, (size * ASCENT + 0.5) * pen))
            if box is None:
                drawing.crowded.append(cut)
                continue
        drawing.spots.take(box)
        # Strips have cuts running through under their number.
        halo = drawing.view.look.strip_fill if len(cut.members) > 1 else None
        write_word(drawing, box, cut.label, size, layer="numbers", bold=True, halo=halo)
        rooms[cut.number] = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
    return rooms


def write_number_over(drawing: HideDrawing, plan: Plan, cut: Cut) -> None:
    """Write a step's number across its lines, where it is too narrow at any scale that still shows its place."""
    x, y, _ = roomiest_in_ring(drawing.view.at(plan.placements[cut.members[0]].finished_ring))
    pen = drawing.view.ratio
    box = box_at(x, y, text_width(cut.label, LEAST, True) * pen, LEAST * ASCENT * pen)
    drawing.spots.take(box)
    write_word(drawing, box, cut.label, LEAST, layer="numbers", bold=True, halo=drawing.view.look.background)


def write_names(
    drawing: HideDrawing, plan: Plan, job: Job, order: Sequence[Cut], rooms: dict[int, tuple[float, float]]
) -> None:
    """The thing's name by its number where there is room for it; the table has it in any case."""
    pen = drawing.view.ratio
    for cut in order:
        if cut.number not in rooms or len(cut.members) > 1:
            continue
        words = placement_label(job, plan, cut.members[0])
        x, y = rooms[cut.number]
        width, height = (text_width(words, NAME) + 0.8) * pen, NAME * pen
        shape = _shape(drawing, plan, job, cut).buffer(-0.3 * pen)
        for drop in (3.6, -3.8, 4.8):
            box = box_at(x, y - drop * pen, width, height)
            if shape.contains(shapely.box(*box)) and drawing.spots.clear(box, 0.1 * pen):
                drawing.spots.take(box)
                write_word(drawing, box, words, NAME, layer="names")
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
    drawing.sketch.text(
        (box[0] + box[2]) / 2,
        (box[1] + box[3]) / 2 - size * ASCENT / 2.0 * drawing.view.ratio,
        words,
        size * drawing.view.ratio,
        anchor="middle",
        bold=bold,
        color=color or drawing.view.look.ink,
        halo=halo or drawing.view.look.halo,
        layer=layer,
    )


def _size_in_disc(words: str, radius: float) -> float:
    """The letters' size, mm on paper, at which a word's box just fits into a disc of `radius` mm on paper."""
    width = text_width(words, 1.0, True)
    return 0.92 * radius / math.hypot(width / 2.0, ASCENT / 2.0)


def _room(drawing: HideDrawing, plan: Plan, job: Job, cut: Cut) -> tuple[float, float, float]:
    """Middle and radius, in the view's mm, of the roomiest disc of a step, clear of its holes."""
    placed = plan.placements[cut.members[0]]
    if placed.piece:
        # Copies share their shape: the disc is sought once for each piece, in the piece's own frame.
        x, y, radius = _room_in_piece(job.piece(placed.piece))
        spot = drawing.view.at(placed.pose.apply(np.array(((x, y),))))[0]
        return float(spot[0]), float(spot[1]), radius
    if len(cut.members) == 1:
        return roomiest_in_ring(drawing.view.at(placed.finished_ring))
    return roomiest(_shape(drawing, plan, job, cut))


@functools.lru_cache(maxsize=512)
def _room_in_piece(piece: Piece) -> tuple[float, float, float]:
    return roomiest(_clear_of_marks(piece))


@functools.lru_cache(maxsize=512)
def _clear_of_marks(piece: Piece) -> shapely.Geometry:
    """A piece without its openings, holes and slits, in its own frame."""
    shape = shapely.Polygon(piece.ring, piece.hole_rings)
    taken = []
    for mark in piece.marks:
        if mark.kind.symbol == "circle" and mark.diameter:
            taken.append(shapely.Point(mark.at).buffer(mark.diameter / 2.0))
        elif mark.kind.symbol == "bar" and mark.length:
            taken.append(shapely.LineString(mark.ends).buffer(0.5))
    return shapely.difference(shape, shapely.union_all(taken)) if taken else shape


def _shape(drawing: HideDrawing, plan: Plan, job: Job, cut: Cut) -> shapely.Geometry:
    """Where a step's words may stand, in the view's mm: its finished shape, or all its strips together."""
    placed: list[Placement] = [plan.placements[n] for n in cut.members]
    if placed[0].piece:
        free = _clear_of_marks(job.piece(placed[0].piece))
        return shapely.transform(free, lambda points: drawing.view.at(placed[0].pose.apply(points)))
    strips = [shapely.Polygon(drawing.view.at(each.finished_ring)) for each in placed]
    merged = shapely.union_all([strip.buffer(2.0, join_style="mitre") for strip in strips])
    return merged.buffer(-2.0, join_style="mitre")
