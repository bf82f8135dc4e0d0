"""Lines along the edge of a ring, set in from it, and spots at distances along a line: where a row of holes lies.

A line is (n, 2) float64, mm, from its start to its end; one that goes all the way round ends where it starts.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from nestplan.errors import InputError, told_length
from nestplan.geometry.reshape import nearest_spot
from nestplan.geometry.ring import offset_inward

__all__ = ["line_along_edge", "line_length", "shorter_is_clockwise", "spots_along"]

Line = npt.NDArray[np.float64]

_SAME_RING = 1e-6
"""mm: two distances that differ by less are equal."""


def line_along_edge(
    ring: Line,
    start: tuple[float, float],
    end: tuple[float, float] | None,
    *,
    inset: float = 0.0,
    clockwise: bool = False,
) -> Line:
    """The line that keeps `inset` mm inside the edge of `ring` (n, 2, counter-clockwise), from the spot of it nearest
    to `start` to the spot nearest to `end`; `end` None: all the way round.

    Corners that point outward stay sharp; round those that point inward it goes in an arc, so that it is nowhere
    nearer to the edge than `inset`. Raises InputError where the ring is too narrow for it.
    """
    rings = offset_inward(ring, inset)
    if not rings:
        raise InputError(
            f"The piece is nowhere wide enough for a row {told_length(inset)} from its edge.",
            place="inset",
            mend="Make it smaller.",
        )
    chosen = min(rings, key=lambda each: nearest_spot(each, start)[2])
    if end is not None:
        nearest = min(nearest_spot(each, end)[2] for each in rings)
        if nearest_spot(chosen, end)[2] > nearest + _SAME_RING:
            raise InputError(
                f"Between its ends the piece is too narrow for a row {told_length(inset)} from its edge.",
                place="inset",
                mend="Make it smaller, or make two rows.",
            )
    turned = chosen[::-1] if clockwise else chosen
    return _between(turned, start, end)


def shorter_is_clockwise(ring: Line, start: tuple[float, float], end: tuple[float, float]) -> bool:
    """Whether the shorter way along the edge of `ring` from `start` to `end` runs clockwise."""
    forth, back = (
        line_length(line_along_edge(ring, start, end, clockwise=clockwise)) for clockwise in (False, True)
    )
    return back < forth


def line_length(line: Line) -> float:
    """Its length, mm."""
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def spots_along(line: Line, distances: npt.ArrayLike) -> tuple[Line, npt.NDArray[np.float64]]:
    """The spots (k, 2), mm, at `distances` (k,) mm from the start of a line, measured along it, and the direction (k,)
    of the line there, degrees counter-clockwise from x.

    A spot at a corner has the direction of the part that begins there; on a line of no length it is 0.
    """
    steps = np.diff(line, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    steps, lengths, starts = steps[lengths > 0.0], lengths[lengths > 0.0], line[:-1][lengths > 0.0]
    if len(lengths) == 0:
        count = np.size(distances)
        return np.repeat(line[:1], count, axis=0), np.zeros(count)
    before = np.concatenate(([0.0], np.cumsum(lengths)))
    asked = np.clip(np.asarray(distances, dtype=np.float64), 0.0, before[-1])
    part = np.clip(np.searchsorted(before, asked + 1e-9, side="right") - 1, 0, len(lengths) - 1)
    share = (asked - before[part]) / lengths[part]
    spots = starts[part] + steps[part] * share[:, None]
    return spots, np.degrees(np.arctan2(steps[part, 1], steps[part, 0]))


def _between(ring: Line, start: tuple[float, float], end: tuple[float, float] | None) -> Line:
    """The part of a closed ring from the spot nearest to `start`, in the ring's own order, to that nearest to `end`."""
    first, begin, _ = nearest_spot(ring, start)
    last, stop, _ = (first, begin, 0.0) if end is None else nearest_spot(ring, end)
    behind = last < first or (
        last == first and (end is None or _on_the_way(ring[first], begin) > _on_the_way(ring[first], stop))
    )
    count = len(ring)
    reach = last + (count if behind else 0)
    corners = [ring[number % count] for number in range(first + 1, reach + 1)]
    return np.array([begin, *corners, stop], dtype=np.float64)


def _on_the_way(corner: Line, spot: tuple[float, float]) -> float:
    return float(np.hypot(*(np.asarray(spot) - corner)))
