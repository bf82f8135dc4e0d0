"""Where the letter of a flaw stands: beside it, off the pieces, the edges of the leather and the other letters."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

__all__ = ["Lines", "letter_place", "lines_of"]

Lines = np.ndarray
"""(n, 2, 2) float64: straight lines from point to point; scene, mm."""

_AIR = 2.0
"""Pixels left between a letter and its flaw."""
_DIAGONALS = ((1.0, -1.0), (-1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))
_AXES = ((1.0, 0.0), (-1.0, 0.0), (0.0, -1.0), (0.0, 1.0))
_SIDES = (*_DIAGONALS, *_AXES)
"""On which sides of a flaw its letter may stand (scene: y grows downward), the best first."""


def lines_of(rings: Sequence[np.ndarray]) -> Lines:
    """The edges of rings (n, 2)."""
    parts = [np.stack((ring, np.roll(ring, -1, axis=0)), axis=1) for ring in rings]
    return np.concatenate(parts) if parts else np.empty((0, 2, 2))


def letter_place(
    flaw: np.ndarray,
    size: tuple[float, float],
    scale: float,
    pieces: Sequence[np.ndarray],
    edges: Lines,
    taken: Sequence[tuple[float, float]],
) -> tuple[float, float] | None:
    """The middle of a flaw's letter (scene, mm) at `scale` pixels a mm, `size` (width, height) in pixels.

    `flaw` and `pieces` are rings (n, 2), `edges` other lines it keeps off, `taken` the middles of other letters. Where
    on every side it would lie on something it stands in the middle of its own flaw; None if another letter is there.
    """
    low, high = flaw.min(axis=0), flaw.max(axis=0)
    middle, half = (low + high) / 2, np.asarray(size) / 2 / scale
    reach = half * 4 + _AIR / scale
    near = [
        ring
        for ring in pieces
        if np.all(ring.max(axis=0) >= low - reach) and np.all(ring.min(axis=0) <= high + reach)
    ]
    lines = np.concatenate((lines_of(near), edges))
    for side in _SIDES:
        toward = np.asarray(side)
        furthest = flaw[int((flaw @ toward).argmax())]
        place = furthest + toward * (half + _AIR / scale)
        if (
            not _on_lines(place, half, lines)
            and not any(_inside(place, ring) for ring in near)
            and not _meets_letter(place, half, taken)
        ):
            return float(place[0]), float(place[1])
    return None if _meets_letter(middle, half, taken) else (float(middle[0]), float(middle[1]))


def _meets_letter(place: np.ndarray, half: np.ndarray, taken: Sequence[tuple[float, float]]) -> bool:
    """Whether a letter, by its middle and half its size, would lie on one of the others."""
    return any(bool(np.all(np.abs(place - other) < 2 * half)) for other in taken)


def _on_lines(place: np.ndarray, half: np.ndarray, lines: Lines) -> bool:
    """Whether a box, by its middle and half its size, meets any of the lines (by the three axes that can part them)."""
    if not len(lines):
        return False
    along = (lines[:, 1] - lines[:, 0]) / 2
    away = (lines[:, 1] + lines[:, 0]) / 2 - place
    apart = np.any(np.abs(away) > half + np.abs(along), axis=1)
    across = np.abs(along[:, 0] * away[:, 1] - along[:, 1] * away[:, 0])
    apart |= across > half[0] * np.abs(along[:, 1]) + half[1] * np.abs(along[:, 0])
    return not bool(np.all(apart))


def _inside(place: np.ndarray, ring: np.ndarray) -> bool:
    """Whether a point lies inside a ring, by how often a level line from it crosses the ring."""
    after = np.roll(ring, -1, axis=0)
    crosses = (ring[:, 1] > place[1]) != (after[:, 1] > place[1])
    rise = np.where(crosses, after[:, 1] - ring[:, 1], 1.0)
    at = ring[:, 0] + (place[1] - ring[:, 1]) / rise * (after[:, 0] - ring[:, 0])
    return bool(np.count_nonzero(crosses & (at > place[0])) % 2)
