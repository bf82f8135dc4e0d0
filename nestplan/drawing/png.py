"""A page as PNG: drawn with Pillow, larger than asked and then averaged down, which smooths every edge."""

from __future__ import annotations

import functools
import io
from pathlib import Path

import numpy as np
from PIL import Image, ImageChops, ImageDraw, ImageFont

from nestplan.drawing.hatching import hatch_lines
from nestplan.drawing.lettering import font_file
from nestplan.drawing.pages import Page
from nestplan.drawing.primitives import (
    Circle,
    Fill,
    LineStyle,
    Points,
    Primitive,
    Text,
    circle_ring,
    dashed,
)
from nestplan.geometry.units import MM_PER_INCH
from nestplan.storage import write_atomically

__all__ = [
    "png_bytes",
    "png_image",
    "write_png",
]

_OVERSAMPLING = 2
"""How many times finer than asked a page is drawn before it is averaged down."""
_MAX_PIXELS = 60_000_000
"""More are not drawn; a larger page is drawn coarser."""
_COMPRESSION_LEVEL = 3
"""Of 9: more takes several times as long for a tenth off line drawings."""


def write_png(page: Page, path: str | Path, *, dots_per_inch: float = 150.0) -> None:
    """Write one page to `path`, whole or not at all, with its resolution noted in the file.

    Raises InputError if it cannot be written.
    """
    write_atomically(path, png_bytes(page, dots_per_inch=dots_per_inch))


def png_bytes(page: Page, *, dots_per_inch: float = 150.0) -> bytes:
    """One page as the content of a PNG file, with its resolution noted in it."""
    stream = io.BytesIO()
    image = png_image(page, dots_per_inch=dots_per_inch)
    image.save(stream, "PNG", dpi=(dots_per_inch, dots_per_inch), compress_level=_COMPRESSION_LEVEL)
    return stream.getvalue()


def png_image(page: Page, *, dots_per_inch: float = 150.0) -> Image.Image:
    """The page as an RGB picture of round(width · dpi / 25.4) by round(height · dpi / 25.4) pixels.

    A page that would need more than 60 million pixels while drawing is drawn coarser, never refused.
    """
    size = [max(1, round(side * dots_per_inch / MM_PER_INCH)) for side in (page.width, page.height)]
    factor = _OVERSAMPLING
    while factor > 1 and size[0] * size[1] * factor * factor > _MAX_PIXELS:
        factor -= 1
    image = Image.new("RGB", (size[0] * factor, size[1] * factor), page.background)
    raster = _Raster(image, dots_per_inch * factor / MM_PER_INCH, page.height)
    for item in page.picture:
        raster.draw(item)
    return image.reduce(factor) if factor > 1 else image


