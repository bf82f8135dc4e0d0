"""A plot: whole sets against the area of leather bought, with the areas that suffice marked.

Where the points come from is not known here; they are given, with the words at the marks.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from nestplan.drawing.colors import BLUE, VERMILLION
from nestplan.drawing.lettering import wrapped
from nestplan.drawing.pages import Page
from nestplan.drawing.primitives import Fill, LineStyle
from nestplan.geometry.units import MM2_PER_DM2, MM2_PER_FT2
from nestplan.sheets.hide_styles import LIGHT_STYLE, HideStyle
from nestplan.sheets.unit_formatting import LengthUnit

__all__ = ["AreaMark", "sets_plot"]

_LEFT, _RIGHT, _TOP, _LINE, _KEY = 16.0, 8.0, 16.0, 3.6, 5.0
"""Empty edges round the axes, height of a line of notes and of a row of the key, mm."""


@dataclass(frozen=True)
class AreaMark:
    """An area marked on the plot, mm², with its range (end None: open) and its word."""

    area: float
    low: float
    high: float | None
    word: str


def sets_plot(
    points: Sequence[tuple[float, int]],
    marks: Sequence[AreaMark],
    *,
    wanted: int,
    units: LengthUnit,
    title: str,
    notes: Sequence[str],
    width: float = 180.0,
    height: float = 110.0,
    style: HideStyle = LIGHT_STYLE,
) -> Page:
    """`points` are (area bought in mm², whole sets), one for each plan; `marks` stand upright at the areas that
    suffice. The scale is in dm², or in ft² where `units` are inches.

    The wanted number of sets is a level line. `notes` stand below, so that the picture says what it rests on.
    """
    unit, factor = ("ft²", MM2_PER_FT2) if units == "in" else ("dm²", MM2_PER_DM2)
    lines = [line for note in notes for line in wrapped(note, 2.6, width - 16.0)]
    foot = 20.0 + (len(marks) + 1) * _KEY + len(lines) * _LINE
    page = Page(width, height + foot, background=style.background)
    picture = page.picture
    most = max([area for area, _ in points] + [mark.high or mark.area for mark in marks] + [1e-9]) * 1.05
    top_sets = max([sets for _, sets in points] + [wanted, 1]) * 1.08

    def at(area: float, sets: float) -> tuple[float, float]:
        return (
            _LEFT + area / most * (width - _LEFT - _RIGHT),
            foot + sets / top_sets * (height - _TOP),
        )

    picture.text(8.0, foot + height - 7.0, title, 4.2, bold=True, color=style.ink, layer="titles")
    base, end = at(0.0, 0.0)[1], at(0.0, top_sets)[1]
    for number, mark in enumerate(marks):
        x0, x1 = at(mark.low, 0.0)[0], at(most if mark.high is None else min(mark.high, most), 0.0)[0]
        picture.area(
            [(x0, base), (x1, base), (x1, end), (x0, end)], None, Fill(_PALE[number % 3]), layer="ranges"
        )
    for value in _ticks(most / factor):
        x, y = at(value * factor, 0.0)
        picture.line([(x, y), (x, y - 1.5)], LineStyle(0.2, style.ink), layer="axes")
        picture.text(x, y - 5.0, f"{value:g}", 2.8, anchor="middle", color=style.ink, layer="axes")
    for value in _ticks(top_sets):
        if value == int(value):
            x, y = at(0.0, value)
            picture.line([(x, y), (x - 1.5, y)], LineStyle(0.2, style.ink), layer="axes")
            picture.text(x - 2.5, y - 1.0, f"{value:g}", 2.8, anchor="right", color=style.ink, layer="axes")
    picture.line([at(0.0, top_sets), at(0.0, 0.0), at(most, 0.0)], LineStyle(0.3, style.ink), layer="axes")
    picture.text(
        *_below(at(most, 0.0), 9.5),
        f"area bought, {unit}",
        3.0,
        anchor="right",
        color=style.ink,
        layer="axes",
    )
    picture.text(_LEFT + 1.5, foot + height - _TOP + 0.5, "whole sets", 3.0, color=style.ink, layer="axes")
    picture.line([at(0.0, wanted), at(most, wanted)], LineStyle(0.2, style.ink, (2.0, 1.0)), layer="wanted")
    for area, sets in points:
        picture.circle(*at(area, sets), 0.7, LineStyle(0.15, style.ink), Fill(BLUE), layer="plans")
    key = foot - 17.0
    for number, mark in enumerate(marks):
        x, stroke = at(mark.area, 0.0)[0], LineStyle(0.45, VERMILLION, _DASHES[number % 3])
        picture.line([(x, base), (x, end)], stroke, layer="marks")
        y = key - number * _KEY
        picture.line([(_LEFT + 3.0, y + 1.0), (_LEFT + 11.0, y + 1.0)], stroke, layer="key")
        picture.text(_LEFT + 13.0, y, mark.word, 3.0, color=style.ink, layer="key")
    y = key - len(marks) * _KEY
    picture.circle(_LEFT + 7.0, y + 1.0, 0.7, LineStyle(0.15, style.ink), Fill(BLUE), layer="key")
    picture.text(_LEFT + 13.0, y, "a plan of a simulated purchase", 3.0, color=style.ink, layer="key")
    for number, line in enumerate(lines):
        picture.text(8.0, y - 6.0 - number * _LINE, line, 2.6, color=style.ink, layer="notes")
    return page


_PALE = ("#e8f3fb", "#f8efdd", "#e3f3ee")
_DASHES: tuple[tuple[float, ...], ...] = ((), (3.0, 1.2), (0.8, 0.8))


def _below(point: tuple[float, float], distance: float) -> tuple[float, float]:
    return point[0], point[1] - distance


def _ticks(most: float) -> list[float]:
    """Round values from 0 to `most`, four to nine of them: 1, 2 or 5 times a power of ten apart."""
    rough = most / 6.0
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(factor * power for factor in (1.0, 2.0, 5.0, 10.0) if factor * power >= rough)
    return [round(place * step, 10) for place in range(math.floor(most / step + 1e-9) + 1)]
