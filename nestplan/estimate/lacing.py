"""How much lace: laced joins by the path the lace takes, edge lacing by its stitch, and in how many pieces.

Here live the path of a lace through the holes of a join, its length, and the check of hole spacing. Where the
lace is cut from is nesting's; where the holes are is the piece's.
All lengths are mm; a join is measured at the widest opening its wearer uses, never at the closed one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestplan.errors import InputError

__all__ = [
    "CROSSINGS",
    "EDGE_LACING",
    "WORKING_LENGTH",
    "LacePieces",
    "LacedJoin",
    "edge_lacing_length",
    "hole_columns",
    "join_length",
    "lace_paths",
    "path_length",
    "spacing_warnings",
    "split_lace",
]

WORKING_LENGTH = 2 * 914.4
"""Longest lace worked at a time: about 2 yd, since pulling wears it (a supplier's guide)."""

CROSSINGS: dict[str, str] = {
    "crossover": "a bar through the first pair, then both ends cross over at every pair",
    "bars": "one end: a bar through every pair, up one side and the other in turn",
    "ladder": "a bar through the first pair, then both ends go up a hole, pass each other across, and so on",
    "zigzag": "one end: across every pair and slanting to the next, always from the same side",
}
"""Crossings of a laced join: how the lace goes from hole to hole."""

EDGE_LACING: dict[str, float] = {
    "running": 1.5,
    "buck": 2.5,
    "whip": 3.5,
    "single loop": 6.5,
    "double loop": 8.5,
    "round braid": 8.0,
    "triple loop": 9.0,
}
"""Lace for each length of laced edge, as multiples. Running to round braid: a supplier's guide; triple loop:
about 9, depends on hole spacing and edge distance (kingsmerecrafts.info p. 97)."""

Points = NDArray[np.float64]


@dataclass(frozen=True)
class LacedJoin:
    """Two edges laced together through pairs of holes.

    `pairs` of holes stand `pitch` apart along the edges, `inset` from each edge to the hole's centre; the
    edges stand `widest_gap` apart at the widest opening the wearer uses. `tail` is left at each end to tie,
    `thickness` what the lace passes through at each hole. Raises InputError for figures that make no join.
    """

    pairs: int
    pitch: float
    widest_gap: float
    inset: float
    tail: float = 150.0
    crossing: str = "crossover"
    thickness: float = 0.0

    def __post_init__(self) -> None:
        if self.crossing not in CROSSINGS:
            raise InputError(
                f"There is no crossing called '{self.crossing}'.",
                mend=f"Take one of: {', '.join(CROSSINGS)}.",
                place="crossing",
            )
        if self.pairs < 2:
            raise InputError(
                "A laced join needs two pairs of holes or more.", mend="Add holes.", place="pairs"
            )
        for place, least in (
            ("pitch", 1e-9),
            ("widest_gap", 0.0),
            ("inset", 0.0),
            ("tail", 0.0),
            ("thickness", 0.0),
        ):
            value = getattr(self, place)
            if not (math.isfinite(value) and value >= least):
                raise InputError(
                    f"A laced join cannot have {place} = {value}.", mend="Correct it.", place=place
                )

    @property
    def reach(self) -> float:
        """Distance across from hole centre to hole centre at the widest opening."""
        return self.widest_gap + 2.0 * self.inset


@dataclass(frozen=True)
class LacePieces:
    """Lace in pieces one can work with: `count` of `each` mm, `splices` between, `total` mm to cut."""

    count: int
    each: float
    splices: int
    total: float


def hole_columns(pairs: int, pitch: float, reach: float) -> tuple[Points, Points]:
    """Left and right holes (pairs, 2) of a regular join, mm, upwards from the first pair."""
    heights = np.arange(pairs) * pitch
    return (
        np.column_stack([np.zeros(pairs), heights]),
        np.column_stack([np.full(pairs, reach), heights]),
    )


def lace_paths(crossing: str, left: Points, right: Points) -> tuple[Points, ...]:
    """The polyline(s) (k, 2) a lace takes through holes `left` and `right` (n, 2), without its tails.

    Two halves where the lace has two working ends, both starting at the left hole of the first pair and the
    first bar counted in the first half only. Raises InputError for an unknown crossing or columns that do not
    match.
    """
    left, right = np.asarray(left, dtype=float), np.asarray(right, dtype=float)
    if left.shape != right.shape or left.ndim != 2 or left.shape[1] != 2 or len(left) < 2:
        raise InputError(
            "The two edges need the same number of holes, two or more.",
            mend="Match the holes.",
            place="holes",
        )
    count = len(left)
    sides = (left, right)
    if crossing == "crossover":
        ends = [[sides[(start + row) % 2][row] for row in range(count)] for start in (1, 0)]
        return np.array([left[0], *ends[0]]), np.array(ends[1])
    if crossing == "bars":
        rows = [sides[side][row] for row in range(count) for side in ((0, 1) if row % 2 == 0 else (1, 0))]
        return (np.array(rows),)
    if crossing == "zigzag":
        return (np.array([sides[side][row] for row in range(count) for side in (0, 1)]),)
    if crossing == "ladder":
        halves = []
        for start in (1, 0):
            half, side = [sides[start][0]], start
            for row in range(1, count):
                half += [sides[side][row], sides[1 - side][row]]
                side = 1 - side
            halves.append(half)
        return np.array([left[0], *halves[0]]), np.array(halves[1])
    raise InputError(
        f"There is no crossing called '{crossing}'.",
        mend=f"Take one of: {', '.join(CROSSINGS)}.",
        place="crossing",
    )


def path_length(paths: Sequence[Points], *, tail: float = 0.0, thickness: float = 0.0) -> float:
    """Length of lace along `paths`, mm, with two tails and a pass through the leather at every hole used."""
    drawn = sum(float(np.hypot(*np.diff(path, axis=0).T).sum()) for path in paths)
    passes = sum(len(path) for path in paths) - (1 if len(paths) == 2 else 0)
    return drawn + 2.0 * tail + passes * thickness


def join_length(join: LacedJoin) -> float:
    """Lace for one laced join at its widest opening, mm, by the path it takes."""
    paths = lace_paths(join.crossing, *hole_columns(join.pairs, join.pitch, join.reach))
    return path_length(paths, tail=join.tail, thickness=join.thickness)


def edge_lacing_length(distance: float, stitch: str, *, spare: float = 0.0) -> float:
    """Lace for a laced edge `distance` mm long: the stitch's multiple of it, plus `spare` mm to start and
    end.

    Raises InputError for a stitch that is not in `EDGE_LACING` or a distance that is not above 0.
    """
    if stitch not in EDGE_LACING:
        raise InputError(
            f"There is no edge lacing called '{stitch}'.",
            mend=f"Take one of: {', '.join(EDGE_LACING)}.",
            place="stitch",
        )
    if not (math.isfinite(distance) and distance > 0.0 and spare >= 0.0):
        raise InputError("A laced edge needs a length above 0.", mend="Give it in mm.", place="distance")
    return EDGE_LACING[stitch] * distance + spare


def split_lace(length: float, *, longest: float = WORKING_LENGTH, overlap: float = 20.0) -> LacePieces:
    """The fewest equal pieces no longer than `longest` that make up `length`, with `overlap` at each splice.

    Splices are skived and cemented, so each one costs `overlap` mm (a setting of ours, not a published
    figure). Raises InputError unless 0 <= overlap < longest and length > 0.
    """
    if not (length > 0.0 and 0.0 <= overlap < longest):
        raise InputError(
            "Lace in pieces needs a length above 0 and an overlap shorter than a piece.",
            mend="Correct length, longest or overlap.",
            place="lace",
        )
    count = max(1, math.ceil((length - overlap) / (longest - overlap) - 1e-9))
    total = length + (count - 1) * overlap
    return LacePieces(count, total / count, count - 1, total)


def spacing_warnings(holes: Points, rim: float) -> tuple[str, ...]:
    """What a maker should look at again in a row of holes (n, 2), mm; empty if nothing.

    Rims (`rim` mm across: the grommet's flange, or the hole itself) that touch, and pitches along the row
    that differ by more than 1 mm. How near a hole may come to the edge is the piece's own warning.
    """
    pitches = np.hypot(*np.diff(np.asarray(holes, dtype=float), axis=0).T)
    found = [
        f"Holes {place} and {place + 1} are {pitch:.1f} mm apart; their rims of {rim:.1f} mm touch."
        for place, pitch in enumerate(pitches, start=1)
        if pitch < rim
    ]
    if len(pitches) > 1 and float(np.ptp(pitches)) > 1.0:
        found.append(f"The holes are not evenly spaced: {pitches.min():.1f} to {pitches.max():.1f} mm apart.")
    return tuple(found)
