"""Full-size sheets: every piece of a job at 1:1 on paper, several on a sheet or one over several sheets.

Each sheet carries a 100 mm and a 4 in gauge to check the printer, tiled pieces a map and crosses. What is on a
template is said in `templates`, how tiles meet in `tiling`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from nestplan.geometry.units import MM_PER_INCH
from nestplan.model import Job
from nestplan.sheets.clipping import Window, clipped
from nestplan.sheets.lettering import shortened, text_width, wrapped
from nestplan.sheets.measures import LengthUnit, Measures
from nestplan.sheets.pages import MARGIN, Booklet, Page, Paper, paper_named
from nestplan.sheets.primitives import Fill, Sketch, Stroke, moved
from nestplan.sheets.spots import box_at
from nestplan.sheets.templates import Template, draw_template, write_inside
from nestplan.sheets.tiling import Cross, Tile, Tiling, tile

__all__ = ["FullSize", "LaidPiece", "full_size_sheets", "write_full_size"]

HEAD, FOOT = 9.0, 13.5
_CAPTION, _LINE = 2.9, 3.9
_GAP = 6.0
_LEAST_WIDTH = 62.0


@dataclass(frozen=True)
class LaidPiece:
    """Where a piece's own origin lies on a page, mm from the page's lower left corner, and how it is turned.

    A tiled piece is laid once on each of its pages; `tile` and `crosses` then say which tile it is.
    """

    piece: str
    page: int
    x: float
    y: float
    turn: float
    tile: int = 0
    crosses: tuple[Cross, ...] = ()


@dataclass(frozen=True)
class FullSize:
    """The sheets, and where every piece lies on them."""

    booklet: Booklet
    laid: tuple[LaidPiece, ...]


@dataclass(frozen=True)
class _Block:
    """A template with its caption as one rectangle: mm from the rectangle's lower left corner."""

    template: Template
    width: float
    height: float
    x: float
    y: float
    caption: tuple[tuple[str, bool], ...]
    caption_x: float
    caption_top: float


def write_full_size(
    job: Job,
    path: str | Path,
    *,
    paper: str = "a4",
    roll_width: float | None = None,
    units: LengthUnit = "mm",
) -> FullSize:
    """Write the sheets as PDF; returns them with the place of every piece."""
    from nestplan.sheets.paper_pdf import write_pdf

    sheets = full_size_sheets(job, paper=paper, roll_width=roll_width, units=units)
    write_pdf(sheets.booklet, path)
    return sheets


def full_size_sheets(
    job: Job, *, paper: str = "a4", roll_width: float | None = None, units: LengthUnit = "mm"
) -> FullSize:
    """Every piece of the job at 1:1: small ones together on a sheet, large ones tiled, with a first page that
    says how to print and check them. Errors: InputError for an unknown paper."""
    sheet, measures = paper_named(paper, roll_width=roll_width), Measures(units)
    window = (sheet.width - 2 * MARGIN, sheet.height - 2 * MARGIN - HEAD - FOOT)
    small: list[_Block] = []
    large: list[_Block] = []
    for article in job.articles:
        for piece in article.pieces:
            templates = [draw_template(job, article, piece, measures, turn=turn) for turn in (0.0, 90.0)]
            turned = [_block(template) for template in templates]
            beside = [block for template in templates if (block := _block_beside(template, window[0]))]
            fitting = [block for block in turned if block.width <= window[0] and block.height <= window[1]]
            fitting = fitting or [block for block in beside if block.height <= window[1]]
            if fitting:
                chosen = min(fitting, key=lambda block: (block.height, block.template.turn))
                write_inside(chosen.template)
                small.append(chosen)
            else:
                large.append(
                    min(turned, key=lambda block: (len(_tiling(block, window).tiles), block.template.turn))
                )
    title = f"Full-size sheets: {job.name}"
    pages = [Page(sheet.width, sheet.height)] if not sheet.roll else [Page(sheet.width, 297.0)]
    laid: list[LaidPiece] = []
    for shelf in _shelves(small, window):
        laid.extend(_set_together(pages, sheet, shelf))
    tilings: list[tuple[_Block, Tiling, int]] = []
    for block in large:
        tiling = _tiling(block, window)
        shift = np.array((block.x, block.y))
        windows = [_shifted(each.window, -shift) for each in tiling.tiles]
        crosses = [box_at(cross.x - block.x, cross.y - block.y, 9.0, 9.0) for cross in tiling.crosses]
        write_inside(block.template, windows, crosses)
        tilings.append((block, tiling, len(pages) + 1))
        laid.extend(_set_tiles(pages, sheet, block, tiling))
    _first_page(pages[0], job, tilings, strips=any(article.strips for article in job.articles))
    for number, page in enumerate(pages, start=1):
        _frame(page, title, number, len(pages))
    return FullSize(Booklet(title, pages), tuple(laid))


