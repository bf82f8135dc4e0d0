"""What an eye would see on a page, as checks: words over words, things beyond the margin, colours. For tests only."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable

import numpy as np
import shapely

from nestplan.drawing.lettering import text_width
from nestplan.drawing.pages import Page
from nestplan.drawing.primitives import Circle, Outline, Primitive, Text, bounds_of


def words_of(items: Iterable[Primitive]) -> list[str]:
    """All texts, in order."""
    return [item.words for item in items if isinstance(item, Text)]


def layers_of(items: Iterable[Primitive]) -> list[str]:
    """The layers' names in the order they were first drawn on."""
    return list(dict.fromkeys(item.layer for item in items))


def word_box(text: Text) -> shapely.Polygon:
    """The area that a text's capitals and small letters take, without descenders' tails."""
    width = text_width(text.words, text.size, text.bold)
    start = {"left": 0.0, "middle": -0.5, "right": -1.0}[text.anchor] * width
    turn = math.radians(text.angle)
    along, across = np.array((math.cos(turn), math.sin(turn))), np.array((-math.sin(turn), math.cos(turn)))
    at = np.array((text.x, text.y))
    low, high = -0.02 * text.size, 0.72 * text.size
    return shapely.Polygon(
        [at + along * (start + u * width) + across * v for u, v in ((0, low), (1, low), (1, high), (0, high))]
    )


def overprinted(items: Iterable[Primitive]) -> list[tuple[str, str]]:
    """Pairs of texts whose letters lie over each other."""
    texts = [(item.words, word_box(item)) for item in items if isinstance(item, Text) and item.words.strip()]
    tree = shapely.STRtree([box for _, box in texts])
    pairs = itertools.chain.from_iterable(
        ((n, int(m)) for m in tree.query(box) if n < m) for n, (_, box) in enumerate(texts)
    )
    return [(texts[n][0], texts[m][0]) for n, m in pairs if texts[n][1].intersection(texts[m][1]).area > 0.05]


def beyond(page: Page, margin: float = 10.0) -> list[str]:
    """What lies nearer to the edge than the margin, strokes and letters counted."""
    found = []
    for item in page.picture:
        if isinstance(item, Text):
            box = word_box(item).bounds
        else:
            half = item.stroke.width / 2 if item.stroke else 0.0
            low_x, low_y, high_x, high_y = bounds_of((item,))
            box = (low_x - half, low_y - half, high_x + half, high_y + half)
        if (
            box[0] < margin
            or box[1] < margin
            or box[2] > page.width - margin
            or box[3] > page.height - margin
        ):
            found.append(
                f"{item.layer}: {item.words if isinstance(item, Text) else type(item).__name__} {box}"
            )
    return found


def colors(items: Iterable[Primitive]) -> set[str]:
    """Every colour that is used."""
    used: set[str] = set()
    for item in items:
        if isinstance(item, Text):
            used.add(item.color)
            continue
        assert isinstance(item, Outline | Circle)
        if item.stroke:
            used.add(item.stroke.color)
        if item.fill and item.fill.color:
            used.add(item.fill.color)
        if item.fill and item.fill.hatch:
            used.add(item.fill.hatch.stroke.color)
    return used
