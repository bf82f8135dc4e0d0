"""How much lace for a join or an edge that is given by figures alone, and in how many pieces lace is worked.

The law of the path is `model.lacing`'s; laced joins of a job are in `model.laced_joins`. Where the lace is cut from is
nesting's.
All lengths are mm; a join is measured at the widest opening its wearer uses, never at the closed one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from nestplan.errors import InputError
from nestplan.estimate.fit import need_lengths
from nestplan.geometry.units import show_length
from nestplan.model.lacing import EDGE_STITCHES, edge_lace_length, lace_path_of, path_length

__all__ = [
    "WORKING_LENGTH",
    "LacePieces",
    "RegularJoin",
    "edge_lacing_length",
    "hole_columns",
    "join_length",
    "spacing_warnings",
    "split_lace",
]

WORKING_LENGTH = 2 * 914.4
"""Longest lace worked at a time: about 2 yd, since pulling wears it (a supplier's guide)."""

Points = NDArray[np.float64]


_MOST_HOLES = 100_000
"""Of one laced edge, beyond any: 100 m in steps of a millimetre."""


@dataclass(frozen=True)
class RegularJoin:
    """Two edges laced together through pairs of holes at equal distances.

    `pairs` of holes stand `pitch` apart along the edges, `inset` from each edge to the hole's centre; the
    edges stand `widest_gap` apart at the widest opening the wearer uses. `tail` is left at each end to tie,
    `thickness` what the lace passes through at each hole. Raises InputError, told in `units`, for figures that make
    no join.
    """

    pairs: int
    pitch: float
    widest_gap: float
    inset: float
    tail: float = 150.0
    path: str = "criss-cross"
    thickness: float = 0.0
    units: Literal["mm", "in"] = "mm"

    def __post_init__(self) -> None:
        lace_path_of(self.path, "path")
        if self.pairs < 2:
            raise InputError(
                "A laced join needs two pairs of holes or more.", mend="Add holes.", place="pairs"
            )
        need_lengths(
            "A laced join",
            self.units,
            above_zero={"pitch": self.pitch},
            zero_or_more={
                "gap": self.widest_gap,
                "inset": self.inset,
                "tail": self.tail,
                "thickness": self.thickness,
            },
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


def join_length(join: RegularJoin) -> float:
    """Lace for one laced join at its widest opening, mm, by the path it takes."""
    return path_length(
        lace_path_of(join.path),
        *hole_columns(join.pairs, join.pitch, join.reach),
        tail=join.tail,
        thickness=(join.thickness, join.thickness),
    )


def edge_lacing_length(
    distance: float,
    stitch: str,
    *,
    pitch: float | None = None,
    inset: float = 0.0,
    thickness: float = 0.0,
    units: Literal["mm", "in"] = "mm",
) -> float:
    """Lace for a laced edge `distance` mm long, without tails.

    With the `pitch` of its holes, `inset` from the edge, in a stack of `thickness`, the way of a running or a whip
    stitch is worked out, the pitch made even; else, and for other stitches, the stitch's multiple of the distance.
    Raises InputError for a stitch that is not known and, told in `units`, for figures that make no edge.
    """
    need_lengths(
        "A laced edge",
        units,
        above_zero={"length": distance, "pitch": distance if pitch is None else pitch},
        zero_or_more={"inset": inset, "thickness": thickness},
    )
    if pitch is None and stitch in EDGE_STITCHES:
        return EDGE_STITCHES[stitch].multiple * distance
    if distance > _MOST_HOLES * (pitch or distance):
        raise InputError(
            f"A laced edge cannot have more than {_MOST_HOLES:,} holes.",
            mend="Check length and pitch.",
            place="pitch",
        )
    steps = max(1, round(distance / (pitch or distance)))
    return edge_lace_length(stitch, [distance / steps] * steps, inset=inset, thickness=thickness)


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


def spacing_warnings(holes: Points, rim: float, *, units: Literal["mm", "in"] = "mm") -> tuple[str, ...]:
    """What a maker should look at again in a row of holes (n, 2), mm, told in `units`; empty if nothing.

    Rims (`rim` mm across: the grommet's flange, or the hole itself) that touch, and pitches along the row
    that differ by more than 1 mm. How near a hole may come to the edge is the piece's own warning.
    """
    pitches = np.hypot(*np.diff(np.asarray(holes, dtype=float), axis=0).T)

    def shown(mm: float) -> str:
        return show_length(mm, units, decimals=2 if units == "in" else 1)

    found = [
        f"Holes {place} and {place + 1} are {shown(pitch)} apart; their rims of {shown(rim)} touch."
        for place, pitch in enumerate(pitches, start=1)
        if pitch < rim
    ]
    if len(pitches) > 1 and float(np.ptp(pitches)) > 1.0:
        found.append(
            f"The holes are not evenly spaced: {shown(pitches.min())} to {shown(pitches.max())} apart."
        )
    return tuple(found)
