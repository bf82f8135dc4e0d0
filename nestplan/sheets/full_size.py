"""Full-size sheets: every piece of a job at 1:1 on paper, several on a sheet or one over several sheets.

Each sheet carries a 100 mm and a 4 in gauge to check the printer, tiled pieces a map and crosses.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.drawing.clipping import clipped
from nestplan.drawing.label_placement import centred_box
from nestplan.drawing.pages import MARGIN, Booklet, Page, Paper, paper_named
from nestplan.drawing.primitives import Box, Picture, Points, moved
from nestplan.drawing.shelf_packing import packed_on_shelves
from nestplan.drawing.tiling import Cross, Tiling, tiled
from nestplan.geometry.pose import Pose
from nestplan.model import Job, Plan
from nestplan.sheets.captioned_template import (
    CaptionedTemplate,
    outermost_ring,
    with_caption_below,
    with_caption_beside,
    with_caption_inside,
    write_caption,
)
from nestplan.sheets.full_size_frame import (
    FOOT,
    HEAD,
    TileMap,
    draw_cross,
    draw_first_page,
    draw_frame,
    draw_tile_head,
)
from nestplan.sheets.piece_layers import PieceLayers, piece_layers, planned_overcuts
from nestplan.sheets.piece_template import Template, draw_template, write_inside
from nestplan.sheets.unit_formatting import LengthUnit, UnitFormatter

__all__ = ["FullSizeSheets", "PieceOnPage", "full_size_sheets"]

_GAP = 6.0
"""Between templates on one sheet, mm."""
_EDGE = 0.5
"""Room round the outermost line of a tiled template, so that the line is whole, mm."""
_MOST_TRIED = 30
"""Templates tried at most for the room that the first page leaves."""
_TURN = 5
"""Steps in which a large template is turned to find the fewest sheets, degrees."""


@dataclass(frozen=True)
class PieceOnPage:
    """Where a piece's own origin lies on a page, mm from the page's lower left corner, and how it is turned.

    `layers` are those that the template serves. A tiled piece is laid once on each of its pages; `tile` and `crosses`
    then say which tile it is.
    """

    piece: str
    layers: tuple[str, ...]
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


@dataclass(frozen=True)
class TiledTemplate:
    """A template over several sheets, from the template's own lower left corner: `x`, `y` is the piece's origin, mm."""

    template: Template
    tiling: Tiling
    x: float
    y: float


def full_size_sheets(
    job: Job,
    plan: Plan | None = None,
    *,
    paper: str = "a4",
    roll_width: float | None = None,
    units: LengthUnit = "mm",
) -> FullSizeSheets:
    """Every piece of the job at 1:1: small ones together on a sheet, large ones on the fewest tiles, with a first page
    that says how to print and check them. With a plan the widest overcut drawn is the one that it gave.

    Raises InputError for an unknown paper.
    """
    sheet, formatter = paper_named(paper, roll_width=roll_width), UnitFormatter(units)
    window = (sheet.width - 2 * MARGIN, sheet.height - 2 * MARGIN - HEAD - FOOT)
    drawn = partial(draw_template, job, formatter=formatter, planned=planned_overcuts(plan))
    small: list[CaptionedTemplate] = []
    large: list[TiledTemplate] = []
    for article in job.articles:
        for piece in article.pieces:
            for subject in piece_layers(article, piece):
                captioned = _on_one_sheet(subject, drawn, window)
                if captioned is not None:
                    small.append(captioned)
                else:
                    large.append(_on_tiles(subject, drawn, window))
    title = f"Full-size sheets: {job.name}"
    pages = [Page(sheet.width, sheet.height)] if not sheet.roll else [Page(sheet.width, 297.0)]
    laid: list[PieceOnPage] = []
    strips = any(article.strips for article in job.articles)
    if small and not large and not sheet.roll:
        room = draw_first_page(pages[0], job, (), strips=strips)
        laid.extend(_add_to_first_page(pages[0], small, room, window))
    for shelf in packed_on_shelves(_sizes(small), *window, _GAP):
        laid.extend(_add_shared_page(pages, sheet, [(small[index], x, top) for index, x, top in shelf]))
    first_pages = []
    for tiled_template in large:
        first_pages.append(len(pages) + 1)
        laid.extend(_add_tiles(pages, sheet, tiled_template))
    maps = [
        TileMap(
            each.template.subject.title,
            outermost_ring(each.template) + np.array((each.x, each.y)),
            each.tiling,
            first,
        )
        for each, first in zip(large, first_pages, strict=True)
    ]
    if large or sheet.roll or not laid:
        draw_first_page(pages[0], job, maps, strips=strips)
    for number, page in enumerate(pages, start=1):
        draw_frame(page, title, number, len(pages))
    return FullSizeSheets(Booklet(title, pages), tuple(laid))


def _on_one_sheet(
    subject: PieceLayers, drawn: Callable[..., Template], window: tuple[float, float]
) -> CaptionedTemplate | None:
    """The template with its words and its caption inside, below or beside it, whichever is flattest; None where no
    sheet holds both."""
    found: list[CaptionedTemplate] = []
    for turn in (0.0, 90.0):
        for place in (with_caption_inside, with_caption_below, partial(with_caption_beside, width=window[0])):
            # Each writes on a template of its own.
            template = drawn(subject, turn=turn)
            write_inside(template)
            block = place(template)
            if block is not None and block.width <= window[0] and block.height <= window[1]:
                found.append(block)
    return min(found, key=lambda block: (round(block.height, 1), block.template.turn), default=None)


def _sizes(blocks: Sequence[CaptionedTemplate]) -> list[tuple[float, float]]:
    return [(block.width, block.height) for block in blocks]


def _add_to_first_page(
    page: Page, small: list[CaptionedTemplate], room: Box, window: tuple[float, float]
) -> list[PieceOnPage]:
    """Lay the template there, and take it out of those that are left, that saves most sheets; none where none fits."""
    fitting = [
        block for block in small if block.width <= room[2] - room[0] and block.height <= room[3] - room[1]
    ]
    if not fitting:
        return []

    def sheets_without(block: CaptionedTemplate) -> tuple[int, float]:
        others = [other for other in small if other is not block]
        return len(packed_on_shelves(_sizes(others), *window, _GAP)), -block.height

    chosen = min(sorted(fitting, key=lambda block: -block.height)[:_MOST_TRIED], key=sheets_without)
    small.remove(chosen)
    x, y = room[2] - chosen.width, room[3] - chosen.height
    page.picture.add(moved(chosen.picture(), x, y))
    return [PieceOnPage(*_named(chosen.template), 1, x + chosen.x, y + chosen.y, chosen.template.turn)]


def _on_tiles(
    subject: PieceLayers, drawn: Callable[..., Template], window: tuple[float, float]
) -> TiledTemplate:
    """The template turned so that it needs the fewest sheets, with its words and, where there is room, its caption."""
    outline = outermost_ring(drawn(subject))

    def count(turn: float) -> tuple[int, bool, float]:
        ring = Pose(0.0, 0.0, turn).apply(outline)
        return len(_tiling(ring, window).tiles), turn % 90.0 != 0.0, turn

    template = drawn(subject, turn=min(map(float, range(0, 180, _TURN)), key=count))
    ring = outermost_ring(template)
    shift = _EDGE - ring.min(axis=0)
    tiling = _tiling(ring, window)
    windows = [_shifted(each.window, -shift) for each in tiling.tiles]
    crosses = [centred_box(cross.x - shift[0], cross.y - shift[1], 9.0, 9.0) for cross in tiling.crosses]
    write_inside(template, windows, crosses)
    write_caption(template, windows, crosses)
    return TiledTemplate(template, tiling, float(shift[0]), float(shift[1]))


def _tiling(ring: Points, window: tuple[float, float]) -> Tiling:
    """Tiles for what lies inside a ring, from its own lower left corner; those that it does not reach are left out."""
    low, high = ring.min(axis=0), ring.max(axis=0)
    shape = shapely.make_valid(shapely.Polygon(ring - low + _EDGE)).buffer(_EDGE)
    width, height = (high - low + 2.0 * _EDGE).tolist()
    return tiled(
        (0.0, 0.0, width, height), *window, needed=lambda box: bool(shape.intersects(shapely.box(*box)))
    )


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
            PieceOnPage(*_named(block.template), len(pages), x + block.x, y + block.y, block.template.turn)
        )
    return laid


def _add_tiles(pages: list[Page], sheet: Paper, each: TiledTemplate) -> list[PieceOnPage]:
    laid = []
    picture = Picture()
    picture.add(moved(each.template.picture, each.x, each.y))
    for tile in each.tiling.tiles:
        page = Page(sheet.width, sheet.height)
        pages.append(page)
        x, y = MARGIN - tile.window[0], MARGIN + FOOT - tile.window[1]
        mine = [item for item in picture if _belongs(item.layer, tile.number)]
        page.picture.add(moved(clipped(mine, tile.window), x, y))
        crosses = tuple(
            Cross(cross.number, cross.x + x, cross.y + y) for cross in each.tiling.crosses_on(tile)
        )
        for cross in crosses:
            draw_cross(page.picture, cross.x, cross.y, cross.number)
        draw_tile_head(page, each.template.subject.title, each.tiling, tile)
        laid.append(
            PieceOnPage(
                *_named(each.template),
                len(pages),
                x + each.x,
                y + each.y,
                each.template.turn,
                tile.number,
                crosses,
            )
        )
    return laid


def _belongs(layer: str, number: int) -> bool:
    """Whether what lies on this layer of a template is shown on the tile of that number."""
    base, _, own = layer.partition(" ")
    return base not in ("names", "caption") or own in ("", str(number))


def _named(template: Template) -> tuple[str, tuple[str, ...]]:
    return template.piece.name, tuple(cut.layer for cut in template.subject.cuts)