def _block(template: Template) -> _Block:
    """The caption below the template."""
    xmin, ymin, xmax, ymax = template.sketch.bounds()
    width = max(xmax - xmin, _LEAST_WIDTH)
    # A caption no wider than this stays whole on the first sheet of a tiled piece.
    caption = _wrapped(template, min(width, 120.0))
    below = len(caption) * _LINE + 3.0
    x, y = (width - (xmax - xmin)) / 2 - xmin, below - ymin
    return _Block(template, width, below + (ymax - ymin) + 1.0, x, y, caption, 0.0, len(caption) * _LINE)


def _block_beside(template: Template, width: float) -> _Block | None:
    """The caption right of the template, for a piece that leaves no height for it; None if it is too wide."""
    xmin, ymin, xmax, ymax = template.sketch.bounds()
    column = width - (xmax - xmin) - 4.0
    if column < 45.0:
        return None
    caption = _wrapped(template, column)
    height = max(ymax - ymin, len(caption) * _LINE) + 1.0
    return _Block(
        template, width, height, -xmin, height - 1.0 - ymax, caption, xmax - xmin + 4.0, height - 1.0
    )


def _wrapped(template: Template, column: float) -> tuple[tuple[str, bool], ...]:
    return tuple(
        (line, bold) for words, bold in template.caption for line in wrapped(words, _CAPTION, column, bold)
    )


def _drawn(block: _Block) -> Sketch:
    """The block's template and caption, from the block's lower left corner."""
    sketch = Sketch()
    sketch.add(moved(block.template.sketch, block.x, block.y))
    for number, (line, bold) in enumerate(block.caption):
        y = block.caption_top - (number + 0.75) * _LINE
        sketch.text(block.caption_x, y, line, _CAPTION, bold=bold, layer="caption")
    return sketch


def _tiling(block: _Block, window: tuple[float, float]) -> Tiling:
    return tile((0.0, 0.0, block.width, block.height), *window, floor=len(block.caption) * _LINE)


def _shifted(window: Window, by: NDArray[np.float64]) -> Window:
    dx, dy = float(by[0]), float(by[1])
    return window[0] + dx, window[1] + dy, window[2] + dx, window[3] + dy


def _shelves(
    blocks: Sequence[_Block], window: tuple[float, float]
) -> list[list[tuple[_Block, float, float]]]:
    """The blocks on as few sheets as a shelf rule finds, tallest first: per sheet (block, x, y from the top)."""
    sheets: list[list[tuple[_Block, float, float]]] = []
    shelves: list[list[tuple[float, float, float]]] = []
    for block in sorted(blocks, key=lambda block: -block.height):
        spot = None
        for number, open_shelves in enumerate(shelves):
            for index, (top, height, used) in enumerate(open_shelves):
                if block.height <= height and used + block.width <= window[0]:
                    spot = (number, used, top)
                    open_shelves[index] = (top, height, used + block.width + _GAP)
                    break
            if spot is None:
                top = sum(height + _GAP for _, height, _ in open_shelves)
                if top + block.height <= window[1]:
                    spot = (number, 0.0, top)
                    open_shelves.append((top, block.height, block.width + _GAP))
            if spot is not None:
                break
        if spot is None:
            sheets.append([])
            shelves.append([(0.0, block.height, block.width + _GAP)])
            spot = (len(sheets) - 1, 0.0, 0.0)
        sheets[spot[0]].append((block, spot[1], spot[2]))
    return sheets


def _set_together(
    pages: list[Page], sheet: Paper, blocks: Sequence[tuple[_Block, float, float]]
) -> list[LaidPiece]:
    deep = max(top + block.height for block, _, top in blocks)
    page = Page(sheet.width, deep + 2 * MARGIN + HEAD + FOOT if sheet.roll else sheet.height)
    pages.append(page)
    laid = []
    for block, across, top in blocks:
        x, y = MARGIN + across, page.height - MARGIN - HEAD - top - block.height
        page.sketch.add(moved(_drawn(block), x, y))
        laid.append(
            LaidPiece(block.template.piece.name, len(pages), x + block.x, y + block.y, block.template.turn)
        )
    return laid


