"""Patterns over areas as plain short lines and dots, so that every paper shows the same pattern.

Scan lines are cut with the area by the even-odd rule.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from nestplan.drawing.primitives import Hatch, Points

__all__ = [
    "hatch_lines",
]

_MAX_LINES = 4000
"""An area that would need more lines than this is left without its pattern."""


def hatch_lines(rings: Sequence[Points], hatch: Hatch) -> list[Points]:
    """The pattern's strokes inside `rings` (even-odd): a list of (2, 2) segments in mm.

    Dots come as segments of zero length (drawn with round ends); "dashes" are broken lines set like bricks,
    "cross" is lines both ways.
    """
    if hatch.kind == "cross":
        return _scan(rings, hatch.spacing, hatch.angle) + _scan(rings, hatch.spacing, hatch.angle + 90.0)
    rows = _scan(rings, hatch.spacing, hatch.angle)
    if hatch.kind == "lines":
        return rows
    step = hatch.spacing if hatch.kind == "dots" else hatch.spacing * 2.5
    length = 0.0 if hatch.kind == "dots" else hatch.spacing * 1.4
    return _dots_or_dashes(rows, step, length, hatch)


def _scan(rings: Sequence[Points], spacing: float, angle: float) -> list[Points]:
    """Parallel segments at `spacing` mm and `angle` degrees inside the rings.

    The lines lie on one grid through the origin whatever the area, so that neighbours' patterns agree.
    """
    turn = math.radians(angle)
    along = np.array((math.cos(turn), math.sin(turn)))
    across = np.array((-along[1], along[0]))
    starts = np.vstack(list(rings))
    ends = np.vstack([np.roll(ring, -1, axis=0) for ring in rings])
    height_a, height_b = starts @ across, ends @ across
    low, high = float(height_a.min()), float(height_a.max())
    first, last = math.ceil(low / spacing), math.floor(high / spacing)
    if last - first > _MAX_LINES:
        return []
    segments: list[Points] = []
    for number in range(first, last + 1):
        # A tiny shift keeps the scan line off vertices that lie exactly on the grid.
        height = number * spacing + spacing * 1e-7
        crossing = (height_a > height) != (height_b > height)
        if not crossing.any():
            continue
        share = (height - height_a[crossing]) / (height_b[crossing] - height_a[crossing])
        reach = np.sort((starts[crossing] + share[:, None] * (ends[crossing] - starts[crossing])) @ along)
        base = across * height
        for enter, leave in zip(reach[0::2], reach[1::2], strict=False):
            segments.append(np.array((base + along * enter, base + along * leave)))
    return segments


def _dots_or_dashes(rows: Sequence[Points], step: float, length: float, hatch: Hatch) -> list[Points]:
    """Dots or dashes on the grid along each row, every second row shifted by half a step."""
    turn = math.radians(hatch.angle)
    along = np.array((math.cos(turn), math.sin(turn)))
    across = np.array((-along[1], along[0]))
    marks: list[Points] = []
    for row in rows:
        enter, leave = row @ along
        base = across * float(row[0] @ across)
        odd = round(float(row[0] @ across) / hatch.spacing) % 2 * step / 2.0
        number = math.ceil((enter - odd) / step)
        while (at := number * step + odd) <= leave:
            marks.append(np.array((base + along * at, base + along * min(at + length, leave))))
            number += 1
    return marks
