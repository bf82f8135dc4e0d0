"""How much more leather would take what has no place: an area to add, by the share of leather that becomes pieces."""

from __future__ import annotations

import math
from typing import Literal

from nestplan.geometry.units import MM2_PER_DM2, MM2_PER_FT2

__all__ = ["leather_to_add", "leather_to_add_in_words"]

NESTING_YIELD = 0.6
"""Share of leather that becomes cut pieces when more is bought: 'not less than 60 per cent' (furniture handbook,
furnituremaking.us); the estimate of area to add rests on it."""


def leather_to_add(net_area: float, units: Literal["mm", "in"]) -> str:
    """The leather that `net_area` (mm²) of finished pieces takes, in words, rounded up: to square decimetres, or to
    a quarter of a square foot."""
    area = net_area / NESTING_YIELD
    if units == "in":
        return f"{math.ceil(area / MM2_PER_FT2 * 4.0) / 4.0:.2f} ft²"
    return f"{math.ceil(area / MM2_PER_DM2):.0f} dm²"


def leather_to_add_in_words(net_area: float, count: int, units: Literal["mm", "in"]) -> str:
    """The sentence that so much more leather would take `count` finished pieces of `net_area` (mm²) in all."""
    all_of_them = "it" if count == 1 else f"all {count}"
    return (
        f"About {leather_to_add(net_area, units)} more leather, at a yield of {NESTING_YIELD:.0%}, would take "
        f"{all_of_them}."
    )
