"""A hide's drawing set on a page as large as it fits, its key under it, and detail drawings where it is crowded."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from nestplan.drawing.clipping import Window, clipped
from nestplan.drawing.flow import SMALL, Flow
from nestplan.drawing.primitives import Sketch, Stroke, Text, moved
from nestplan.model import Hide, Job, Plan
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
from nestplan.sheets.labels import label_all
from nestplan.sheets.legend import draw_legend, legend_entries, scale_bar
from nestplan.sheets.measures import Measures
from nestplan.sheets.numbers import write_number_over
from nestplan.sheets.palette import PAPER, Look

__all__ = [
    "draw_planned_hide",
    "set_hide",
]

_Corner = NDArray[np.float64]
_LETTERS = 7.0
"""Room round a hide for the letters A and B, mm on the paper."""
_LEGEND = 16.0
_SCALE_LINE = 4.0
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
    ends = probe.view.at(np.array((probe.frame.a, probe.frame.b, *(hide.backbone or ()))))
    spots = np.vstack((probe.view.at(hide.ring), ends))
    (xmin, ymin), (xmax, ymax) = spots.min(axis=0).tolist(), spots.max(axis=0).tolist()
    room = (right - left - 2 * _LETTERS, top - bottom - 2 * _LETTERS - _LEGEND - _SCALE_LINE)
    ratio = max((xmax - xmin) / room[0], (ymax - ymin) / room[1])
    drawing = draw_planned_hide(plan, job, hide, order, look=PAPER, ratio=ratio)
    used = draw_legend(key, legend_entries(drawing, plan, order), PAPER, left, 0.0, right - left)
    flow.page.sketch.add(moved(key, 0.0, bottom + used))
    # Centred in what the key has left.
    x = (left + right) / 2 - (xmin + xmax) / 2 / ratio
    y = (top - _SCALE_LINE + bottom + used + 3.0) / 2 - (ymin + ymax) / 2 / ratio
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
        if closer == _CLOSER[-1]:
            for cut in left_over:
                if cut.number in still:
                    write_number_over(drawing, plan, cut)
            still = set()
        mine = [cut for cut in left_over if cut.number not in still]
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
    """Windows of that size so that each crowded step lies wholly in one, near ones together.

    Of a step larger than the window, such as a long strip, the place of its number is shown.
    """
    most = np.array((0.94 * width, 0.94 * height))
    left = [_box_to_show(plan, drawing, cut, most) for cut in crowded]
    windows: list[Window] = []
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


def _box_to_show(plan: Plan, drawing: HideDrawing, cut: Cut, most: _Corner) -> tuple[_Corner, _Corner]:
    """Lower left and upper right corner of what a detail has to show of a step."""
    rings = np.vstack([drawing.view.at(plan.placements[n].cut_ring) for n in cut.members])
    low, high = rings.min(axis=0), rings.max(axis=0)
    if (high - low <= most).all():
        return low, high
    texts = (item for item in drawing.sketch.on("numbers") if isinstance(item, Text))
    spot = next(np.array((item.x, item.y)) for item in texts if item.words == cut.label)
    around = 12.0 * drawing.view.ratio
    return np.maximum(low, spot - around), np.minimum(high, spot + around)
