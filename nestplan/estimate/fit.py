"""From a wearer's measures to sizes: panel widths of a laced belt, the range one belt fits, plain belt
blanks.

How a pattern is stretched to those sizes lives in `grading`; how much lace the joins take in `lacing`.
All lengths are mm; what is refused is told in the `units` asked for.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from nestplan.errors import InputError, RuleError
from nestplan.geometry.units import show_length

__all__ = [
    "BeltBlank",
    "BeltSize",
    "belt_blank",
    "need_lengths",
    "panel_widths",
    "sizes_for",
    "waist_of",
    "waist_range",
]

Units = Literal["mm", "in"]
SizedBy = Literal["waist", "trousers", "belt"]

TROUSER_ALLOWANCE = 50.8
"""Trouser sizes run smaller than the belt that holds them: about 2 in (belt-making book sample, zloadr.com
111134)."""
HOLE_PITCH = 25.0
"""Holes 25 mm apart (training page, sites.google.com cobblix belts)."""
FOLD = 88.9
"""Fold round the buckle: 3.5 in (oakhillwanderer 2011/12); a training page has about 6 cm."""
TIP_TO_WIDTH = 2.5
"""Last hole to the point: 2.5 widths of the strap (traditional saddlery rule)."""


@dataclass(frozen=True)
class BeltSize:
    """One size of laced belt: the sum of its `panels`, mm, and the waists it fits, `least` to `most`."""

    panels: float
    least: float
    most: float
    wearers: tuple[int, ...]


@dataclass(frozen=True)
class BeltBlank:
    """A plain belt to cut: `length` x `width`, mm.

    `fold_at` is where it folds round the buckle, from the buckle end; `holes` are the hole centres from the
    same end, the middle one worn; `tail` runs from the last hole to the point. `worn` is the belt's own size:
    buckle to worn hole.
    """

    length: float
    width: float
    fold_at: float
    holes: tuple[float, ...]
    tail: float
    worn: float


def waist_of(panels: Sequence[float], gap: float, joins: int | None = None, *, units: Units = "mm") -> float:
    """Waist that a belt closes at: the sum of its panels plus joins x gap.

    `gap` is between the edges at each join; a belt laced all round has as many joins as panels (the default).
    """
    widths = _checked_panels(panels)
    need_lengths("A belt", units, zero_or_more={"gap": gap})
    return sum(widths) + _joins(len(widths), joins) * gap


def waist_range(
    panels: Sequence[float],
    closed_gap: float,
    widest_gap: float,
    joins: int | None = None,
    *,
    units: Units = "mm",
) -> tuple[float, float]:
    """Waists one belt fits, from all joins at `closed_gap` to all at `widest_gap`.

    Raises InputError for gaps or panels that make no belt.
    """
    if not 0.0 <= closed_gap <= widest_gap:
        raise InputError(
            f"The gap cannot be {show_length(closed_gap, units)} when closed and {show_length(widest_gap, units)} at "
            "its widest.",
            mend="Give 0 or more when closed, and no less at its widest.",
            place="gap",
        )
    least, most = (waist_of(panels, gap, joins, units=units) for gap in (closed_gap, widest_gap))
    return least, most


def panel_widths(
    waist: float, shares: Sequence[float], gap: float, joins: int | None = None, *, units: Units = "mm"
) -> tuple[float, ...]:
    """Panel widths that close at `waist` with `gap` at each join, in the proportion of `shares`.

    The inverse of `waist_of`. Raises RuleError where the gaps alone take up the waist.
    """
    parts = _checked_panels(shares)
    left = waist - _joins(len(parts), joins) * gap
    if not left > 0.0:
        raise RuleError(
            f"The gaps alone take up {show_length(waist - left, units)} of a waist of {show_length(waist, units)}.",
            mend="Ask for a smaller gap or fewer joins.",
        )
    return tuple(left * part / sum(parts) for part in parts)


def sizes_for(
    waists: Sequence[float], panels: int, closed_gap: float, widest_gap: float, *, units: Units = "mm"
) -> tuple[BeltSize, ...]:
    """The fewest belt sizes that fit all `waists`, each belt laced all round with `panels` joins.

    A belt whose panels add up to s fits s + panels * closed_gap to s + panels * widest_gap. Taking the
    smallest waist not yet fitted as the closed size of the next belt is optimal for intervals of one width
    (greedy stabbing). `wearers` are indices into `waists`.

    Raises InputError for no waists, or waists smaller than the gaps alone.
    """
    if not waists:
        raise InputError("No waist is given.", mend="Give the wearers' waists.", place="waists")
    if min(waists) <= panels * widest_gap:
        smallest, gap = show_length(min(waists), units), show_length(widest_gap, units)
        raise InputError(
            f"A waist of {smallest} leaves nothing for panels beside {panels} gaps of {gap}.",
            mend="Check waists and gaps.",
            place="waists",
        )
    waist_range([1.0] * panels, closed_gap, widest_gap, units=units)
    sizes: list[BeltSize] = []
    order = sorted(range(len(waists)), key=lambda wearer: waists[wearer])
    while order:
        least = waists[order[0]]
        most = least + panels * (widest_gap - closed_gap)
        fitted = tuple(wearer for wearer in order if waists[wearer] <= most + 1e-9)
        sizes.append(BeltSize(least - panels * closed_gap, least, most, fitted))
        order = order[len(fitted) :]
    return tuple(sizes)


def belt_blank(
    size: float,
    width: float,
    *,
    sized_by: SizedBy,
    holes: int = 5,
    pitch: float = HOLE_PITCH,
    fold: float = FOLD,
    tail: float | None = None,
    trouser_allowance: float = TROUSER_ALLOWANCE,
    units: Units = "mm",
) -> BeltBlank:
    """The blank of a plain belt that is worn at its middle hole.

    `size` is told apart by `sized_by`: a `waist` measured over the clothes where the belt sits, a `trousers`
    size (not a belt size: `trouser_allowance` is added), or an old `belt` from the fold at the buckle to the
    hole used. Length = fold + size to the middle hole + half the row of holes + tail; `tail` defaults to 2.5
    widths. Raises InputError for an even number of holes (none would be the middle one) or figures not above
    0.
    """
    if sized_by not in ("waist", "trousers", "belt"):
        raise InputError(
            f"A belt is not sized by '{sized_by}'.",
            mend="Take one of: waist, trousers, belt.",
            place="sized by",
        )
    if holes < 1 or holes % 2 == 0:
        raise InputError(
            f"{holes} holes have no middle one.",
            mend="Take an odd number, 5 or 7 as is usual.",
            place="holes",
        )
    tail = TIP_TO_WIDTH * width if tail is None else tail
    need_lengths(
        "A belt", units, above_zero={"size": size, "width": width, "pitch": pitch, "fold": fold, "tail": tail}
    )
    worn = size + (trouser_allowance if sized_by == "trousers" else 0.0)
    reach = (holes - 1) / 2 * pitch
    if reach >= worn:
        raise InputError("The row of holes is longer than the belt.", mend="Take fewer holes.", place="holes")
    row = tuple(fold + worn - reach + place * pitch for place in range(holes))
    return BeltBlank(row[-1] + tail, width, fold, row, tail, worn)


def need_lengths(
    what: str,
    units: Units,
    *,
    above_zero: Mapping[str, float] | None = None,
    zero_or_more: Mapping[str, float] | None = None,
) -> None:
    """Nothing, if the lengths (mm, by their names) that `what` has are above zero, or zero or more, and finite.

    Raises InputError, told in `units`, if one is not.
    """
    for lengths, from_zero in ((above_zero or {}, False), (zero_or_more or {}, True)):
        for name, length in lengths.items():
            if math.isfinite(length) and (length > 0.0 or (from_zero and length == 0.0)):
                continue
            told = show_length(length, units) if math.isfinite(length) else str(length)
            raise InputError(
                f"{what} cannot have a {name} of {told}.",
                mend="Give 0 or more." if from_zero else "Give more than 0.",
                place=name,
            )


def _checked_panels(panels: Sequence[float]) -> tuple[float, ...]:
    widths = tuple(float(width) for width in panels)
    if not widths or not all(math.isfinite(width) and width > 0.0 for width in widths):
        raise InputError(
            "A belt needs panels, each wider than 0.", mend="Correct the panel widths.", place="panels"
        )
    return widths


def _joins(panels: int, joins: int | None) -> int:
    if joins is None:
        return panels
    if joins < 0:
        raise InputError(f"A belt cannot have {joins} joins.", mend="Give 0 or more.", place="joins")
    return joins
