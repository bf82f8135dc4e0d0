"""What is done inside the outline of a piece: marks (holes to punch, slits to cut, spots) and openings.

Rows of marks are in `mark_rows`; which layer has what, and when, is said by `layer_work`.
"""

from __future__ import annotations

import math
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np

from nestplan.geometry.ring import FARTHEST_MM
from nestplan.model.mark_kinds import MARK_KINDS, MarkKind
from nestplan.model.values import (
    LEAST_LENGTH,
    Length,
    MarkKindName,
    Name,
    Point,
    Points,
    Record,
    as_ring,
    need,
    need_finite,
    need_near,
    need_range,
    need_word,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Mark", "Opening", "When"]

When = Literal["before gluing", "after trimming"]
"""When something is done to a piece: to a layer by itself at the table, or to all its layers, glued and trimmed."""


class Mark(Record, frozen=True, kw_only=True):
    """Something done at a spot of a finished piece: a hole to punch, a slit to cut, or only a mark.

    `diameter` (mm) for a punched hole, `length` (mm) and `angle` (degrees) for a slit. `what` says what it is
    for in the maker's words, such as `eyelet 6 mm`. `layers` names the layers it is done to, `when` its time;
    left out, both follow from what it is (`layer_work` says how).
    """

    at: Point
    do: MarkKindName = "mark"
    diameter: Length | None = None
    length: Length | None = None
    angle: float = 0.0
    what: str = ""
    layers: tuple[Name, ...] = ()
    when: When | None = None

    def __post_init__(self) -> None:
        need_word("do", self.do, MARK_KINDS.names)
        need_near("at", [self.at])
        need_finite("at", self.diameter, self.length, self.angle)
        if self.kind.measure is not None:
            need((self.size or 0) > 0, self.kind.needs_measure, place=self.kind.measure, mend="Give one.")
        for place, size in (("diameter", self.diameter), ("length", self.length)):
            need_range(place, size, LEAST_LENGTH if self.kind.measure == place else 0.0, FARTHEST_MM)
        need_range("angle", self.angle, -3600.0, 3600.0, "degrees")

    @property
    def kind(self) -> MarkKind:
        """The kind of mark it is."""
        return MARK_KINDS[self.do]

    @property
    def size(self) -> float | None:
        """Its diameter or its length, mm, whichever its kind is measured by; None where a kind has no size."""
        return {"diameter": self.diameter, "length": self.length, None: None}[self.kind.measure]

    @property
    def ends(self) -> NDArray[np.float64]:
        """The two ends (2, 2), mm, of a slit: a line as long as it along its angle, with its point in the middle."""
        turn = math.radians(self.angle)
        half = np.array((math.cos(turn), math.sin(turn))) * (self.length or 0.0) / 2.0
        return np.array((self.at - half, self.at + half))


class Opening(Record, frozen=True, kw_only=True):
    """Something cut out of a piece. `layers` names the layers it is cut from, `when` its time; left out, both follow
    from what it is (`layer_work` says how)."""

    outline: Points
    layers: tuple[Name, ...] = ()
    when: When | None = None
    what: str = ""

    @cached_property
    def ring(self) -> NDArray[np.float64]:
        """Its edge as a ring (n, 2), mm."""
        return as_ring(self.outline, "outline")

    def __post_init__(self) -> None:
        _ = self.ring
