"""A page as SVG: valid XML, sized in mm, one user unit a millimetre, a named group for each layer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from nestplan.model.files import write_atomically
from nestplan.sheets.hatching import hatch_lines
from nestplan.sheets.pages import Page
from nestplan.sheets.primitives import Circle, Fill, Outline, Points, Primitive, Stroke, Text, circle_ring

__all__ = [
    "FAMILY",
    "svg_text",
    "write_svg",
]

FAMILY = "'DejaVu Sans Condensed','DejaVu Sans',Verdana,sans-serif"


def write_svg(page: Page, path: str | Path, *, title: str = "") -> None:
    """Write one page to `path`, whole or not at all. SVG's y axis points down: it is turned in this file only.

    Errors: InputError if it cannot be written.
    """
    write_atomically(path, svg_text(page, title=title).encode())


def svg_text(page: Page, *, title: str = "") -> str:
    """The page as the text of an SVG 1.1 file; width and height in mm, `viewBox` in mm."""
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{_n(page.width)}mm" '
        f'height="{_n(page.height)}mm" viewBox="0 0 {_n(page.width)} {_n(page.height)}" '
        f'font-family="{FAMILY}" stroke-linecap="round" stroke-linejoin="round" fill="none">',
    ]
    if title:
        lines.append(f"<title>{_clean(title)}</title>")
    lines.append(
        f'<rect width="{_n(page.width)}" height="{_n(page.height)}" fill="{page.background}"/>'
        if page.background
        else ""
    )
    layer: str | None = None
    for item in page.sketch:
        if item.layer != layer:
            if layer is not None:
                lines.append("</g>")
            layer = item.layer
            lines.append(f"<g class={quoteattr(_printable(layer) or 'drawing')}>")
        lines.extend(_element(item, page.height))
    if layer is not None:
        lines.append("</g>")
    lines.append("</svg>")
    return "\n".join(line for line in lines if line) + "\n"


def _element(item: Primitive, height: float) -> Iterator[str]:
    if isinstance(item, Text):
        yield _text(item, height)
        return
    fill = item.fill or Fill()
    if fill.hatch is not None and fill.color is not None:
        yield _shape(item, height, None, fill.color)
        fill = Fill(None, fill.hatch)
    if fill.hatch is not None:
        rings = (circle_ring(item.x, item.y, item.radius),) if isinstance(item, Circle) else item.rings
        segments = hatch_lines(rings, fill.hatch)
        if segments:
            yield f'<path d="{_path(segments, height, False)}"{_stroke(fill.hatch.stroke)}/>'
    if item.stroke is not None or fill.color is not None:
        yield _shape(item, height, item.stroke, fill.color)


def _shape(item: Outline | Circle, height: float, stroke: Stroke | None, color: str | None) -> str:
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


def _stroke(stroke: Stroke) -> str:
    dash = f' stroke-dasharray="{" ".join(_n(step) for step in stroke.dash)}"' if stroke.dash else ""
    return f' stroke="{stroke.color}" stroke-width="{_n(stroke.width)}"{dash}'


def _text(text: Text, height: float) -> str:
    anchor = {"left": "start", "middle": "middle", "right": "end"}[text.anchor]
    x, y = _n(text.x), _n(height - text.y)
    turn = f' transform="rotate({_n(-text.angle)} {x} {y})"' if text.angle else ""
    weight = ' font-weight="bold"' if text.bold else ""
    halo = (
        f' stroke="{text.halo}" stroke-width="{_n(text.size * 0.22)}" paint-order="stroke"'
        if text.halo is not None
        else ""
    )
    return (
        f'<text x="{x}" y="{y}" font-size="{_n(text.size)}" text-anchor="{anchor}" fill="{text.color}"'
        f"{weight}{halo}{turn}>{_clean(text.words)}</text>"
    )


def _n(value: float) -> str:
    """A number to a ten-thousandth of a millimetre, without needless zeros."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("", "-0") else text


def _clean(words: str) -> str:
    return escape(_printable(words))


def _printable(words: str) -> str:
    """Without the control characters that XML 1.0 forbids."""
    return "".join(letter for letter in words if letter >= " " or letter in "\t\n")
