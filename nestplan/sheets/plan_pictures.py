"""Pictures of a plan for the notebook, the customer or the README: SVG and PNG, light, dark or black on white."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from nestplan.drawing.lettering import shortened, text_width
from nestplan.drawing.pages import Page
from nestplan.drawing.primitives import Picture, bounds_of, moved
from nestplan.errors import InputError
from nestplan.model import Hide, Job, Plan
from nestplan.sheets.cutting_order import CuttingStep, cutting_steps
from nestplan.sheets.hide_drawing import HideDrawing, standing_turn
from nestplan.sheets.hide_pages import draw_planned_hide
from nestplan.sheets.hide_styles import HIDE_STYLES
from nestplan.sheets.legend import draw_legend, legend_entries, scale_bar
from nestplan.sheets.unit_formatting import LengthUnit

__all__ = [
    "plan_picture",
    "write_plan_png",
    "write_plan_svg",
]

_EDGE, _GUTTER, _TITLE = 8.0, 8.0, 5.0
"""Empty edge of the page, distance of hides, room for a hide's name, mm."""


def plan_picture(
    plan: Plan,
    job: Job,
    hides: Sequence[Hide],
    *,
    units: LengthUnit = "mm",
    look: str = "light",
    width: float = 400.0,
) -> Page:
    """Every hide that the plan uses, at one scale, on one page `width` mm wide with its key.

    A plan that uses no hide shows the hides it was given.

    Raises InputError for an unknown look.
    """
    style = HIDE_STYLES.get(look)
    if style is None:
        raise InputError(
            f"There is no look called “{look}”.", mend=f"Take one of {', '.join(sorted(HIDE_STYLES))}."
        )
    used = [hide for hide in hides if any(placed.hide == hide.name for placed in plan.placements)]
    shown = used or list(hides)
    rows, ratio = _arranged(shown, width - 2 * _EDGE) if shown else ([], 1.0)
    picture = Picture()
    y = 0.0
    drawings: list[tuple[HideDrawing, tuple[CuttingStep, ...]]] = []
    for row in rows:
        x = _EDGE
        tallest = max(_size(hide)[1] for hide in row) / ratio
        taken = sum(_size(hide)[0] / ratio + _GUTTER for hide in row) - _GUTTER
        spare = max(width - 2 * _EDGE - taken, 0.0) / len(row)
        for hide in row:
            steps = cutting_steps(plan, job, hide)
            drawing = draw_planned_hide(plan, job, hide, steps, style=style, ratio=ratio, tape=False)
            drawings.append((drawing, steps))
            xmin, _, _, ymax = bounds_of(drawing.picture.on("hide"))
            top = y - _TITLE
            picture.add(moved(drawing.picture, x - xmin / ratio, top - ymax / ratio, 1.0 / ratio))
            count = sum(placed.hide == hide.name for placed in plan.placements)
            room = _size(hide)[0] / ratio + spare
            number = f": {count} to cut"
            words = shortened(hide.name, 3.6, room - text_width(number, 3.6, True), True) + number
            picture.text(x, y - _TITLE + 1.5, words, 3.6, bold=True, color=style.ink, layer="titles")
            x += max(_size(hide)[0] / ratio, min(text_width(words, 3.6, True), room)) + _GUTTER
        y -= tallest + _TITLE + _GUTTER
    entries = [
        entry for drawing, steps in drawings for entry in legend_entries(drawing, plan, steps, regions=False)
    ]
    y -= draw_legend(picture, entries, style, _EDGE, y, width - 2 * _EDGE)
    words = shortened(plan.name, 3.0, width - 2 * _EDGE - 150.0) + f", drawn 1 : {ratio:.1f}"
    picture.text(_EDGE, y - 5.0, words, 3.0, color=style.faint, layer="titles")
    scale_bar(picture, width - _EDGE, y - 5.0, ratio, units, style)
    height = -y + 5.0 + 2 * _EDGE
    page = Page(width, height, background=style.background)
    page.picture.add(moved(picture, 0.0, height - _EDGE))
    return page


def write_plan_svg(
    plan: Plan,
    job: Job,
    hides: Sequence[Hide],
    path: str | Path,
    *,
    units: LengthUnit = "mm",
    look: str = "light",
) -> None:
    """The plan's picture as SVG, with a scale in the units asked for."""
    from nestplan.drawing.svg import write_svg

    write_svg(plan_picture(plan, job, hides, units=units, look=look), path, title=plan.name)


def write_plan_png(
    plan: Plan,
    job: Job,
    hides: Sequence[Hide],
    path: str | Path,
    *,
    units: LengthUnit = "mm",
    look: str = "light",
    dots_per_inch: float = 150.0,
) -> None:
    """The plan's picture as PNG."""
    from nestplan.drawing.png import write_png

    write_png(plan_picture(plan, job, hides, units=units, look=look), path, dots_per_inch=dots_per_inch)


def _size(hide: Hide) -> tuple[float, float]:
    """Width and height of a hide as it is shown, mm on the leather."""
    width, height = (hide.ring.max(axis=0) - hide.ring.min(axis=0)).tolist()
    return (height, width) if standing_turn(hide) else (width, height)


def _arranged(hides: Sequence[Hide], width: float) -> tuple[list[list[Hide]], float]:
    """The hides in rows, and the ratio at which the fullest row just fits the width; the flattest page wins."""
    best: tuple[float, list[list[Hide]], float] | None = None
    for per_row in range(1, len(hides) + 1):
        rows = [list(hides[n : n + per_row]) for n in range(0, len(hides), per_row)]
        ratio = max(
            sum(_size(hide)[0] for hide in row) / max(width - _GUTTER * (len(row) - 1), 20.0) for row in rows
        )
        height = sum(max(_size(hide)[1] for hide in row) / ratio + _TITLE + _GUTTER for row in rows)
        # A page of about 8:5 is wanted: far taller or far flatter ones are worse.
        score = abs(math.log(height / (width * 0.62)))
        if best is None or score < best[0] - 1e-9:
            best = (score, rows, ratio)
    assert best is not None
    return best[1], best[2]
