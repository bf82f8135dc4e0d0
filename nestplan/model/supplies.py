"""The workshop's settings for hardware, thread, glue, waiting times and money, as a job carries them.

What a job needs of them is computed in `estimate.supplies`.
"""

from __future__ import annotations

import math
from typing import Literal

from nestplan.model.values import LEAST_LENGTH, Length, Record, need, need_at_most, need_finite, need_range

__all__ = ["Supplies"]


class Supplies(Record, frozen=True, kw_only=True):
    """Settings that turn pieces into a shopping list. All can be changed; defaults carry their source.

    `stitch`: sewn by machine (`lockstitch`), or by hand with two needles (`saddle`). `prices` are for one piece, a
    metre or a litre.

    `thread_waste` 0.15: 10-15 % is usual (apparelscience.com). `stitches_per_inch` 6 and `glue_coats` 2 are
    common practice. `glue_cover` is m² of one coat on one face per litre; a maker's data sheet of 2015 gives
    about 77 ft² a quart, 7.56 m² a litre; the label on the can comes first. Waiting times in minutes are
    those of the label; left out, the sheets refer to it.
    """

    stitch: Literal["lockstitch", "saddle"] = "lockstitch"
    stitches_per_inch: float = 6.0
    thread_waste: float = 0.15
    glue_band: Length | None = None
    glue_coats: int = 2
    glue_cover: float = 7.56
    minutes_before_joining: float | None = None
    minutes_before_trimming: float | None = None
    prices: dict[str, float] = {}
    labour: float = 0.0

    def __post_init__(self) -> None:
        need_finite("supplies", self.stitches_per_inch, self.thread_waste, self.glue_cover, self.labour)
        need_finite("supplies", self.glue_band, self.minutes_before_joining, self.minutes_before_trimming)
        need_range("stitches_per_inch", self.stitches_per_inch, -math.inf, 1000.0, "")
        need_range("glue_cover", self.glue_cover, -math.inf, 1e6, "")
        need_range("glue_band", self.glue_band, LEAST_LENGTH, 1000.0)
        need_range("labour", self.labour, -1e9, 1e9, "")
        need_at_most("prices", self.prices, 10_000)
        need_finite("prices", *self.prices.values())
        for minutes in ("minutes_before_joining", "minutes_before_trimming"):
            need_range(minutes, getattr(self, minutes), 0.0, 100_000.0, "")
        need(
            self.stitches_per_inch >= 0.01,
            "It must be more than 0.",
            place="stitches_per_inch",
            mend="Change it.",
        )
        need(
            0 <= self.thread_waste <= 5,
            "It must lie between 0 and 5.",
            place="thread_waste",
            mend="Change it.",
        )
        need(
            1 <= self.glue_coats <= 10, "It must lie between 1 and 10.", place="glue_coats", mend="Change it."
        )
        need(self.glue_cover >= 0.001, "It must be more than 0.", place="glue_cover", mend="Change it.")
