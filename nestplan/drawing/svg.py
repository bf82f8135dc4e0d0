"""A page as SVG: valid XML, sized in mm, one user unit a millimetre, a named group for each layer."""

from __future__ import annotations

import html
import re
from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np

from nestplan.drawing.hatching import hatch_lines
from nestplan.drawing.lettering import text_width
from nestplan.drawing.pages import Page
from nestplan.drawing.primitives import Circle, Fill, LineStyle, Outline, Points, Primitive, Text, circle_ring
from nestplan.storage import write_atomically

__all__ = [
    "svg_text",
    "write_svg",
]

_FORBIDDEN = re.compile("[^\t\n\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What may not stand in XML 1.0 (W3C, section 2.2); carriage returns too, since they become line ends."""

_DOT = np.array(((0.0, 0.0), (0.01, 0.0)))
"""Added to a segment without length, mm."""
_FONT_FAMILY = "'DejaVu Sans Condensed','DejaVu Sans',Verdana,sans-serif"


def write_svg(page: Page, path: str | Path, *, title: str = "") -> None:
    """Write one page to `path`, whole or not at all. SVG's y axis points down: it is turned in this file only.

    Raises InputError if it cannot be written.
    """
    write_atomically(path, svg_text(page, title=title).encode())


def svg_text(page: Page, *, title: str = "") -> str:
    """The page as the text of an SVG 1.1 file; width and height in mm, `viewBox` in mm."""
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{_n(page.width)}mm" '
        f'height="{_n(page.height)}mm" viewBox="0 0 {_n(page.width)} {_n(page.height)}" '
        f'font-family="{_FONT_FAMILY}" stroke-linecap="round" stroke-linejoin="round" fill="none">',
    ]
    if title:
        lines.append(f"<title>{_clean(title)}</title>")
    lines.append(
        f'<rect width="{_n(page.width)}" height="{_n(page.height)}" fill="{page.background}"/>'
        if page.background
        else ""
    )
    layer: str | None = None
    for item in page.picture:
        if item.layer != layer:
            if layer is not None:
                lines.append("</g>")
            layer = item.layer
            lines.append(f'<g class="{_clean(layer) or "drawing"}">')
        lines.extend(_element(item, page.height))
    if layer is not None:
        lines.append("</g>")
    lines.append("</svg>")
    return "\n".join(line for line in lines if line) + "\n"


def _element(item: Primitive, height: float) -> Iterator[str]:
    if isinstance(item, Text):
        yield from _text(item, height)
        return
    fill = item.fill or Fill()
    if fill.hatch is not None and fill.color is not None:
        yield _shape(item, height, None, fill.color)
        fill = Fill(None, fill.hatch)
    if fill.hatch is not None:
        rings = (circle_ring(item.x, item.y, item.radius),) if isinstance(item, Circle) else item.rings
        # A dot is a segment without length, which some viewers leave out: it gets a hundredth of a millimetre.
        segments = [
            line if (line[0] != line[1]).any() else line + _DOT for line in hatch_lines(rings, fill.hatch)
        ]
        if segments:
            yield f'<path d="{_path(segments, height, False)}"{_stroke(fill.hatch.stroke)}/>'
    if item.stroke is not None or fill.color is not None:
        yield _shape(item, height, item.stroke, fill.color)


def _shape(item: Outline | Circle, height: float, stroke: LineStyle | None, color: str | None) -> str:
    looks = f' fill="{color}" fill-rule="evenodd"' if color else ""
    looks += _stroke(stroke) if stroke is not None else ""
    if isinstance(item, Circle):
        return f'<circle cx="{_n(item.x)}" cy="{_n(height - item.y)}" r="{_n(item.radius)}"{looks}/>'
    return f'<path d="{_path(item.rings, height, item.closed)}"{looks}/>'


def _path(rings: Iterable[Points], height: float, closed: bool) -> str:
    parts = []
    for ring in rings:
        corners = " ".join(f"{_n(x)},{_n(height - y)}" for x, y in ring.tolist())
        parts.append(f"M{corners}" + ("Z" if closed else ""))
    return "".join(parts)


def _stroke(stroke: LineStyle) -> str:
    dash = f' stroke-dasharray="{" ".join(_n(step) for step in stroke.dash)}"' if stroke.dash else ""
    return f' stroke="{stroke.color}" stroke-width="{_n(stroke.width)}"{dash}'


def _text(text: Text, height: float) -> Iterator[str]:
    """The words, held to the width that our own typeface gives them whatever the viewer has; a box for a halo."""
    anchor = {"left": "start", "middle": "middle", "right": "end"}[text.anchor]
    x, y = _n(text.x), _n(height - text.y)
    turn = f' transform="rotate({_n(-text.angle)} {x} {y})"' if text.angle else ""
    weight = ' font-weight="bold"' if text.bold else ""
    words = _printable(text.words)
    width, size = text_width(words, text.size, text.bold), text.size
    if text.halo is not None:
        # A stroke behind the letters would lie over them in viewers that do not know `paint-order`.
        left = text.x + {"left": 0.0, "middle": -0.5, "right": -1.0}[text.anchor] * width - 0.1 * size
        yield (
            f'<rect x="{_n(left)}" y="{_n(height - text.y - 0.86 * size)}" width="{_n(width + 0.2 * size)}" '
            f'height="{_n(1.02 * size)}" rx="{_n(0.2 * size)}" fill="{text.halo}"{turn}/>'
        )
    held = f' textLength="{_n(width)}" lengthAdjust="spacingAndGlyphs"' if len(words) > 1 else ""
    yield (
        f'<text x="{x}" y="{y}" font-size="{_n(size)}" text-anchor="{anchor}" fill="{text.color}"'
        f"{weight}{held}{turn}>{_clean(words)}</text>"
    )


def _n(value: float) -> str:
    """A number to a ten-thousandth of a millimetre, without needless zeros."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("", "-0") else text


def _clean(words: str) -> str:
    """The words as they may stand in a text and in a value in double quotes."""
    return html.escape(_printable(words))


def _printable(words: str) -> str:
    """Without the characters that XML 1.0 forbids: control codes, halves of pairs, U+FFFE and U+FFFF."""
    return _FORBIDDEN.sub("", words)
