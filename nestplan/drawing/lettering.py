"""Letters: where the fonts lie, how wide a text is, and how it is broken into lines.

One typeface in two weights, shipped with its free licence in resources/fonts, so that a sheet looks the same
on every machine and every paper measures the same. Drawing the letters is each paper's own work.
"""

from __future__ import annotations

import functools
from pathlib import Path

from nestplan.resources import resource

__all__ = [
    "CAP_HEIGHT",
    "font_file",
    "shortened",
    "text_width",
    "wrapped",
]

CAP_HEIGHT = 0.76
"""Height of a capital letter above the baseline, as a share of the text's size (measured from the font)."""
_UNITS = 2048
"""The typeface's em in its own units."""


def font_file(bold: bool = False) -> Path:
    """The TrueType file of the sheets' typeface."""
    return resource("fonts", "DejaVuSansCondensed-Bold.ttf" if bold else "DejaVuSansCondensed.ttf")


def text_width(words: str, size: float, bold: bool = False) -> float:
    """Width in mm of one line of text whose em is `size` mm: the sum of its letters' advances."""
    return sum(_advance(letter, bold) for letter in words) * size / _UNITS


def wrapped(words: str, size: float, width: float, bold: bool = False) -> list[str]:
    """The text in lines no wider than `width` mm, broken at spaces; a word wider than that is broken inside.

    Line breaks in the text are kept. An empty text is one empty line.
    """
    lines: list[str] = []
    for paragraph in words.split("\n"):
        line = ""
        for word in paragraph.split():
            longer = f"{line} {word}" if line else word
            if text_width(longer, size, bold) <= width:
                line = longer
                continue
            if line:
                lines.append(line)
            line = word
            while text_width(line, size, bold) > width and len(line) > 1:
                cut = len(line) - 1
                while cut > 1 and text_width(line[:cut], size, bold) > width:
                    cut -= 1
                lines.append(line[:cut])
                line = line[cut:]
        lines.append(line)
    return lines


def shortened(words: str, size: float, width: float, bold: bool = False) -> str:
    """The text, or as much of its beginning as fits into `width` mm with an ellipsis; "" if not even that."""
    if text_width(words, size, bold) <= width:
        return words
    for cut in range(len(words) - 1, 0, -1):
        short = words[:cut].rstrip() + "…"
        if text_width(short, size, bold) <= width:
            return short
    return ""


@functools.cache
def _advance(letter: str, bold: bool) -> float:
    return float(_measure(bold).getlength(letter))


@functools.cache
def _measure(bold: bool):  # type: ignore[no-untyped-def]
    from PIL import ImageFont

    return ImageFont.truetype(str(font_file(bold)), _UNITS, layout_engine=ImageFont.Layout.BASIC)
