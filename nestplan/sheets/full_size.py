"""Full-size sheets: every piece of a job at 1:1 on paper, several on a sheet or one over several sheets.

Each sheet carries a 100 mm and a 4 in gauge to check the printer, tiled pieces a map and crosses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestplan.drawing.clipping import clipped
from nestplan.drawing.label_placement import centred_box
from nestplan.drawing.pages import MARGIN, Booklet, Page, Paper, paper_named
from nestplan.drawing.primitives import Box, moved
from nestplan.drawing.shelf_packing import packed_on_shelves
from nestplan.drawing.tiling import Cross, Tiling, tiled
from nestplan.model import Job
from nestplan.sheets.captioned_template import (
    CAPTION_LINE,
    CaptionedTemplate,
    with_caption_below,
    with_caption_beside,
)
from nestplan.sheets.full_size_frame import (
    FOOT,
    HEAD,
    draw_cross,
    draw_first_page,
    draw_frame,
    draw_tile_head,
)
from nestplan.sheets.piece_template import draw_template, write_inside
from nestplan.sheets.unit_formatting import LengthUnit, UnitFormatter

__all__ = ["FullSizeSheets", "PieceOnPage", "full_size_sheets"]

_GAP = 6.0
"""Between templates on one sheet, mm."""


@dataclass(frozen=True)
class PieceOnPage:
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
class FullSizeSheets:
    """The sheets, and where every piece lies on them."""

    booklet: Booklet
    laid: tuple[PieceOnPage, ...]


def full_size_sheets(
    job: Job, *, paper: str = "a4", roll_width: float | None = None, units: LengthUnit = "mm"
) -> FullSizeSheets:
    """Every piece of the job at 1:1: small ones together on a sheet, large ones tiled, with a first page that
    says how to print and check them.

    Raises InputError for an unknown paper.
    """
    sheet, formatter = paper_named(paper, roll_width=roll_width), UnitFormatter(units)
    window = (sheet.width - 2 * MARGIN, sheet.height - 2 * MARGIN - HEAD - FOOT)
    small: list[CaptionedTemplate] = []
    large: list[CaptionedTemplate] = []
    for article in job.articles:
        for piece in article.pieces:
            templates = [draw_template(job, article, piece, formatter, turn=turn) for turn in (0.0, 90.0)]
            turned = [with_caption_below(template) for template in templates]
            beside = [block for template in templates if (block := with_caption_beside(template, window[0]))]
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
    laid: list[PieceOnPage] = []
    for shelf in packed_on_shelves([(block.width, block.height) for block in small], *window, _GAP):
        laid.extend(_add_shared_page(pages, sheet, [(small[index], x, top) for index, x, top in shelf]))
    tilings: list[tuple[CaptionedTemplate, Tiling, int]] = []
    for block in large:
        tiling = _tiling(block, window)
        shift = np.array((block.x, block.y))
        windows = [_shifted(each.window, -shift) for each in tiling.tiles]
        crosses = [centred_box(cross.x - block.x, cross.y - block.y, 9.0, 9.0) for cross in tiling.crosses]
        write_inside(block.template, windows, crosses)
        tilings.append((block, tiling, len(pages) + 1))
        laid.extend(_add_tiles(pages, sheet, block, tiling))
    draw_first_page(pages[0], job, tilings, strips=any(article.strips for article in job.articles))
    for number, page in enumerate(pages, start=1):
        draw_frame(page, title, number, len(pages))
    return FullSizeSheets(Booklet(title, pages), tuple(laid))


def _tiling(block: CaptionedTemplate, window: tuple[float, float]) -> Tiling:
    return tiled((0.0, 0.0, block.width, block.height), *window, floor=len(block.caption) * CAPTION_LINE)


def _shifted(window: Box, by: NDArray[np.float64]) -> Box:
    dx, dy = float(by[0]), float(by[1])
    return window[0] + dx, window[1] + dy, window[2] + dx, window[3] + dy


def _add_shared_page(
    pages: list[Page], sheet: Paper, blocks: Sequence[tuple[CaptionedTemplate, float, float]]
) -> list[PieceOnPage]:
    deep = max(top + block.height for block, _, top in blocks)
    page = Page(sheet.width, deep + 2 * MARGIN + HEAD + FOOT if sheet.roll else sheet.height)
    pages.append(page)
    laid = []
    for block, across, top in blocks:
        x, y = MARGIN + across, page.height - MARGIN - HEAD - top - block.height
        page.picture.add(moved(block.picture(), x, y))
        laid.append(
            PieceOnPage(block.template.piece.name, len(pages), x + block.x, y + block.y, block.template.turn)
        )
    return laid


def _add_tiles(
    pages: list[Page], sheet: Paper, block: CaptionedTemplate, tiling: Tiling
) -> list[PieceOnPage]:
    laid = []
    picture = block.picture()
    for each in tiling.tiles:
        page = Page(sheet.width, sheet.height)
        pages.append(page)
        x, y = MARGIN - each.window[0], MARGIN + FOOT - each.window[1]
        mine = [
            item
            for item in picture
            if item.layer in ("names", f"names {each.number}") or "names" not in item.layer
        ]
        page.picture.add(moved(clipped(mine, each.window), x, y))
        for cross in tiling.crosses_on(each):
            draw_cross(page.picture, cross.x + x, cross.y + y, cross.number)
        draw_tile_head(page, block, tiling, each)
        laid.append(
            PieceOnPage(
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
