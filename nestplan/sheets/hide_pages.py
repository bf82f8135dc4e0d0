"""A hide's drawing set on a page as large as it fits, its key under it, and detail drawings where it is crowded."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from nestplan.drawing.booklet_builder import SMALL_SIZE, BookletBuilder
from nestplan.drawing.clipping import clipped
from nestplan.drawing.primitives import Box, LineStyle, Picture, Text, moved
from nestplan.model import Hide, Job, Plan
from nestplan.sheets.cutting_order import CuttingStep
from nestplan.sheets.hide_drawing import (
    HideDrawing,
    HideView,
    draw_flaws,
    draw_hide,
    draw_placements,
    draw_tape_lines,
    standing_turn,
)
from nestplan.sheets.hide_labels import label_all
from nestplan.sheets.hide_styles import PAPER_STYLE, HideStyle
from nestplan.sheets.legend import draw_legend, legend_entries, scale_bar
from nestplan.sheets.number_labels import write_number_over
from nestplan.sheets.tape_positions import tape_frame
from nestplan.sheets.unit_formatting import UnitFormatter

__all__ = [
    "add_hide",
    "draw_planned_hide",
]

_Corner = NDArray[np.float64]
"""A point (2,), mm."""
_LETTERS = 7.0
"""Room round a hide for the letters A and B, mm on the paper."""
_LEGEND, _SCALE_LINE = 16.0, 4.0
"""Room for the key below a hide and for the line with the scale above it, mm."""
_CLOSER = (2.5, 5.0, 10.0)
"""How many times larger than the whole hide a detail may be drawn; the least that serves is taken."""


def draw_planned_hide(
    plan: Plan,
    job: Job,
    hide: Hide,
    steps: Sequence[CuttingStep],
    *,
    style: HideStyle,
    ratio: float,
    tape: bool = True,
) -> HideDrawing:
    """One hide with everything on it, in mm on the leather; `ratio` leather mm come to one paper mm."""
    drawing = draw_hide(HideView(standing_turn(hide), ratio, style), hide)
    draw_placements(drawing, plan, job, steps, anchors=tape)
    draw_flaws(drawing)
    if tape:
        draw_tape_lines(drawing)
    label_all(drawing, plan, job, steps, tape=tape)
    return drawing


def add_hide(
    booklet: BookletBuilder,
    plan: Plan,
    job: Job,
    hide: Hide,
    steps: Sequence[CuttingStep],
    formatter: UnitFormatter,
) -> None:
    """The hide's drawing on the rest of the page, then as many detail drawings as the crowded places need."""
    height = max(booklet.room_left - 1.0, 60.0)
    left, bottom, right, top = booklet.reserve(height)
    key = Picture()
    view, frame = HideView(standing_turn(hide), 1.0, PAPER_STYLE), tape_frame(hide)
    spots = view.turned(np.vstack((hide.ring, (frame.a, frame.b, *(hide.backbone or ())))))
    (xmin, ymin), (xmax, ymax) = spots.min(axis=0).tolist(), spots.max(axis=0).tolist()
    room = (right - left - 2 * _LETTERS, top - bottom - 2 * _LETTERS - _LEGEND - _SCALE_LINE)
    ratio = max((xmax - xmin) / room[0], (ymax - ymin) / room[1])
    drawing = draw_planned_hide(plan, job, hide, steps, style=PAPER_STYLE, ratio=ratio)
    used = draw_legend(key, legend_entries(drawing, plan, steps), PAPER_STYLE, left, 0.0, right - left)
    booklet.page.picture.add(moved(key, 0.0, bottom + used))
    # Centred in what the key has left.
    x = (left + right) / 2 - (xmin + xmax) / 2 / ratio
    y = (top - _SCALE_LINE + bottom + used + 3.0) / 2 - (ymin + ymax) / 2 / ratio
    booklet.page.picture.add(moved(drawing.picture, x, y, 1.0 / ratio))
    scale_bar(booklet.page.picture, right, top - 4.0, ratio, formatter.unit, PAPER_STYLE)
    booklet.page.picture.text(left, top - 4.0, _scale_words(drawing), SMALL_SIZE)
    if drawing.crowded:
        _add_details(booklet, plan, job, hide, steps, drawing)