def _set_tiles(pages: list[Page], sheet: Paper, block: _Block, tiling: Tiling) -> list[LaidPiece]:
    laid = []
    sketch = _drawn(block)
    for each in tiling.tiles:
        page = Page(sheet.width, sheet.height)
        pages.append(page)
        x, y = MARGIN - each.window[0], MARGIN + FOOT - each.window[1]
        mine = [
            item
            for item in sketch
            if item.layer in ("names", f"names {each.number}") or "names" not in item.layer
        ]
        page.sketch.add(moved(clipped(mine, each.window), x, y))
        for cross in tiling.crosses_on(each):
            _cross(page.sketch, cross.x + x, cross.y + y, cross.number)
        _tile_head(page, block, tiling, each)
        laid.append(
            LaidPiece(
                block.template.piece.name,
                len(pages),
                x + block.x,
                y + block.y,
                block.template.turn,
                each.number,
                tuple(Cross(c.number, c.x + x, c.y + y) for c in tiling.crosses_on(each)),
            )
        )
    return laid


def _cross(sketch: Sketch, x: float, y: float, number: int) -> None:
    thin = Stroke(0.13)
    sketch.line([(x - 4.0, y), (x + 4.0, y)], thin, layer="crosses")
    sketch.line([(x, y - 4.0), (x, y + 4.0)], thin, layer="crosses")
    sketch.circle(x, y, 1.8, thin, layer="crosses")
    sketch.text(x + 2.0, y + 1.6, str(number), 2.3, layer="crosses")


def _tile_head(page: Page, block: _Block, tiling: Tiling, each: Tile) -> None:
    """Which tile this is, in words and as a small map in the head's right corner."""
    top = page.height - MARGIN
    number = f": sheet {each.number} of {len(tiling.tiles)}"
    room = page.width - 2 * MARGIN - 62.0 - text_width(number, 3.0, True)
    words = shortened(block.template.piece.name, 3.0, room, True) + number
    page.sketch.text(MARGIN, top - 7.0, words, 3.0, bold=True, layer="head")
    cell = min(3.0, 3.2 / tiling.rows, 24.0 / tiling.columns)
    right, low = page.width - MARGIN - 30.0, top - 7.4
    _map(page.sketch, tiling, right - tiling.columns * cell, low, cell, cell, current=each.number)


def _map(
    sketch: Sketch, tiling: Tiling, x: float, y: float, width: float, height: float, *, current: int = 0
) -> None:
    for each in tiling.tiles:
        left, low = x + each.column * width, y + (tiling.rows - 1 - each.row) * height
        ring = [(left, low), (left + width, low), (left + width, low + height), (left, low + height)]
        fill = Fill("#000000") if each.number == current else None
        sketch.area(ring, Stroke(0.15), fill, layer="map")


def _first_page(page: Page, job: Job, tilings: Sequence[tuple[_Block, Tiling, int]], *, strips: bool) -> None:
    """How to print and check the sheets, what the lines mean, and a map of every tiled piece."""
    left, width = MARGIN, page.width - 2 * MARGIN
    y = page.height - MARGIN - HEAD - 7.0
    steps = [
        "Print at actual size (100 %), without “fit to page”. Measure both gauges below, the upright one too: if they "
        "are not right to half a millimetre, the pieces are not either.",
        "Solid line: cut line. Dashed line: finished line, trimmed to after gluing. Where there is no overcut the "
        "solid line is both. The thin dash-dot line is the edge of a part with wishes of its own.",
        "Circle with a cross: punch a hole of that size. Thick bar with ends: cut a slit of that length. Diamond "
        "with a dot: mark only. The letter beside it is explained under the piece.",
        "P and Q are the points that the cut sheet’s table measures to. All pieces are seen on their grain side.",
        "Tiled pieces: lay neighbouring sheets over each other until the crosses with the same number meet, then "
        "tape them. The maps below say where each sheet belongs.",
    ]
    if strips:
        steps.append(
            "Straps and lace have no template: they are cut with a rule from the cut sheet’s measures."
        )
    page.sketch.text(left, y, shortened(job.name, 6.0, width, True), 6.0, bold=True)
    y -= 8.0
    for step in steps:
        for number, line in enumerate(wrapped(step, 3.1, width - 5.0)):
            if number == 0:
                page.sketch.text(left, y, "–", 3.1)
            page.sketch.text(left + 4.0, y, line, 3.1)
            y -= 4.3
        y -= 0.8
    y -= 2.0
    page.sketch.line([(left + 3.0, y - 100.0), (left + 3.0, y)], Stroke(0.25), layer="gauge")
    for end in (y - 100.0, y):
        page.sketch.line([(left + 1.0, end), (left + 5.0, end)], Stroke(0.25), layer="gauge")
    page.sketch.text(left + 6.0, y - 51.0, "100 mm", 3.0, layer="gauge")
    _maps(page.sketch, tilings, left + 28.0, y, width - 28.0, y - MARGIN - FOOT - 2.0)