class _Raster:
    """Draws primitives on a picture; turns y down and mm into pixels here and nowhere else."""

    def __init__(self, image: Image.Image, scale: float, height: float) -> None:
        self.image = image
        self.pen = ImageDraw.Draw(image)
        self.scale = scale
        self.height = height

    def draw(self, item: Primitive) -> None:
        if isinstance(item, Text):
            self._text(item)
            return
        rings = (circle_ring(item.x, item.y, item.radius),) if isinstance(item, Circle) else item.rings
        closed = isinstance(item, Circle) or item.closed
        if item.fill is not None:
            self._fill(rings, item.fill)
        if item.stroke is not None:
            for ring in rings:
                self._line(ring, item.stroke, closed)

    def _pixels(self, points: Points) -> list[tuple[float, float]]:
        spots = points * self.scale
        spots[:, 1] = self.height * self.scale - spots[:, 1]
        return [(x, y) for x, y in spots.tolist()]

    def _fill(self, rings: tuple[Points, ...], fill: Fill) -> None:
        if fill.color is not None:
            if len(rings) == 1:
                if len(rings[0]) > 2:
                    self.pen.polygon(self._pixels(rings[0]), fill=fill.color)
            else:
                self._fill_with_holes(rings, fill.color)
        if fill.hatch is not None:
            for segment in hatch_lines(rings, fill.hatch):
                self._line(segment, fill.hatch.stroke, False)

    def _fill_with_holes(self, rings: tuple[Points, ...], color: str) -> None:
        """Fill what lies inside an odd number of the rings; each is drawn on a mask of its own extent only."""
        spots = [np.array(self._pixels(ring)) for ring in rings]
        corners = [_pixel_box(ring) for ring in spots]
        left, top = (min(box[side] for box in corners) for side in (0, 1))
        right, bottom = (max(box[side] for box in corners) for side in (2, 3))
        mask = Image.new("1", (right - left, bottom - top), 0)
        for ring, (x0, y0, x1, y1) in zip(spots, corners, strict=True):
            layer = Image.new("1", (x1 - x0, y1 - y0), 0)
            ImageDraw.Draw(layer).polygon([(x, y) for x, y in (ring - (x0, y0)).tolist()], fill=1)
            where = (x0 - left, y0 - top, x1 - left, y1 - top)
            mask.paste(ImageChops.logical_xor(mask.crop(where), layer), where)
        self.image.paste(color, (left, top), mask)

    def _line(self, ring: Points, stroke: LineStyle, closed: bool) -> None:
        width = max(1, round(stroke.width * self.scale))
        stretches = dashed(ring, stroke.dash, closed=closed) if stroke.dash else [ring]
        for stretch in stretches:
            spots = self._pixels(stretch)
            if closed and not stroke.dash:
                spots.append(spots[0])
            if len(spots) == 2 and spots[0] == spots[1]:
                self._dot(spots[0], width, stroke.color)
                continue
            self.pen.line(spots, fill=stroke.color, width=width, joint="curve" if width > 2 else None)
            if width > 3:
                self._dot(spots[0], width, stroke.color)
                self._dot(spots[-1], width, stroke.color)

    def _dot(self, spot: tuple[float, float], width: int, color: str) -> None:
        half = width / 2.0
        self.pen.ellipse((spot[0] - half, spot[1] - half, spot[0] + half, spot[1] + half), fill=color)

    def _text(self, text: Text) -> None:
        size = text.size * self.scale
        if size < 3.0 or not text.words:
            return
        font = _font(text.bold, round(size, 1))
        anchor = {"left": "ls", "middle": "ms", "right": "rs"}[text.anchor]
        x, y = self._pixels(np.array([(text.x, text.y)]))[0]
        around = max(1, round(size * 0.11)) if text.halo is not None else 0
        if not text.angle:
            self.pen.text(
                (x, y), text.words, text.color, font, anchor, stroke_width=around, stroke_fill=text.halo
            )
            return
        # A turned text is drawn level on its own small mask and the mask is turned about the anchor.
        box = font.getbbox(text.words, anchor=anchor, stroke_width=around)
        reach = int(np.ceil(max(np.hypot(a, b) for a in (box[0], box[2]) for b in (box[1], box[3])))) + 2
        for color, width in ((text.halo, around), (text.color, 0)):
            if color is None:
                continue
            mask = Image.new("L", (2 * reach, 2 * reach), 0)
            ImageDraw.Draw(mask).text(
                (reach, reach), text.words, 255, font, anchor, stroke_width=width, stroke_fill=255
            )
            turned = mask.rotate(text.angle, Image.Resampling.BICUBIC, center=(reach, reach))
            self.image.paste(color, (round(x) - reach, round(y) - reach), turned)


def _pixel_box(ring: Points) -> tuple[int, int, int, int]:
    """The left, top, right and bottom of the whole pixels about a ring, with one to spare."""
    low = np.floor(ring.min(axis=0)).astype(int) - 1
    high = np.ceil(ring.max(axis=0)).astype(int) + 1
    return int(low[0]), int(low[1]), int(high[0]), int(high[1])


@functools.lru_cache(maxsize=64)
def _font(bold: bool, pixels: float) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(font_file(bold)), pixels, layout_engine=ImageFont.Layout.BASIC)