def _scale_words(drawing: HideDrawing) -> str:
    words = f"grain side up, drawn 1 : {drawing.view.ratio:.1f}"
    if not drawing.crowded:
        return words
    labels = [step.label for step in drawing.crowded]
    shown = ", ".join(labels[:12]) + (" …" if len(labels) > 12 else "")
    return f"{words}; numbers {shown} stand on the detail drawings"


def _add_details(
    booklet: BookletBuilder,
    plan: Plan,
    job: Job,
    hide: Hide,
    steps: Sequence[CuttingStep],
    overview: HideDrawing,
) -> None:
    width, height = booklet.width, (booklet.page_room - 30.0) / 2
    left_over: list[CuttingStep] = list(overview.crowded)
    number = 1
    for closer in _CLOSER:
        if not left_over:
            break
        ratio = overview.view.ratio / closer
        drawing = draw_planned_hide(plan, job, hide, steps, style=PAPER_STYLE, ratio=ratio)
        still = {step.number for step in drawing.crowded}
        if closer == _CLOSER[-1]:
            for step in left_over:
                if step.number in still:
                    write_number_over(drawing, plan, step)
            still = set()
        mine = [step for step in left_over if step.number not in still]
        left_over = [step for step in left_over if step not in mine]
        for window in _windows(plan, drawing, mine, width * ratio, height * ratio):
            booklet.heading(f"{hide.name}, detail {number}", keep_with_next=height + 4.0)
            left, bottom, _, top = booklet.reserve(height + 4.0)
            x, y = left - window[0] / ratio, bottom + 4.0 - window[1] / ratio
            booklet.page.picture.add(moved(clipped(drawing.picture, window), x, y, 1.0 / ratio))
            right = x + window[2] / ratio
            frame = [(left, bottom + 4.0), (right, bottom + 4.0), (right, top), (left, top)]
            booklet.page.picture.area(frame, LineStyle(0.2), layer="frame")
            booklet.page.picture.text(left, bottom + 0.5, f"drawn 1 : {ratio:.1f}", SMALL_SIZE)
            number += 1


def _windows(
    plan: Plan, drawing: HideDrawing, crowded: Sequence[CuttingStep], width: float, height: float
) -> list[Box]:
    """Windows of that size so that each crowded step lies wholly in one, near ones together.

    Of a step larger than the window, such as a long strip, the place of its number is shown.
    """
    most = np.array((0.94 * width, 0.94 * height))
    left = [_box_to_show(plan, drawing, step, most) for step in crowded]
    windows: list[Box] = []
    while left:
        low, high = left.pop(0)
        for box in sorted(left, key=lambda box: float(np.abs(box[0] - low).max())):
            wider = np.minimum(low, box[0]), np.maximum(high, box[1])
            if (wider[1] - wider[0] <= most).all():
                low, high = wider
                left = [other for other in left if other is not box]
        x, y = (low + high) / 2.0 - np.array((width, height)) / 2.0
        windows.append((float(x), float(y), float(x) + width, float(y) + height))
    return windows


def _box_to_show(
    plan: Plan, drawing: HideDrawing, step: CuttingStep, most: _Corner
) -> tuple[_Corner, _Corner]:
    """Lower left and upper right corner of what a detail has to show of a step."""
    rings = np.vstack([drawing.view.turned(plan.placements[n].cut_ring) for n in step.members])
    low, high = rings.min(axis=0), rings.max(axis=0)
    if (high - low <= most).all():
        return low, high
    texts = (item for item in drawing.picture.on("numbers") if isinstance(item, Text))
    spot = next(np.array((item.x, item.y)) for item in texts if item.words == step.label)
    around = 12.0 * drawing.view.ratio
    return np.maximum(low, spot - around), np.minimum(high, spot + around)
