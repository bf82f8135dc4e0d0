"""A template with its caption below or beside it, as one rectangle that is laid on a sheet."""

from __future__ import annotations

from dataclasses import dataclass

from nestplan.drawing.lettering import wrapped
from nestplan.drawing.primitives import Picture, moved
from nestplan.sheets.piece_template import Template

__all__ = [
    "CAPTION_LINE",
    "CaptionedTemplate",
    "with_caption_below",
    "with_caption_beside",
]

CAPTION_LINE = 3.9
"""Height of a caption's lines, mm."""
_CAPTION_SIZE = 2.9
"""Size of a caption's letters, mm."""
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
