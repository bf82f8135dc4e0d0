"""Cut lines without double lines: a straight edge that two shapes share is cut once, with the earlier shape.

Plain geometry over rings; which shapes there are and in which order is said by whoever asks.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from nestplan.drawing.primitives import Points

__all__ = ["CutLine", "SharedCuts"]

_SHORTEST = 5.0
"""Shorter edges are not looked at, mm: they are parts of curves, which shapes do not share."""
_TOLERANCE = 0.02
"""Two edges are one cut if they lie no farther apart than this, mm; a plan's numbers are good to 0.0001 mm."""
_CELL = 50.0
"""Side of a cell of the grid, mm."""

CutLine = tuple[Points, bool]
"""A line (n, 2) in mm, and whether it is closed."""
Edge = tuple[float, float, float, float]


class SharedCuts:
    """Remembers what has been cut, and gives of each further ring only what is new.

    Edges are kept by the cells of a square grid that they pass, so that a look at an edge's own cells finds
    every edge that may lie along it.
    """

    def __init__(self) -> None:
        self._cut: dict[tuple[int, int], list[Edge]] = {}

    def new_lines(self, ring: Points) -> list[CutLine]:
        """What is still to be cut of a closed ring (n, 2), mm, as (points, closed) lines in the ring's order.

        A ring that shares nothing comes back whole and closed; otherwise open lines; nothing if all is cut.
        """
        ends = np.roll(ring, -1, axis=0)
        edges = [(*start, *end) for start, end in zip(ring.tolist(), ends.tolist(), strict=True)]
        stretches = [self._uncut(edge) for edge in edges]
        for edge in edges:
            for cell in _cells(edge):
                self._cut.setdefault(cell, []).append(edge)
        if all(each == [(0.0, 1.0)] for each in stretches):
            return [(ring, True)]
        return [(line, False) for line in _joined(ring, ends, stretches)]

    def _uncut(self, edge: Edge) -> list[tuple[float, float]]:
        """The shares of an edge (0 at its start, 1 at its end) that nothing cut so far covers."""
        x, y, ex, ey = edge
        length = math.hypot(ex - x, ey - y)
        if length < _SHORTEST:
            return [(0.0, 1.0)]
        ux, uy = (ex - x) / length, (ey - y) / length
        covered = []
        for ax, ay, bx, by in {other for cell in _cells(edge) for other in self._cut.get(cell, ())}:
            if max(abs((ax - x) * uy - (ay - y) * ux), abs((bx - x) * uy - (by - y) * ux)) > _TOLERANCE:
                continue
            ends = sorted(
                (((ax - x) * ux + (ay - y) * uy) / length, ((bx - x) * ux + (by - y) * uy) / length)
            )
            if ends[1] > 0.0 and ends[0] < 1.0:
                covered.append((max(ends[0], 0.0), min(ends[1], 1.0)))
        return _rest(covered, _TOLERANCE / length)


def _cells(edge: Edge) -> Iterator[tuple[int, int]]:
    """The grid cells in and next to which an edge of _SHORTEST mm or more passes; none for a shorter one."""
    x, y, ex, ey = edge
    length = math.hypot(ex - x, ey - y)
    if length < _SHORTEST:
        return
    seen = set()
    steps = max(1, math.ceil(length / (0.5 * _CELL)))
    for step in range(steps + 1):
        px, py = x + (ex - x) * step / steps, y + (ey - y) * step / steps
        # An edge beside a cell's border may have its twin on the other side of it.
        for dx in (-_TOLERANCE, _TOLERANCE):
            for dy in (-_TOLERANCE, _TOLERANCE):
                seen.add((math.floor((px + dx) / _CELL), math.floor((py + dy) / _CELL)))
    yield from seen


def _rest(covered: Sequence[tuple[float, float]], least: float) -> list[tuple[float, float]]:
    rest, at = [], 0.0
    for low, high in sorted(covered):
        if low - at > least:
            rest.append((at, low))
        at = max(at, high)
    if 1.0 - at > least:
        rest.append((at, 1.0))
    return rest


def _joined(starts: Points, ends: Points, stretches: Sequence[Sequence[tuple[float, float]]]) -> list[Points]:
    """Stretches of consecutive edges put together into lines, also across the ring's first point."""
    lines: list[list[Points]] = []
    for start, end, shares in zip(starts, ends, stretches, strict=True):
        for low, high in shares:
            first = start + (end - start) * low
            last = end if high == 1.0 else start + (end - start) * high
            if lines and low == 0.0 and np.array_equal(lines[-1][-1], first):
                lines[-1].append(last)
            else:
                lines.append([first, last])
    if len(lines) > 1 and np.array_equal(lines[-1][-1], lines[0][0]):
        lines[0] = lines.pop()[:-1] + lines[0]
    return [np.array(line) for line in lines]
