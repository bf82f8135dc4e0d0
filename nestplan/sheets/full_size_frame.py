"""What stands round the pieces on full-size sheets: heads, gauges, crosses, tile maps, and the first page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nestplan.drawing.lettering import shortened, text_width, wrapped
from nestplan.drawing.pages import MARGIN, Page
from nestplan.drawing.primitives import Box, Fill, LineStyle, Picture, Points
from nestplan.drawing.tiling import Tile, Tiling
from nestplan.geometry.units import MM_PER_INCH
from nestplan.model import Job

__all__ = ["FOOT", "HEAD", "TileMap", "draw_cross", "draw_first_page", "draw_frame", "draw_tile_head"]

HEAD, FOOT = 9.0, 13.5
"""Height of the head and of the foot with its gauges, mm."""


@dataclass(frozen=True, eq=False)
class TileMap:
    """A tiled piece for its map: its outline (n, 2) as the tiling has it, mm, and the page of its first tile."""

    title: str
    outline: Points
    tiling: Tiling
    first_page: int


def draw_cross(picture: Picture, x: float, y: float, number: int) -> None:
    thin = LineStyle(0.13)
    picture.line([(x - 4.0, y), (x + 4.0, y)], thin, layer="crosses")
    picture.line([(x, y - 4.0), (x, y + 4.0)], thin, layer="crosses")
    picture.circle(x, y, 1.8, thin, layer="crosses")
    picture.text(x + 2.0, y + 1.6, str(number), 2.3, layer="crosses")


def draw_tile_head(page: Page, title: str, tiling: Tiling, each: Tile) -> None:
    """Which tile this is, in words and as a small map in the head's right corner."""
    top = page.height - MARGIN
    number = f": sheet {each.number} of {len(tiling.tiles)}"
    room = page.width - 2 * MARGIN - 62.0 - text_width(number, 3.0, True)
    words = shortened(title, 3.0, room, True) + number
    page.picture.text(MARGIN, top - 7.0, words, 3.0, bold=True, layer="head")
    cell = min(3.0, 3.2 / tiling.rows, 24.0 / tiling.columns)
    right, low = page.width - MARGIN - 30.0, top - 7.4
    _map(page.picture, tiling, right - tiling.columns * cell, low, cell, cell, current=each.number)


def _map(
    picture: Picture, tiling: Tiling, x: float, y: float, width: float, height: float, *, current: int = 0
) -> None:
    for each in tiling.tiles:
        left, low = x + each.column * width, y + (tiling.rows - 1 - each.row) * height
        ring = [(left, low), (left + width, low), (left + width, low + height), (left, low + height)]
        fill = Fill("#000000") if each.number == current else None
        picture.area(ring, LineStyle(0.15), fill, layer="map")


def draw_first_page(page: Page, job: Job, maps: Sequence[TileMap], *, strips: bool) -> Box:
    """How to print and check the sheets, what the lines mean, and a map of every tiled piece; the room that is left
    beside the upright gauge where there are no maps, mm on the page."""
    left, width = MARGIN, page.width - 2 * MARGIN
    y = page.height - MARGIN - HEAD - 7.0
    steps = [
        "Print at actual size (100 %), without “fit to page”. Measure both gauges below, the upright one too: if they "
        "are not right to half a millimetre, the pieces are not either.",
        "Solid line: cut line, at the least overcut. Dotted line outside it: the widest overcut; the cut sheet says "
        "what each copy got. Dashed line: finished line, trimmed to after gluing. Where there is no overcut the solid "
        "line is both. The thin dash-dot line is the edge of a part with wishes of its own.",
        "Circle with a cross: punch a hole of that size. Thick bar with ends: cut a slit of that length. Diamond "
        "with a dot: mark only. Dashed circles, bars and openings are marked now and done through all layers once they "
        "are glued and trimmed. The letter beside it is explained by the piece.",
        "A piece whose layers are not treated alike has a template for each, named after its layer.",
        "P and Q are the points that the cut sheet’s table measures to. All pieces are seen on their grain side.",
        "Tiled pieces: lay neighbouring sheets over each other until the crosses with the same number meet, then "
        "tape them. The maps below say where each sheet belongs.",
    ]
    if strips:
        steps.append(
            "Straps and lace have no template: they are cut with a rule from the cut sheet’s measures."
        )
    page.picture.text(left, y, shortened(job.name, 6.0, width, True), 6.0, bold=True)
    y -= 8.0
    for step in steps:
        for number, line in enumerate(wrapped(step, 3.1, width - 5.0)):
            if number == 0:
                page.picture.text(left, y, "–", 3.1)
            page.picture.text(left + 4.0, y, line, 3.1)
            y -= 4.3
        y -= 0.8
    y -= 2.0
    page.picture.line([(left + 3.0, y - 100.0), (left + 3.0, y)], LineStyle(0.25), layer="gauge")
    for end in (y - 100.0, y):
        page.picture.line([(left + 1.0, end), (left + 5.0, end)], LineStyle(0.25), layer="gauge")
    page.picture.text(left + 6.0, y - 51.0, "100 mm", 3.0, layer="gauge")
    _maps(page.picture, maps, left + 28.0, y, width - 28.0, y - MARGIN - FOOT - 2.0)
    return left + 24.0, MARGIN + FOOT + 2.0, left + width, y


