"""Pages as PDF: the only place that knows reportlab. Text stays text, its font is embedded, lines keep their mm."""

from __future__ import annotations

import functools
from pathlib import Path

from reportlab.lib.colors import HexColor
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen import canvas as reportlab_canvas

from nestplan.geometry.units import MM_PER_INCH
from nestplan.sheets.hatching import hatch_lines
from nestplan.sheets.lettering import font_file
from nestplan.sheets.pages import Booklet
from nestplan.sheets.primitives import Circle, Fill, Outline, Points, Primitive, Stroke, Text, circle_ring

__all__ = [
    "BOLD",
    "POINT",
    "REGULAR",
    "write_pdf",
]

POINT = 72.0 / MM_PER_INCH
"""PDF's unit is 1/72 in (ISO 32000-1): so many of them make a millimetre."""
REGULAR, BOLD = "nestplan-regular", "nestplan-bold"


def write_pdf(booklet: Booklet, path: str | Path) -> None:
    """Write the pages to `path` as one PDF; the same pages always give the same bytes."""
    _register_fonts()
    canvas = reportlab_canvas.Canvas(str(path), invariant=1, pageCompression=1)
    canvas.setTitle(booklet.title)
    canvas.setCreator("nestplan")
    canvas.setAuthor("")
    for page in booklet.pages:
        canvas.setPageSize((page.width * POINT, page.height * POINT))
        canvas.setLineCap(1)
        canvas.setLineJoin(1)
        if page.background != "#ffffff":
            canvas.setFillColor(_color(page.background))
            canvas.rect(0, 0, page.width * POINT, page.height * POINT, stroke=0, fill=1)
        pen = _Pen(canvas)
        for item in page.sketch:
            pen.draw(item)
        canvas.showPage()
    canvas.save()


@functools.cache
def _register_fonts() -> None:
    pdfmetrics.registerFont(TTFont(REGULAR, str(font_file())))
    pdfmetrics.registerFont(TTFont(BOLD, str(font_file(bold=True))))


@functools.lru_cache(maxsize=256)
def _color(color: str) -> HexColor:
    return HexColor(color)


class _Pen:
    """Draws primitives on one page; remembers the stroke in force, to leave out what would say it again."""

    def __init__(self, canvas: reportlab_canvas.Canvas) -> None:
        self.canvas = canvas
        self.stroke: Stroke | None = None

    def draw(self, item: Primitive) -> None:
        if isinstance(item, Text):
            self._text(item)
            return
        if item.fill is not None:
            self._fill(item, item.fill)
        if item.stroke is not None:
            self._take(item.stroke)
            if isinstance(item, Circle):
                self.canvas.circle(item.x * POINT, item.y * POINT, item.radius * POINT, stroke=1, fill=0)
            else:
                self._trace(item.rings, item.closed, stroke=1)

    def _take(self, stroke: Stroke) -> None:
        if stroke == self.stroke:
            return
        self.stroke = stroke
        self.canvas.setStrokeColor(_color(stroke.color))
        self.canvas.setLineWidth(stroke.width * POINT)
        self.canvas.setDash([step * POINT for step in stroke.dash])

    def _fill(self, item: Outline | Circle, fill: Fill) -> None:
        if fill.color is not None:
            self.canvas.setFillColor(_color(fill.color))
            if isinstance(item, Circle):
                self.canvas.circle(item.x * POINT, item.y * POINT, item.radius * POINT, stroke=0, fill=1)
            else:
                self._trace(item.rings, True, fill=1)
        if fill.hatch is not None:
            rings = (circle_ring(item.x, item.y, item.radius),) if isinstance(item, Circle) else item.rings
            self._take(fill.hatch.stroke)
            segments = hatch_lines(rings, fill.hatch)
            if segments:
                self._trace(segments, False, stroke=1)

    def _trace(
        self, rings: tuple[Points, ...] | list[Points], closed: bool, *, stroke: int = 0, fill: int = 0
    ) -> None:
        path = self.canvas.beginPath()
        for ring in rings:
            corners = (ring * POINT).tolist()
            path.moveTo(*corners[0])
            for corner in corners[1:]:
                path.lineTo(*corner)
            if closed:
                path.close()
        self.canvas.drawPath(path, stroke=stroke, fill=fill, fillMode=0)

    def _text(self, text: Text) -> None:
        if not text.words:
            return
        canvas = self.canvas
        canvas.saveState()
        canvas.translate(text.x * POINT, text.y * POINT)
        if text.angle:
            canvas.rotate(text.angle)
        font = BOLD if text.bold else REGULAR
        size = text.size * POINT
        shift = {"left": 0.0, "middle": 0.5, "right": 1.0}[text.anchor]
        start = -shift * pdfmetrics.stringWidth(text.words, font, size) if shift else 0.0
        if text.halo is not None:
            # The halo is a stroked copy under the text: a reader that copies words out would find them twice,
            # so it is drawn as a plain soft box instead.
            width = pdfmetrics.stringWidth(text.words, font, size)
            canvas.setFillColor(_color(text.halo))
            canvas.roundRect(
                start - 0.1 * size,
                -0.16 * size,
                width + 0.2 * size,
                1.02 * size,
                0.2 * size,
                stroke=0,
                fill=1,
            )
        canvas.setFont(font, size)
        canvas.setFillColor(_color(text.color))
        canvas.drawString(start, 0.0, text.words)
        canvas.restoreState()
        self.stroke = None
