"""A template with its caption below or beside it, as one rectangle that is laid on a sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from nestplan.drawing.label_placement import boxes_inside
from nestplan.drawing.lettering import wrapped
from nestplan.drawing.primitives import Box, Outline, Picture, Points, moved
from nestplan.sheets.piece_template import Template

__all__ = [
    "CAPTION_LINE",
    "CaptionedTemplate",
    "outermost_ring",
    "with_caption_below",
    "with_caption_beside",
    "write_caption",
]

CAPTION_LINE = 3.9
"""Height of a caption's lines, mm."""
_CAPTION_SIZE = 2.9
"""Size of a caption's letters, mm."""
_COLUMNS = (110.0, 80.0, 62.0, 48.0)
"""Widths of a caption that looks for a place on a tile, mm."""
_NARROWEST = 62.0
"""A caption below a template is at least so wide, mm."""


@dataclass(frozen=True)
class CaptionedTemplate:
    """A template with its caption as one rectangle `width` by `height` mm.

    The template's origin lies at (`x`, `y`), the caption's upper left corner at (`caption_x`, `caption_top`), mm from
    the rectangle's lower left corner. `caption`: (words, bold) line by line.
    """

    template: Template
    width: float
    height: float
    x: float
    y: float
    caption: tuple[tuple[str, bool], ...]
    caption_x: float
    caption_top: float

    def picture(self) -> Picture:
        """Template and caption, from the rectangle's lower left corner."""
        picture = Picture()
        picture.add(moved(self.template.picture, self.x, self.y))
        for number, (line, bold) in enumerate(self.caption):
            y = self.caption_top - (number + 0.75) * CAPTION_LINE
            picture.text(self.caption_x, y, line, _CAPTION_SIZE, bold=bold, layer="caption")
        return picture


def with_caption_below(template: Template) -> CaptionedTemplate:
    """The caption below the template."""
    xmin, ymin, xmax, ymax = template.picture.bounds()
    width = max(xmax - xmin, _NARROWEST)
    # A caption no wider than this stays whole on the first sheet of a tiled piece.
    caption = _wrapped(template, min(width, 120.0))
    below = len(caption) * CAPTION_LINE + 3.0
    x, y = (width - (xmax - xmin)) / 2 - xmin, below - ymin
    return CaptionedTemplate(
        template, width, below + (ymax - ymin) + 1.0, x, y, caption, 0.0, len(caption) * CAPTION_LINE
    )


def with_caption_inside(template: Template) -> CaptionedTemplate | None:
    """The caption written inside the piece, where it has room beside all that stands there already; None where not."""
    shape = shapely.make_valid(shapely.Polygon(template.turned(template.piece.ring))).buffer(-3.0)
    for column in _COLUMNS:
        caption = _wrapped(template, column)
        height = len(caption) * CAPTION_LINE
        for box in boxes_inside(shape, column, height):
            if template.occupied.is_clear(box, 1.0):
                template.occupied.take(box)
                for number, (words, bold) in enumerate(caption):
                    y = box[3] - (number + 0.75) * CAPTION_LINE
                    template.picture.text(box[0], y, words, _CAPTION_SIZE, bold=bold, layer="caption")
                xmin, ymin, xmax, ymax = template.picture.bounds()
                return CaptionedTemplate(
                    template, xmax - xmin, ymax - ymin + 1.0, -xmin, -ymin, (), 0.0, ymax - ymin + 1.0
                )
    return None


def with_caption_beside(template: Template, width: float) -> CaptionedTemplate | None:
    """The caption right of the template, for a piece that leaves no height for it; None if it is too wide."""
    xmin, ymin, xmax, ymax = template.picture.bounds()
    column = width - (xmax - xmin) - 4.0
    if column < 45.0:
        return None
    caption = _wrapped(template, column)
    height = max(ymax - ymin, len(caption) * CAPTION_LINE) + 1.0
    return CaptionedTemplate(
        template, width, height, -xmin, height - 1.0 - ymax, caption, xmax - xmin + 4.0, height - 1.0
    )


def _wrapped(template: Template, column: float) -> tuple[tuple[str, bool], ...]:
    return tuple(
        (line, bold)
        for words, bold in template.caption
        for line in wrapped(words, _CAPTION_SIZE, column, bold)
    )


def write_caption(template: Template, windows: Sequence[Box], keep_off: Sequence[Box]) -> None:
    """Write the caption of a tiled template once, where one of its windows has room beside the piece or in it.

    It stands on the layer `caption n` of the n-th window. Where no window has room, it is written over the roomiest.
    """
    shape = shapely.make_valid(shapely.Polygon(outermost_ring(template)))
    taken = shapely.union_all([shapely.box(*box) for box in keep_off])
    best: tuple[float, int, Box, tuple[tuple[str, bool], ...]] | None = None
    for column in _COLUMNS:
        caption = _wrapped(template, column)
        height = len(caption) * CAPTION_LINE
        for number, window in enumerate(windows, start=1):
            page = shapely.box(*window).buffer(-1.5)
            for free in (page.difference(shape.buffer(3.0)), page.intersection(shape.buffer(-3.0))):
                places = boxes_inside(free.difference(taken), column, height)
                box = next((box for box in places if template.occupied.is_clear(box, 1.0)), None)
                if box is not None:
                    template.occupied.take(box)
                    _write(template, box, caption, number)
                    return
        window = windows[0]
        box = (window[0] + 4.0, window[1] + 4.0, window[0] + 4.0 + column, window[1] + 4.0 + height)
        if best is None or height < best[0]:
            best = (height, 1, box, caption)
    assert best is not None
    _write(template, best[2], best[3], best[1])


def outermost_ring(template: Template) -> Points:
    """The outermost line of a template (n, 2), mm."""
    rings = [item.rings[0] for item in template.picture if isinstance(item, Outline) and item.closed]
    return max(rings, key=lambda ring: float(np.prod(ring.max(axis=0) - ring.min(axis=0))))


def _write(template: Template, box: Box, caption: Sequence[tuple[str, bool]], number: int) -> None:
    for line, (words, bold) in enumerate(caption):
        y = box[3] - (line + 0.75) * CAPTION_LINE
        template.picture.text(box[0], y, words, _CAPTION_SIZE, bold=bold, layer=f"caption {number}")
