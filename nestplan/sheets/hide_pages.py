"""A hide's drawing set on a page as large as it fits, its key under it, and detail drawings where it is crowded."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from nestplan.model import Hide, Job, Plan
from nestplan.sheets.clipping import Window, clipped
from nestplan.sheets.cutting_order import Cut
from nestplan.sheets.drawing import (
    HideDrawing,
    View,
    draw_flaws,
    draw_hide,
    draw_placements,
    draw_tape_lines,
    standing_turn,
)
from nestplan.sheets.flow import SMALL, Flow
from nestplan.sheets.labels import label_all
from nestplan.sheets.legend import draw_legend, scale_bar
from nestplan.sheets.measures import Measures
from nestplan.sheets.palette import PAPER, Look
from nestplan.sheets.primitives import Sketch, Stroke, moved

__all__ = [
    "draw_planned_hide",
    "set_hide",
]

_LETTERS = 7.0
"""Room round a hide for the letters A and B, mm on the paper."""
_LEGEND = 16.0
_CLOSER = (2.5, 5.0, 10.0)
"""How many times larger than the whole hide a detail may be drawn; the least that serves is taken."""


def draw_planned_hide(
    plan: Plan,
    job: Job,
    hide: Hide,
    order: Sequence[Cut],
    *,
    look: Look,
    ratio: float,
    tape: bool = True,
) -> HideDrawing:
    """One hide with everything on it, in mm on the leather; `ratio` leather mm come to one paper mm."""
    drawing = draw_hide(View(standing_turn(hide), ratio, look), hide)
    draw_placements(drawing, plan, job, order, anchors=tape)
    draw_flaws(drawing)
    if tape:
        draw_tape_lines(drawing)
    label_all(drawing, plan, job, order, tape=tape)
    return drawing


def set_hide(flow: Flow, plan: Plan, job: Job, hide: Hide, order: Sequence[Cut], measures: Measures) -> None:
    """The hide's drawing on the rest of the page, then as many detail drawings as the crowded places need."""
    height = max(flow.room - 1.0, 60.0)
    left, bottom, right, top = flow.block(height)
    key = Sketch()
    probe = draw_hide(View(standing_turn(hide), 1.0, PAPER), hide)
    xmin, ymin, xmax, ymax = probe.sketch.bounds()
    room = (right - left - 2 * _LETTERS, top - bottom - 2 * _LETTERS - _LEGEND)
    ratio = max((xmax - xmin) / room[0], (ymax - ymin) / room[1])
    drawing = draw_planned_hide(plan, job, hide, order, look=PAPER, ratio=ratio)
    used = draw_legend(key, drawing, plan, order, left, 0.0, right - left)
    flow.page.sketch.add(moved(key, 0.0, bottom + used))
    # Centred in what the key has left.
    x = (left + right) / 2 - (xmin + xmax) / 2 / ratio
    y = (top + bottom + used + 3.0) / 2 - (ymin + ymax) / 2 / ratio
    flow.page.sketch.add(moved(drawing.sketch, x, y, 1.0 / ratio))
    scale_bar(flow.page.sketch, right, top - 4.0, ratio, measures.unit, PAPER)
    flow.page.sketch.text(left, top - 4.0, _scale_words(drawing), SMALL)
    if drawing.crowded:
        _set_details(flow, plan, job, hide, order, drawing)


def _scale_words(drawing: HideDrawing) -> str:
    words = f"grain side up, drawn 1 : {drawing.view.ratio:.1f}"
    if not drawing.crowded:
        return words
    labels = [cut.label for cut in drawing.crowded]
    shown = ", ".join(labels[:12]) + (" …" if len(labels) > 12 else "")
    return f"{words}; numbers {shown} stand on the detail drawings"


def _set_details(
    flow: Flow, plan: Plan, job: Job, hide: Hide, order: Sequence[Cut], overview: HideDrawing
) -> None:
    width, height = flow.width, (flow.full_height - 30.0) / 2
    left_over: list[Cut] = list(overview.crowded)
    number = 1
    for closer in _CLOSER:
        ratio = overview.view.ratio / closer
        drawing = draw_planned_hide(plan, job, hide, order, look=PAPER, ratio=ratio)
        still = {cut.number for cut in drawing.crowded}
        mine = [cut for cut in left_over if cut.number not in still or closer == _CLOSER[-1]]
        left_over = [cut for cut in left_over if cut not in mine]
        for window in _windows(plan, drawing, mine, width * ratio, height * ratio):
            flow.heading(f"{hide.name}, detail {number}", keep=height + 4.0)
            left, bottom, _, top = flow.block(height + 4.0)
            x, y = left - window[0] / ratio, bottom + 4.0 - window[1] / ratio
            flow.page.sketch.add(moved(clipped(drawing.sketch, window), x, y, 1.0 / ratio))
            right = x + window[2] / ratio
            frame = [(left, bottom + 4.0), (right, bottom + 4.0), (right, top), (left, top)]
            flow.page.sketch.area(frame, Stroke(0.2), layer="frame")
            flow.page.sketch.text(left, bottom + 0.5, f"drawn 1 : {ratio:.1f}", SMALL)
            number += 1


def _windows(
    plan: Plan, drawing: HideDrawing, crowded: Sequence[Cut], width: float, height: float
) -> list[Window]:
    """As few windows of that size as the simple rule finds, so that each crowded step lies wholly in one.

    A step larger than the window (a long strip) is shown by its end nearer to the rear.
    """
    boxes: list[tuple[np.ndarray, np.ndarray]] = []
    for cut in crowded:
        rings = np.vstack([drawing.view.at(plan.placements[n].cut_ring) for n in cut.members])
        low = rings.min(axis=0)
        boxes.append((low, np.minimum(rings.max(axis=0), low + np.array((0.9 * width, 0.9 * height)))))
    windows: list[Window] = []
    xmin, ymin, xmax, ymax = drawing.sketch.bounds()
    boxes.sort(key=lambda box: (box[0][0], box[0][1]))
    while boxes:
        first = boxes[0][0]
        # The window starts a little before the leftmost step and is centred on it up and down.
        x = min(
            max(first[0] - 0.04 * width, xmin - 0.02 * width), max(xmax - 0.98 * width, xmin - 0.02 * width)
        )
        near = [box for box in boxes if box[0][0] >= x and box[1][0] <= x + width]
        middle = (boxes[0][0][1] + boxes[0][1][1]) / 2
        candidates = sorted({box[0][1] - 0.04 * height for box in near} | {middle - height / 2})
        y = max(
            candidates,
            key=lambda low: (
                low <= boxes[0][0][1] and boxes[0][1][1] <= low + height,
                sum(low <= box[0][1] and box[1][1] <= low + height for box in near),
                -abs(low + height / 2 - (ymin + ymax) / 2),
            ),
        )
        window = (float(x), float(y), float(x + width), float(y + height))
        windows.append(window)
        rest = [
            box
            for box in boxes[1:]
            if not (
                box[0][0] >= window[0]
                and box[1][0] <= window[2]
                and box[0][1] >= window[1]
                and box[1][1] <= window[3]
            )
        ]
        boxes = rest
    return windows
