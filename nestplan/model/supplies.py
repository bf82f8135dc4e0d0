"""The workshop's settings for hardware, thread, glue, waiting times and money, as a job carries them.

What a job needs of them is computed in `estimate.supplies`.
"""

from __future__ import annotations

from nestplan.model.values import Length, Record, need, need_finite

__all__ = ["Supplies"]


class Supplies(Record, frozen=True, kw_only=True):
    """Settings that turn pieces into a shopping list. All can be changed; defaults carry their source.

    `thread_waste` 0.15: 10-15 % is usual (apparelscience.com). `stitches_per_inch` 6 and `glue_coats` 2 are
    common practice. `glue_cover` is m² of one coat on one face per litre; a maker's data sheet of 2015 gives
    about 77 ft² a quart, 7.56 m² a litre; the label on the can comes first. Waiting times in minutes are
    common practice, no source: the maker's label comes first.
    """

    stitches_per_inch: float = 6.0
    thread_waste: float = 0.15
    glue_band: Length | None = None
    glue_coats: int = 2
    glue_cover: float = 7.56
    minutes_before_joining: float = 5.0
    minutes_before_trimming: float = 30.0
    prices: dict[str, float] = {}
    labour: float = 0.0

    def __post_init__(self) -> None:
        need_finite("supplies", self.stitches_per_inch, self.thread_waste, self.glue_cover, self.labour)
        need(
            self.stitches_per_inch > 0,
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
        need(self.glue_cover > 0, "It must be more than 0.", place="glue_cover", mend="Change it.")
