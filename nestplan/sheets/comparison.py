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
from nestplan.drawing.primitives import Stroke, bounds_of, moved
from nestplan.model import Hide, Job, Plan
from nestplan.sheets.cutting_order import cutting_order
from nestplan.sheets.drawing import View, draw_flaws, draw_hide, draw_placements, standing_turn
from nestplan.sheets.legend import scale_bar
from nestplan.sheets.measures import LengthUnit
from nestplan.sheets.palette import LIGHT, Look

__all__ = ["ComparedHide", "comparison_booklet", "write_comparison_pages"]

_HEAD, _FOOT, _GUTTER = 12.0, 8.0, 6.0
_TITLE, _LINE = 3.6, 2.8


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
    look: Look = LIGHT,
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
            pages.append(_page(paper, title, len(pages) + 1, count, ratio, units, look))
        left = MARGIN + (place % columns) * (width + _GUTTER)
        top = paper.height - MARGIN - _HEAD - (place // columns) * height
        _draw(pages[-1], each, left, top, width, ratio, look)
    return Booklet(title, pages)


def write_comparison_pages(
    compared: Sequence[ComparedHide], folder: Path, title: str, *, units: LengthUnit = "mm"
) -> list[Path]:
    """compare.pdf, and compare.png for the first page, compare-2.png … for the others; the files written.

    The folder must be there. Errors: InputError where a file cannot be written.
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
    paper: Paper, title: str, number: int, count: int, ratio: float, units: LengthUnit, look: Look
) -> Page:
    page = Page(paper.width, paper.height, background=look.background)
    top = paper.height - MARGIN - 4.5
    page.sketch.text(MARGIN, top, title, 4.5, bold=True, color=look.ink, layer="titles")
    page.sketch.text(
        paper.width - MARGIN,
        top,
        f"page {number} of {count}",
        3.0,
        anchor="right",
        color=look.faint,
        layer="titles",
    )
    page.sketch.line(
        [(MARGIN, top - 2.5), (paper.width - MARGIN, top - 2.5)], Stroke(0.25, look.ink), layer="titles"
    )
    words = f"drawn 1 : {ratio:.1f}, grain side up"
    page.sketch.text(MARGIN, MARGIN + 1.0, words, 3.0, color=look.faint, layer="titles")
    scale_bar(page.sketch, paper.width - MARGIN, MARGIN + 1.0, ratio, units, look)
    return page


def _draw(
    page: Page, each: ComparedHide, left: float, top: float, width: float, ratio: float, look: Look
) -> None:
    base = top - _TITLE
    title = shortened(each.title, _TITLE, width, True)
    page.sketch.text(left, base, title, _TITLE, bold=True, color=look.ink, layer="titles")
    for line in each.lines:
        base -= _LINE * 1.35
        page.sketch.text(left, base, shortened(line, _LINE, width), _LINE, color=look.ink, layer="figures")
    drawing = draw_hide(View(standing_turn(each.hide), ratio, look), each.hide)
    if each.plan is not None:
        order = cutting_order(each.plan, each.job, each.hide)
        draw_placements(drawing, each.plan, each.job, order, anchors=False)
    draw_flaws(drawing)
    xmin, _, _, ymax = bounds_of(drawing.sketch.on("hide"))
    page.sketch.add(moved(drawing.sketch, left - xmin / ratio, base - 2.0 - ymax / ratio, 1.0 / ratio))


def _size(hide: Hide) -> tuple[float, float]:
    width, height = (hide.ring.max(axis=0) - hide.ring.min(axis=0)).tolist()
    return (height, width) if standing_turn(hide) else (width, height)


def _rows(sizes: Sequence[tuple[float, float]], width: float, words: float, room: float) -> int:
    """As many rows on a page as leave the pictures as wide as their column."""
    ratio = max(wide for wide, _ in sizes) / width
    tallest = max(high for _, high in sizes) / ratio
    return max(1, math.floor(room / (tallest + words)))
