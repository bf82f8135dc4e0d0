"""Boxes put together on sheets, side by side on shelves: a plain rule for a few boxes of different heights."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["packed_on_shelves"]


def packed_on_shelves(
    sizes: Sequence[tuple[float, float]], width: float, height: float, gap: float
) -> list[list[tuple[int, float, float]]]:
    """Boxes (width, height) on as few sheets of `width` by `height` as a shelf rule finds, tallest first.

    Each box stands on the first shelf that has its height and room beside what stands there already; `gap` is kept
    between boxes and shelves. Returns per sheet (place in `sizes`, x from the left, y from the top), all in mm. A box
    larger than a sheet gets one of its own.
    """
    sheets: list[list[tuple[int, float, float]]] = []
    shelves: list[list[_Shelf]] = []
    for index in sorted(range(len(sizes)), key=lambda index: -sizes[index][1]):
        for boxes, open_shelves in zip(sheets, shelves, strict=True):
            spot = _place(open_shelves, sizes[index], width, height, gap)
            if spot is not None:
                boxes.append((index, *spot))
                break
        else:
            sheets.append([(index, 0.0, 0.0)])
            shelves.append([_Shelf(0.0, sizes[index][1], sizes[index][0] + gap)])
    return sheets


@dataclass
class _Shelf:
    """A shelf on a sheet: its top from the sheet's top, its height, and how far it is filled from the left, mm."""

    top: float
    height: float
    filled: float


def _place(
    shelves: list[_Shelf], size: tuple[float, float], width: float, height: float, gap: float
) -> tuple[float, float] | None:
    """Put a box on one of a sheet's shelves or on a new one: its x and y there, or None where it does not fit."""
    for shelf in shelves:
        if size[1] <= shelf.height and shelf.filled + size[0] <= width:
            x = shelf.filled
            shelf.filled = x + size[0] + gap
            return x, shelf.top
    top = sum(shelf.height + gap for shelf in shelves)
    if top + size[1] > height:
        return None
    shelves.append(_Shelf(top, size[1], size[0] + gap))
    return 0.0, top
