"""A template with its caption as one rectangle, and how several of them share a sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nestplan.drawing.lettering import wrapped
from nestplan.drawing.primitives import Picture, moved
from nestplan.sheets.piece_template import Template

__all__ = ["LINE", "Block", "drawn_with_caption", "on_shelves", "with_caption_below", "with_caption_beside"]

CAPTION, LINE = 2.9, 3.9
"""Size of a caption's letters and the height of its lines, mm."""
_GAP = 6.0
_LEAST_WIDTH = 62.0


@dataclass(frozen=True)
class Block:
    """A template with its caption as one rectangle: mm from the rectangle's lower left corner."""

    template: Template
    width: float
    height: float
    x: float
    y: float
    caption: tuple[tuple[str, bool], ...]
    caption_x: float
    caption_top: float


def with_caption_below(template: Template) -> Block:
    """The caption below the template."""
    xmin, ymin, xmax, ymax = template.picture.bounds()
    width = max(xmax - xmin, _LEAST_WIDTH)
    # A caption no wider than this stays whole on the first sheet of a tiled piece.
    caption = _wrapped(template, min(width, 120.0))
    below = len(caption) * LINE + 3.0
    x, y = (width - (xmax - xmin)) / 2 - xmin, below - ymin
    return Block(template, width, below + (ymax - ymin) + 1.0, x, y, caption, 0.0, len(caption) * LINE)


def with_caption_beside(template: Template, width: float) -> Block | None:
    """The caption right of the template, for a piece that leaves no height for it; None if it is too wide."""
    xmin, ymin, xmax, ymax = template.picture.bounds()
    column = width - (xmax - xmin) - 4.0
    if column < 45.0:
        return None
    caption = _wrapped(template, column)
    height = max(ymax - ymin, len(caption) * LINE) + 1.0
    return Block(
        template, width, height, -xmin, height - 1.0 - ymax, caption, xmax - xmin + 4.0, height - 1.0
    )


def _wrapped(template: Template, column: float) -> tuple[tuple[str, bool], ...]:
    return tuple(
        (line, bold) for words, bold in template.caption for line in wrapped(words, CAPTION, column, bold)
    )


def drawn_with_caption(block: Block) -> Picture:
    """The block's template and caption, from the block's lower left corner."""
    picture = Picture()
    picture.add(moved(block.template.picture, block.x, block.y))
    for number, (line, bold) in enumerate(block.caption):
        y = block.caption_top - (number + 0.75) * LINE
        picture.text(block.caption_x, y, line, CAPTION, bold=bold, layer="caption")
    return picture


def on_shelves(
    blocks: Sequence[Block], window: tuple[float, float]
) -> list[list[tuple[Block, float, float]]]:
    """The blocks on as few sheets as a shelf rule finds, tallest first: per sheet (block, x, y from the top)."""
    sheets: list[list[tuple[Block, float, float]]] = []
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