def _maps(
    sketch: Sketch,
    tilings: Sequence[tuple[_Block, Tiling, int]],
    left: float,
    top: float,
    width: float,
    height: float,
) -> None:
    """Each tiled piece small, with its sheets' borders and page numbers over it."""
    if not tilings:
        return
    columns = min(len(tilings), 3)
    rows = -(-len(tilings) // columns)
    cell, tall = width / columns, height / rows
    for number, (block, tiling, first) in enumerate(tilings):
        x0, y0 = left + (number % columns) * cell, top - (number // columns) * tall
        low = min(each.window[0] for each in tiling.tiles), min(each.window[1] for each in tiling.tiles)
        high = max(each.window[2] for each in tiling.tiles), max(each.window[3] for each in tiling.tiles)
        scale = min((cell - 6.0) / (high[0] - low[0]), (tall - 8.0) / (high[1] - low[1]))
        if scale <= 0.0:
            continue
        dx, dy = x0 - low[0] * scale, y0 - 5.0 - high[1] * scale
        outline = block.template.at(block.template.piece.ring) + np.array((block.x, block.y))
        sketch.area(outline * scale + np.array((dx, dy)), Stroke(0.3), layer="map")
        for each in tiling.tiles:
            xmin, ymin, xmax, ymax = (value * scale for value in each.window)
            ring = [
                (xmin + dx, ymin + dy),
                (xmax + dx, ymin + dy),
                (xmax + dx, ymax + dy),
                (xmin + dx, ymax + dy),
            ]
            sketch.area(ring, Stroke(0.13, "#000000", (1.0, 0.8)), layer="map")
            # In the middle of the tile's own share: tiles themselves may overlap by much.
            x = low[0] + (each.column + 0.5) / tiling.columns * (high[0] - low[0])
            y = low[1] + (tiling.rows - each.row - 0.5) / tiling.rows * (high[1] - low[1])
            words = f"page {first + each.number - 1}"
            size = min(3.0, 0.9 * (high[0] - low[0]) * scale / tiling.columns / text_width(words, 1.0))
            sketch.text(
                x * scale + dx,
                y * scale + dy - size / 3,
                words,
                size,
                anchor="middle",
                halo="#ffffff",
                layer="map",
            )
        name = shortened(block.template.piece.name, 3.0, cell - 6.0, True)
        sketch.text(x0, y0 - 3.0, name, 3.0, bold=True, layer="map")


def _frame(page: Page, title: str, number: int, count: int) -> None:
    """The head with the page's number, and the gauges in the foot."""
    top = page.height - MARGIN
    side = f"page {number} of {count}"
    page.sketch.text(page.width - MARGIN, top - 3.0, side, 3.0, anchor="right", layer="head")
    room = page.width - 2 * MARGIN - text_width(side, 3.0) - 5.0
    page.sketch.text(MARGIN, top - 3.0, shortened(title, 3.0, room, True), 3.0, bold=True, layer="head")
    page.sketch.line([(MARGIN, top - 7.8), (page.width - MARGIN, top - 7.8)], Stroke(0.3), layer="head")
    for low, length, words in ((7.0, 100.0, "100 mm"), (1.5, 4.0 * MM_PER_INCH, "4 in")):
        y = MARGIN + low
        stroke = Stroke(0.25)
        page.sketch.line([(MARGIN + 0.2, y), (MARGIN + 0.2 + length, y)], stroke, layer="gauge")
        for x in (MARGIN + 0.2, MARGIN + 0.2 + length):
            page.sketch.line([(x, y - 1.2), (x, y + 2.0)], stroke, layer="gauge")
        steps = 10 if words == "100 mm" else 4
        for step in range(1, steps):
            x = MARGIN + 0.2 + length * step / steps
            page.sketch.line([(x, y), (x, y + 1.2)], Stroke(0.13), layer="gauge")
        page.sketch.text(MARGIN + length + 3.0, y - 0.6, words, 3.0, layer="gauge")
    words = "print at 100 %; both gauges must measure right"
    if page.width - 2 * MARGIN - 118.0 > text_width(words, 2.3):
        page.sketch.text(page.width - MARGIN, MARGIN + 4.0, words, 2.3, anchor="right", layer="gauge")
