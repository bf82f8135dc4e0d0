"""Pages as PDF: the only place that knows reportlab. Text stays text, its font is embedded, lines keep their mm."""

from __future__ import annotations

import functools
import io
import math
from pathlib import Path

from reportlab import rl_config
from reportlab.lib.colors import HexColor
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen import canvas as reportlab_canvas

from nestplan.drawing.hatching import hatch_lines
from nestplan.drawing.lettering import font_file
from nestplan.drawing.pages import Booklet
from nestplan.drawing.primitives import Circle, Fill, LineStyle, Outline, Points, Primitive, Text, circle_ring
from nestplan.geometry.units import MM_PER_INCH
from nestplan.storage import write_atomically

__all__ = [
    "pdf_bytes",
    "write_pdf",
]

# Plain compressed streams: the printable form is a quarter larger and slow to make.
rl_config.useA85 = 0
_POINTS_PER_MM = 72.0 / MM_PER_INCH
"""PDF's unit is 1/72 in (ISO 32000-1): so many of them make a millimetre."""
_REGULAR, _BOLD = "nestplan-regular", "nestplan-bold"
"""What the two weights of the typeface are called inside a PDF."""


def write_pdf(booklet: Booklet, path: str | Path) -> None:
    """Write the pages to `path` as one PDF, whole or not at all.

    Raises InputError if it cannot be written.
    """
    write_atomically(path, pdf_bytes(booklet))


def pdf_bytes(booklet: Booklet) -> bytes:
    """The pages as one PDF; the same pages always give the same bytes."""
    _register_fonts()
    stream = io.BytesIO()
    canvas = reportlab_canvas.Canvas(stream, invariant=1, pageCompression=1)
    canvas.setTitle(booklet.title)
    canvas.setCreator("nestplan")
    canvas.setAuthor("")
    for page in booklet.pages:
        canvas.setPageSize((page.width * _POINTS_PER_MM, page.height * _POINTS_PER_MM))
        canvas.setLineCap(1)
        canvas.setLineJoin(1)
        if page.background != "#ffffff":
            canvas.setFillColor(_color(page.background))
            canvas.rect(0, 0, page.width * _POINTS_PER_MM, page.height * _POINTS_PER_MM, stroke=0, fill=1)
        drawn = _PdfPage(canvas)
        for item in page.picture:
            drawn.draw(item)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()


@functools.cache
def _register_fonts() -> None:
    pdfmetrics.registerFont(TTFont(_REGULAR, str(font_file())))
    pdfmetrics.registerFont(TTFont(_BOLD, str(font_file(bold=True))))


@functools.lru_cache(maxsize=256)
def _color(color: str) -> HexColor:
    return HexColor(color)


class _PdfPage:
    """Draws primitives on one page; remembers the stroke and ink in force, to leave out what would say it again."""

    def __init__(self, canvas: reportlab_canvas.Canvas) -> None:
        self.canvas = canvas
        self.stroke: LineStyle | None = None
        self.ink = ""

    def draw(self, item: Primitive) -> None:
        if isinstance(item, Text):
            self._text(item)
            return
        if item.fill is not None:
            self._fill(item, item.fill)
        if item.stroke is not None:
            self._set_stroke(item.stroke)
            if isinstance(item, Circle):
                self._trace_circle(item, "S")
            else:
                self._trace(item.rings, item.closed, stroke=1)

    def _set_stroke(self, stroke: LineStyle) -> None:
        if stroke == self.stroke:
            return
        self.stroke = stroke
        self.canvas.setStrokeColor(_color(stroke.color))
        self.canvas.setLineWidth(stroke.width * _POINTS_PER_MM)
        self.canvas.setDash([step * _POINTS_PER_MM for step in stroke.dash])

    def _set_ink(self, color: str) -> None:
        if color != self.ink:
            self.ink = color
            self.canvas.setFillColor(_color(color))

    def _fill(self, item: Outline | Circle, fill: Fill) -> None:
        if fill.color is not None:
            self._set_ink(fill.color)
            if isinstance(item, Circle):
                self._trace_circle(item, "f")
            else:
                self._trace(item.rings, True, fill=1)
        if fill.hatch is not None:
            rings = (circle_ring(item.x, item.y, item.radius),) if isinstance(item, Circle) else item.rings
            self._set_stroke(fill.hatch.stroke)
            segments = hatch_lines(rings, fill.hatch)
            if segments:
                self._trace(segments, False, stroke=1)

    def _trace_circle(self, circle: Circle, paint: str) -> None:
        """Four Bezier arcs, nowhere farther than 0.03 % of the radius from the circle (the usual constant)."""
        x, y, r = circle.x * _POINTS_PER_MM, circle.y * _POINTS_PER_MM, circle.radius * _POINTS_PER_MM
        k = r * 4.0 * (math.sqrt(2.0) - 1.0) / 3.0
        self.canvas.addLiteral(
            f"{x + r:.3f} {y:.3f} m\n"
            f"{x + r:.3f} {y + k:.3f} {x + k:.3f} {y + r:.3f} {x:.3f} {y + r:.3f} c\n"
            f"{x - k:.3f} {y + r:.3f} {x - r:.3f} {y + k:.3f} {x - r:.3f} {y:.3f} c\n"
            f"{x - r:.3f} {y - k:.3f} {x - k:.3f} {y - r:.3f} {x:.3f} {y - r:.3f} c\n"
            f"{x + k:.3f} {y - r:.3f} {x + r:.3f} {y - k:.3f} {x + r:.3f} {y:.3f} c h {paint}"
        )

    def _trace(
        self, rings: tuple[Points, ...] | list[Points], closed: bool, *, stroke: int = 0, fill: int = 0
    ) -> None:
        # The path's operators are written out here: the library's own path takes most of the time of a plan.
        parts: list[str] = []
        for ring in rings:
            (x, y), *rest = (ring * _POINTS_PER_MM).tolist()
            parts.append(f"{x:.3f} {y:.3f} m")
            parts.extend(f"{x:.3f} {y:.3f} l" for x, y in rest)
            if closed:
                parts.append("h")
        parts.append("f*" if fill else "S" if stroke else "n")
        self.canvas.addLiteral("\n".join(parts))

    def _text(self, text: Text) -> None:
        if not text.words:
            return
        canvas, font, size = self.canvas, _BOLD if text.bold else _REGULAR, text.size * _POINTS_PER_MM
        x, y = text.x * _POINTS_PER_MM, text.y * _POINTS_PER_MM
        width = pdfmetrics.stringWidth(text.words, font, size) if text.anchor != "left" or text.halo else 0.0
        start = {"left": 0.0, "middle": -0.5, "right": -1.0}[text.anchor] * width
        if text.angle:
            canvas.saveState()
            canvas.translate(x, y)
            canvas.rotate(text.angle)
            x = y = 0.0
        if text.halo is not None:
            # A plain box: a stroked copy of the words would be found twice by whoever copies them out.
            self._set_ink(text.halo)
            canvas.roundRect(
                x + start - 0.1 * size, y - 0.16 * size, width + 0.2 * size, 1.02 * size, 0.2 * size, 0, 1
            )
        self._set_ink(text.color)
        canvas.setFont(font, size)
        canvas.drawString(x + start, y, text.words)
        if text.angle:
            canvas.restoreState()
            self.stroke, self.ink = None, ""
