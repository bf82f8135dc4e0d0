"""A drawing larger than a sheet, cut into overlapping tiles that are put together again by their crosses.

Tiles are numbered row by row from the upper left. Neighbours share a band of `OVERLAP` mm, in whose middle
both carry the same numbered cross.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from nestplan.drawing.primitives import Box

__all__ = ["OVERLAP", "Cross", "Tile", "Tiling", "tiled"]

OVERLAP = 10.0
"""Width of the band that neighbouring tiles share at least, mm."""


@dataclass(frozen=True)
class Cross:
    """A numbered cross where tiles meet, in the drawing's mm."""

    number: int
    x: float
    y: float


@dataclass(frozen=True)
class Tile:
    """One sheet of a tiled drawing: its number from 1, its row and column in the grid from 0, its window, mm."""

    number: int
    row: int
    column: int
    window: Box


@dataclass(frozen=True)
class Tiling:
    """The tiles of one drawing that something is drawn on, and the crosses they share; `rows` and `columns` count the
    whole grid."""

    rows: int
    columns: int
    tiles: tuple[Tile, ...]
    crosses: tuple[Cross, ...]

    def crosses_on(self, tile: Tile) -> tuple[Cross, ...]:
        """The crosses that one tile carries."""
        return tuple(cross for cross in self.crosses if _shows(tile.window, (cross.x, cross.y)))


def tiled(
    box: Box, width: float, height: float, *, needed: Callable[[Box], bool] = lambda window: True
) -> Tiling:
    """Tiles of `width` by `height` mm that cover `box` (xmin, ymin, xmax, ymax), as few as can be.

    The tiles are spread evenly, so that no sliver is left on the last one: neighbours may then overlap by
    more than OVERLAP, and the cross stands in the middle of the band they really share. Tiles whose window is not
    `needed`, since nothing is drawn there, are left out, with the crosses that then stand on one tile alone.
    """
    columns, xs = _spread(box[0], box[2], width)
    rows, ys = _spread(box[1], box[3], height)
    windows = [
        (row, column, (x, y, x + width, y + height))
        for row, y in enumerate(reversed(ys))
        for column, x in enumerate(xs)
    ]
    kept = [each for each in windows if needed(each[2])]
    tiles = tuple(Tile(number, *each) for number, each in enumerate(kept, start=1))
    joins_x = [(xs[n + 1] + xs[n] + width) / 2 for n in range(columns - 1)]
    joins_y = [(ys[n + 1] + ys[n] + height) / 2 for n in range(rows - 1)]
    places = {(round(x, 6), y) for x in joins_x for y in _with_ends(joins_y, ys, height, box[1])}
    places |= {(x, round(y, 6)) for y in joins_y for x in _with_ends(joins_x, xs, width, box[0])}
    shared = [place for place in places if sum(_shows(each.window, place) for each in tiles) > 1]
    ordered = sorted(shared, key=lambda place: (-place[1], place[0]))
    crosses = tuple(Cross(number, x, y) for number, (x, y) in enumerate(ordered, start=1))
    return Tiling(rows, columns, tiles, crosses)


def _spread(low: float, high: float, size: float) -> tuple[int, list[float]]:
    """How many tiles of `size` cover low to high with the least overlap, and where each one starts."""
    count = max(1, math.ceil((high - low - OVERLAP) / (size - OVERLAP) - 1e-9))
    if count == 1:
        return 1, [(low + high - size) / 2]
    step = (high - low - size) / (count - 1)
    return count, [low + n * step for n in range(count)]


def _with_ends(joins: list[float], starts: list[float], size: float, least: float) -> list[float]:
    """The joins, and a place near each end, so that every border of a tile has two crosses."""
    low, high = max(starts[0] + size * 0.06, least + 5.0), starts[-1] + size * 0.94
    return sorted({round(place, 6) for place in (*joins, low, high)})


def _shows(window: Box, place: tuple[float, float]) -> bool:
    return window[0] <= place[0] <= window[2] and window[1] <= place[1] <= window[3]
