"""The words on a hide's drawing that belong to the hide: flaws' letters, regions, stretch arrows, marked points.

Every word looks for a place where it overprints no other word. Numbers and names of what is cut are in
`numbers`, lines and areas in `drawing`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from nestplan.drawing.label_placement import boxes_inside, centred_box, largest_disc_in_ring
from nestplan.drawing.lettering import CAP_HEIGHT, text_width
from nestplan.model import Job, Plan
from nestplan.model.rules import zones_of
from nestplan.sheets.cutting_order import CuttingStep
from nestplan.sheets.hide_drawing import HideDrawing, rear_line
from nestplan.sheets.number_labels import write_names, write_numbers, write_word

__all__ = ["label_all", "label_flaws", "label_marked_points", "label_regions", "stretch_arrow"]


def label_all(
    drawing: HideDrawing, plan: Plan, job: Job, steps: Sequence[CuttingStep], *, tape: bool = True
) -> None:
    """Every word of the drawing, the most needed first: marked points, numbers, flaws, offcuts, regions, names."""
    if tape:
        label_marked_points(drawing)
    rooms = write_numbers(drawing, plan, job, steps)
    label_flaws(drawing)
    _offcuts(drawing, plan)
    label_regions(drawing)
    write_names(drawing, plan, job, steps, rooms)
    if tape:
        _line_names(drawing)


def label_marked_points(drawing: HideDrawing) -> None:
    """The letters A and B, outside the hide where there is room."""
    paper_mm = drawing.view.ratio
    for letter, spot, side in (("A", drawing.frame.a, -1.0), ("B", drawing.frame.b, 1.0)):
        x, y = drawing.view.turned_point(spot)
        ux, uy = _direction(drawing)
        size = 4.2
        places = [
            centred_box(
                x + (side * ux * far + uy * off) * paper_mm,
                y + (side * uy * far - ux * off) * paper_mm,
                3.4 * paper_mm,
                size * paper_mm,
            )
            for far, off in ((4.0, 0.0), (2.5, 3.5), (2.5, -3.5), (0.0, 4.5), (0.0, -4.5))
        ]
        box = drawing.occupied.take_first_clear(places) or places[0]
        write_word(drawing, box, letter, size, layer="tape", bold=True)
        drawing.occupied.take(centred_box(x, y, 3.6 * paper_mm, 3.6 * paper_mm))


def label_flaws(drawing: HideDrawing) -> None:
    """The letter of each flaw's kind on it or beside it."""
    paper_mm = drawing.view.ratio
    size = 2.6
    for flaw in drawing.hide.flaws:
        ring = drawing.view.turned(flaw.ring)
        letter = flaw.kind.letter
        width, height = (
            (text_width(letter, size, True) + 0.5) * paper_mm,
            (size * CAP_HEIGHT + 0.5) * paper_mm,
        )
        x, y, radius = largest_disc_in_ring(ring)
        low, high = ring.min(axis=0), ring.max(axis=0)
        half_x, half_y = float(high[0] - low[0]) / 2 + width / 2, float(high[1] - low[1]) / 2 + height / 2
        cx, cy = (low + high) / 2.0
        around = [
            centred_box(cx + half_x * dx, cy + half_y * dy, width, height)
            for dx, dy in (
                (1, 1),
                (1, -1),
                (-1, 1),
                (-1, -1),
                (1, 0),
                (-1, 0),
                (0, 1),
                (0, -1),
                (1.6, 1),
                (-1.6, 1),
            )
        ]
        inside = [centred_box(x, y, width, height)] if radius > 2.4 * paper_mm else []
        box = drawing.occupied.take_first_clear([*inside, *around])
        if box is not None:
            style = drawing.view.style
            halo = style.hide_fill or style.background
            write_word(drawing, box, letter, size, layer="flaws", bold=True, color=style.flaw, halo=halo)


def _offcuts(drawing: HideDrawing, plan: Plan) -> None:
    """`keep 1`, `keep 2` … in the offcuts, in the order of the figures."""
    paper_mm = drawing.view.ratio
    size = 2.9
    mine = (
        [offcut for offcut in plan.figures.offcuts if offcut.hide == drawing.hide.name]
        if plan.figures
        else []
    )
    for number, offcut in enumerate(mine, start=1):
        words = f"keep {number}"
        rings = [drawing.view.outline(np.asarray(ring)) for ring in (offcut.outline, *offcut.holes)]
        shape = shapely.make_valid(shapely.Polygon(rings[0], rings[1:]))
        width, height = (text_width(words, size) + 1.0) * paper_mm, (size * CAP_HEIGHT + 0.8) * paper_mm
        box = drawing.occupied.take_first_clear(boxes_inside(shape, width, height))
        if box is not None:
            write_word(drawing, box, words, size, layer="offcuts", color=drawing.view.style.offcut)