def _maps(
    picture: Picture, maps: Sequence[TileMap], left: float, top: float, width: float, height: float
) -> None:
    """Each tiled piece small, with its sheets' borders and page numbers over it."""
    if not maps:
        return
    columns = min(len(maps), 3)
    rows = -(-len(maps) // columns)
    cell, tall = width / columns, height / rows
    for number, tile_map in enumerate(maps):
        tiling = tile_map.tiling
        x0, y0 = left + (number % columns) * cell, top - (number // columns) * tall
        low = min(each.window[0] for each in tiling.tiles), min(each.window[1] for each in tiling.tiles)
        high = max(each.window[2] for each in tiling.tiles), max(each.window[3] for each in tiling.tiles)
        scale = min((cell - 6.0) / (high[0] - low[0]), (tall - 8.0) / (high[1] - low[1]))
        if scale <= 0.0:
            continue
        dx, dy = x0 - low[0] * scale, y0 - 5.0 - high[1] * scale
        picture.area(tile_map.outline * scale + np.array((dx, dy)), LineStyle(0.3), layer="map")
        for each in tiling.tiles:
            xmin, ymin, xmax, ymax = (value * scale for value in each.window)
            ring = [
                (xmin + dx, ymin + dy),
                (xmax + dx, ymin + dy),
                (xmax + dx, ymax + dy),
                (xmin + dx, ymax + dy),
            ]
            picture.area(ring, LineStyle(0.13, "#000000", (1.0, 0.8)), layer="map")
            # In the middle of the tile's own share: tiles themselves may overlap by much.
            x = low[0] + (each.column + 0.5) / tiling.columns * (high[0] - low[0])
            y = low[1] + (tiling.rows - each.row - 0.5) / tiling.rows * (high[1] - low[1])
            words = f"page {tile_map.first_page + each.number - 1}"
            size = min(3.0, 0.9 * (high[0] - low[0]) * scale / tiling.columns / text_width(words, 1.0))
            picture.text(
                x * scale + dx,
                y * scale + dy - size / 3,
                words,
                size,
                anchor="middle",
                halo="#ffffff",
                layer="map",
            )
        name = shortened(tile_map.title, 3.0, cell - 6.0, True)
        picture.text(x0, y0 - 3.0, name, 3.0, bold=True, layer="map")


def draw_frame(page: Page, title: str, number: int, count: int) -> None:
    """The head with the page's number, and the gauges in the foot."""
    top = page.height - MARGIN
    side = f"page {number} of {count}"
    page.picture.text(page.width - MARGIN, top - 3.0, side, 3.0, anchor="right", layer="head")
    room = page.width - 2 * MARGIN - text_width(side, 3.0) - 5.0
    page.picture.text(MARGIN, top - 3.0, shortened(title, 3.0, room, True), 3.0, bold=True, layer="head")
    page.picture.line([(MARGIN, top - 7.8), (page.width - MARGIN, top - 7.8)], LineStyle(0.3), layer="head")
    for low, length, words in ((7.0, 100.0, "100 mm"), (1.5, 4.0 * MM_PER_INCH, "4 in")):
        y = MARGIN + low
        stroke = LineStyle(0.25)
        page.picture.line([(MARGIN + 0.2, y), (MARGIN + 0.2 + length, y)], stroke, layer="gauge")
        for x in (MARGIN + 0.2, MARGIN + 0.2 + length):
            page.picture.line([(x, y - 1.2), (x, y + 2.0)], stroke, layer="gauge")
        steps = 10 if words == "100 mm" else 4
        for step in range(1, steps):
            x = MARGIN + 0.2 + length * step / steps
            page.picture.line([(x, y), (x, y + 1.2)], LineStyle(0.13), layer="gauge")
        page.picture.text(MARGIN + length + 3.0, y - 0.6, words, 3.0, layer="gauge")
    words = "print at 100 %; both gauges must measure right"
    if page.width - 2 * MARGIN - 118.0 > text_width(words, 2.3):
        page.picture.text(page.width - MARGIN, MARGIN + 4.0, words, 2.3, anchor="right", layer="gauge")
