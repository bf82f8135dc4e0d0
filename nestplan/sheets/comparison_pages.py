"""A page of small pictures: several hides side by side at one scale, each with its plan and its figures.

What the figures are and how the hides are ranked is decided elsewhere; here they are words under a picture.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from nestplan.drawing.lettering import shortened
from nestplan.drawing.pages import MARGIN, Booklet, Page, Paper, paper_named
from nestplan.drawing.pdf import write_pdf
from nestplan.drawing.png import write_png
from nestplan.drawing.primitives import LineStyle, bounds_of, moved
from nestplan.model import Hide, Job, Plan
from nestplan.sheets.cutting_order import cutting_steps
from nestplan.sheets.hide_drawing import HideView, draw_flaws, draw_hide, draw_placements, standing_turn
from nestplan.sheets.hide_styles import LIGHT_STYLE, HideStyle
from nestplan.sheets.legend import scale_bar
from nestplan.sheets.unit_formatting import LengthUnit

__all__ = ["ComparedHide", "comparison_booklet", "write_comparison_pages"]

_HEAD, _FOOT, _GUTTER = 12.0, 8.0, 6.0
"""Height of the page's head and foot, distance of pictures, mm."""
_TITLE, _LINE = 3.6, 2.8
"""Size of the letters of a hide's name and of its figures, mm."""


@dataclass(frozen=True)
class ComparedHide:
    """One hide of a comparison: with its plan (None: nothing can be cut from it) and a few lines of figures."""

    hide: Hide
    job: Job
    plan: Plan | None
    title: str
    lines: tuple[str, ...]


def comparison_booklet(
    compared: Sequence[ComparedHide],
    paper: Paper,
    title: str,
    *,
    units: LengthUnit = "mm",
    columns: int = 2,
    style: HideStyle = LIGHT_STYLE,
) -> Booklet:
    """The hides in the order given, `columns` to a row, all drawn at one scale, on as many pages as they need."""
    width = (paper.width - 2 * MARGIN - (columns - 1) * _GUTTER) / columns
    lines = max((len(each.lines) for each in compared), default=0)
    words = _TITLE * 1.5 + lines * _LINE * 1.35 + _GUTTER
    sizes = [_size(each.hide) for each in compared]
    rows = _rows(sizes, width, words, paper.height - 2 * MARGIN - _HEAD - _FOOT)
    ratio = max(
        max(wide for wide, _ in sizes) / width,
        max(high for _, high in sizes) / ((paper.height - 2 * MARGIN - _HEAD - _FOOT) / rows - words),
    )
    height = (paper.height - 2 * MARGIN - _HEAD - _FOOT) / rows
    pages: list[Page] = []
    each_page = rows * columns
    count = math.ceil(len(compared) / each_page)
    for number, each in enumerate(compared):
        place = number % each_page
        if place == 0:
            pages.append(_page(paper, title, len(pages) + 1, count, ratio, units, style))
        left = MARGIN + (place % columns) * (width + _GUTTER)
        top = paper.height - MARGIN - _HEAD - (place // columns) * height
        _draw(pages[-1], each, left, top, width, ratio, style)
    return Booklet(title, pages)


def write_comparison_pages(
    compared: Sequence[ComparedHide], folder: Path, title: str, *, units: LengthUnit = "mm"
) -> list[Path]:
    """compare.pdf, and compare.png for the first page, compare-2.png … for the others; the files written.

    The folder must be there.

    Raises InputError if a file cannot be written.
    """
    booklet = comparison_booklet(
        compared, paper_named("letter" if units == "in" else "a4"), title, units=units
    )
    written = [folder / "compare.pdf"]
    write_pdf(booklet, written[0])
    for number, page in enumerate(booklet.pages, start=1):
        written.append(folder / ("compare.png" if number == 1 else f"compare-{number}.png"))
        write_png(page, written[-1])
    return written


def _page(
    paper: Paper, title: str, number: int, count: int, ratio: float, units: LengthUnit, style: HideStyle
) -> Page:
    page = Page(paper.width, paper.height, background=style.background)
    top = paper.height - MARGIN - 4.5
    page.picture.text(MARGIN, top, title, 4.5, bold=True, color=style.ink, layer="titles")
    page.picture.text(
        paper.width - MARGIN,
        top,
        f"page {number} of {count}",
        3.0,
        anchor="right",
        color=style.faint,
        layer="titles",
    )
    page.picture.line(
        [(MARGIN, top - 2.5), (paper.width - MARGIN, top - 2.5)], LineStyle(0.25, style.ink), layer="titles"
    )
    words = f"drawn 1 : {ratio:.1f}, grain side up"
    page.picture.text(MARGIN, MARGIN + 1.0, words, 3.0, color=style.faint, layer="titles")
    scale_bar(page.picture, paper.width - MARGIN, MARGIN + 1.0, ratio, units, style)
    return page


def _draw(
    page: Page, each: ComparedHide, left: float, top: float, width: float, ratio: float, style: HideStyle
) -> None:
    base = top - _TITLE
    title = shortened(each.title, _TITLE, width, True)
    page.picture.text(left, base, title, _TITLE, bold=True, color=style.ink, layer="titles")
    for line in each.lines:
        base -= _LINE * 1.35
        page.picture.text(left, base, shortened(line, _LINE, width), _LINE, color=style.ink, layer="figures")
    drawing = draw_hide(HideView(standing_turn(each.hide), ratio, style), each.hide)
    if each.plan is not None:
        steps = cutting_steps(each.plan, each.job, each.hide)
        draw_placements(drawing, each.plan, each.job, steps, anchors=False)
    draw_flaws(drawing)
    xmin, _, _, ymax = bounds_of(drawing.picture.on("hide"))
    page.picture.add(moved(drawing.picture, left - xmin / ratio, base - 2.0 - ymax / ratio, 1.0 / ratio))


def _size(hide: Hide) -> tuple[float, float]:
    width, height = (hide.ring.max(axis=0) - hide.ring.min(axis=0)).tolist()
    return (height, width) if standing_turn(hide) else (width, height)


def _rows(sizes: Sequence[tuple[float, float]], width: float, words: float, room: float) -> int:
    """As many rows on a page as leave the pictures as wide as their column."""
    ratio = max(wide for wide, _ in sizes) / width
    tallest = max(high for _, high in sizes) / ratio
    return max(1, math.floor(room / (tallest + words)))