def label_regions(drawing: HideDrawing) -> None:
    """Each region's name and stretch arrow, where the region is free of pieces; the legend has them all."""
    view, paper_mm = drawing.view, drawing.view.ratio
    for zone in zones_of(drawing.hide):
        name, axis = zone.name, zone.stretch
        area = shapely.transform(zone.area, view.turned) if view.turn else zone.area
        free = area.difference(drawing.covered).buffer(-0.4 * paper_mm)
        length = 9.0
        width = (text_width(name, 2.6) + 1.0) * paper_mm if name else 0.0
        arrow = _arrow_room(axis, view.turn, length) if axis is not None else (0.0, 0.0)
        box_width = max(width, arrow[0] * paper_mm)
        box_height = ((3.2 if name else 0.0) + arrow[1]) * paper_mm
        if box_width == 0.0:
            continue
        box = drawing.occupied.take_first_clear(
            boxes_inside(free, box_width, box_height, most=900), 0.3 * paper_mm
        )
        if box is None:
            continue
        middle, top = (box[0] + box[2]) / 2, box[3]
        if name:
            below = (middle - width / 2, top - 3.2 * paper_mm, middle + width / 2, top)
            write_word(drawing, below, name, 2.6, layer="regions", color=view.style.region)
        if axis is not None:
            low = top - (3.2 * paper_mm if name else 0.0)
            stretch_arrow(drawing, middle, (low + box[1]) / 2, axis, length)


def _arrow_room(axis: float | str, turn: float, length: float) -> tuple[float, float]:
    """Width and height of a stretch arrow on the paper, mm."""
    if isinstance(axis, str):
        return length + 1.0, length + 1.0
    angle = math.radians(axis + turn)
    return abs(math.cos(angle)) * length + 3.0, abs(math.sin(angle)) * length + 3.0


def stretch_arrow(drawing: HideDrawing, x: float, y: float, axis: float | str, length: float) -> None:
    """A double-headed arrow along the direction of most stretch; two crossed ones where it is every way."""
    view, paper_mm = drawing.view, drawing.view.ratio
    axes = (0.0, 90.0) if isinstance(axis, str) else (axis + view.turn,)
    for angle in axes:
        turn = math.radians(angle)
        along = np.array((math.cos(turn), math.sin(turn)))
        across = np.array((-along[1], along[0]))
        middle = np.array((x, y))
        stroke = view.style.stroke(0.3, color=view.style.stretch).scaled(paper_mm)
        ends = [middle + side * along * length / 2.0 * paper_mm for side in (-1.0, 1.0)]
        drawing.picture.line(np.array(ends), stroke, layer="stretch")
        for end, side in zip(ends, (-1.0, 1.0), strict=True):
            back = end - side * along * 1.8 * paper_mm
            drawing.picture.line(
                np.array((back + across * 0.9 * paper_mm, end, back - across * 0.9 * paper_mm)),
                stroke,
                layer="stretch",
            )


def _line_names(drawing: HideDrawing) -> None:
    """`backbone` or `line A–B`, and `rear edge`, beside their lines."""
    paper_mm, frame, size = drawing.view.ratio, drawing.frame, 2.6
    rear = rear_line(drawing)
    lines = (
        ("backbone" if frame.has_backbone else "line A–B", frame.a, frame.b),
        ("rear edge", (float(rear[0, 0]), float(rear[0, 1])), (float(rear[1, 0]), float(rear[1, 1]))),
    )
    for words, start, end in lines:
        first, last = np.array(drawing.view.turned_point(start)), np.array(drawing.view.turned_point(end))
        if np.hypot(*(last - first)) < text_width(words, size) * paper_mm:
            continue
        along = (last - first) / np.hypot(*(last - first))
        angle = math.degrees(math.atan2(along[1], along[0]))
        if angle > 90.01 or angle <= -90.0:
            angle, along = angle - math.copysign(180.0, angle), -along
        normal = np.array((-along[1], along[0]))
        width = text_width(words, size) * paper_mm
        reach = np.abs(along) * width + np.abs(normal) * size * paper_mm
        for share in (0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9):
            for side in (-1.0, 1.0):
                middle = first + (last - first) * share + normal * side * 0.75 * size * paper_mm
                box = centred_box(float(middle[0]), float(middle[1]), float(reach[0]), float(reach[1]))
                if drawing.occupied.is_clear(box) and not drawing.covered.intersects(shapely.box(*box)):
                    drawing.occupied.take(box)
                    base = middle - normal * size * CAP_HEIGHT / 2.0 * paper_mm
                    drawing.picture.text(
                        float(base[0]), float(base[1]), words, size * paper_mm, anchor="middle", angle=angle,
                        color=drawing.view.style.ink, halo=drawing.view.style.halo, layer="tape",
                    )  # fmt: skip
                    break
            else:
                continue
            break


def _direction(drawing: HideDrawing) -> tuple[float, float]:
    (ax, ay), (bx, by) = (
        drawing.view.turned_point(drawing.frame.a),
        drawing.view.turned_point(drawing.frame.b),
    )
    span = math.hypot(bx - ax, by - ay)
    return (bx - ax) / span, (by - ay) / span
