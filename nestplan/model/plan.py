"""A plan: which cut shape lies where on which hide, what is not placed and why, and its figures."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np

from nestplan.geometry.pose import Pose
from nestplan.model.goals import COMPLETE, GOALS
from nestplan.model.notebook import html_view, svg_view
from nestplan.model.values import (
    GoalName,
    Length,
    Name,
    Points,
    Record,
    need,
    need_at_most,
    need_finite,
    need_near,
    need_range,
    need_word,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = [
    "Figures",
    "HideFigures",
    "LayerFigures",
    "Offcut",
    "Placement",
    "Plan",
    "SetFigures",
    "Source",
    "Unplaced",
]


_MOST_POINTS = 100_000
"""Points of a placed outline at most; a cut shape has more than the piece it is cut for."""


class Source(Record, frozen=True, kw_only=True):
    """A file a plan was made from: its name inside the file, where it was, and its content hash (SHA-256)."""

    name: Name
    file: str = ""
    hash: str = ""


class Placement(Record, frozen=True, kw_only=True):
    """One placed thing. `finished` and `cut` are rings in the hide's coordinates, mm.

    For a piece, `mirrored`, `angle`, `x`, `y` are the pose that lays the piece as drawn onto `finished`:
    mirror (x → −x) if mirrored, turn counter-clockwise by `angle` degrees, move by (x, y). For a strip,
    `strip` is set instead of `piece`; the pose lays the rectangle with its corner at the origin, length
    along x; with `spiral`, the outline is the disc that a lace of `length` is cut from round and round.
    `copy` counts from 1 within the piece and layer (or strip), `set` is the whole set it belongs to, from 1.
    A joined strip is several placements with the same copy and part 1, 2, … Locked placements stay where
    they are when the rest is planned again; `done` ones are already cut.
    """

    hide: Name
    piece: str = ""
    strip: str = ""
    layer: str = "leather"
    copy: int = 1
    set: int = 1
    part: int = 0
    mirrored: bool = False
    angle: float = 0.0
    x: float = 0.0
    y: float = 0.0
    finished: Points
    cut: Points
    overcut: Length = 0.0
    length: Length | None = None
    spiral: bool = False
    locked: bool = False
    done: bool = False

    def __post_init__(self) -> None:
        need(
            bool(self.piece) != bool(self.strip),
            "A placement names a piece or a strip.",
            mend="Name one of the two.",
        )
        need_finite("pose", self.angle, self.x, self.y, self.overcut, self.length)
        need_range("pose", self.angle, -3600.0, 3600.0, "degrees")
        need_near("pose", [(self.x, self.y)])
        need_range("overcut", self.overcut, 0.0, 1000.0)
        need_range("length", self.length, 0.0, 1e6)
        for place, points in (("finished", self.finished), ("cut", self.cut)):
            need(
                len(points) >= 3,
                "A ring needs three points or more.",
                place=place,
                mend="Give the whole ring.",
            )
            need_at_most(place, points, _MOST_POINTS)
            need_near(place, points)

    @property
    def pose(self) -> Pose:
        """Where the piece lies, as a pose of the piece as drawn."""
        return Pose(self.x, self.y, self.angle, self.mirrored)

    @cached_property
    def finished_ring(self) -> NDArray[np.float64]:
        """Ring (n, 2), mm, hide coordinates."""
        return np.asarray(self.finished, dtype=np.float64)

    @cached_property
    def middle(self) -> tuple[float, float]:
        """The middle of what its finished outline spans, mm, hide coordinates."""
        xs, ys = zip(*self.finished, strict=True)
        return (min(xs) + max(xs)) / 2.0, (min(ys) + max(ys)) / 2.0

    @cached_property
    def cut_ring(self) -> NDArray[np.float64]:
        """Ring (n, 2), mm, hide coordinates."""
        return np.asarray(self.cut, dtype=np.float64)

    @property
    def name(self) -> str:
        """The piece's or strip's name."""
        return self.piece or self.strip


class Unplaced(Record, frozen=True, kw_only=True):
    """Something asked for that has no place, why, and the least change that would let it in."""

    piece: str = ""
    strip: str = ""
    layer: str = "leather"
    mirrored: bool = False
    count: int = 1
    reason: Literal["too large", "stretch", "region", "flaws", "no leather", "no room", "taken back"]
    why: str
    change: str = ""


class Offcut(Record, frozen=True, kw_only=True):
    """A connected part of what is left, opened by the useful width. Areas mm², lengths mm."""

    hide: Name
    outline: Points
    holes: tuple[Points, ...] = ()
    area: float
    rectangle: Points = ()
    rectangle_width: float = 0.0
    rectangle_height: float = 0.0
    disc: tuple[float, float, float] | None = None
    lace: float = 0.0


class HideFigures(Record, frozen=True, kw_only=True):
    """Where one hide's leather went. Areas in mm²; definitions in yields.figures."""

    hide: Name
    gross: float
    stated: float | None = None
    usable: float
    net: float
    cut: float
    flaws: float
    overcut: float
    gaps: float
    small_offcuts: float
    offcuts: float
    net_yield: float
    cut_yield: float
    cost: float | None = None
    value_left: float | None = None
    pieces: int = 0
    strips: int = 0

    @property
    def leather_cost(self) -> float | None:
        """Money for the leather used: the hide's price less the share of it in offcuts to keep; None if unpriced."""
        return None if self.cost is None or self.value_left is None else self.cost - self.value_left

    @property
    def stated_less_gross(self) -> float | None:
        """By how much the seller's mark is more than the measured area, mm²; None where there is no mark."""
        return None if self.stated is None else self.stated - self.gross


class LayerFigures(Record, frozen=True, kw_only=True):
    """The same sums for one layer over all hides it was cut from. Areas in mm²."""

    layer: Name
    usable: float
    net: float
    cut: float
    pieces: int = 0
    strips: int = 0


class SetFigures(Record, frozen=True, kw_only=True):
    """Whole sets of one article: asked, placed whole, and an upper bound no plan can pass."""

    article: Name
    asked: int
    whole: int
    bound: int

    @property
    def gap(self) -> int:
        """How many more sets than these no proof rules out: the bound, or what was asked if less, less the whole."""
        return max(0, min(self.bound, self.asked) - self.whole)


class Figures(Record, frozen=True, kw_only=True):
    """What a plan comes to. Areas in mm², money in the hides' currency; definitions in yields.figures.

    `cost` and `cost_per_set` are those of the whole hides bought, `leather_cost` and `leather_cost_per_set` of the
    leather used.
    """

    gross: float
    stated: float | None = None
    usable: float
    net: float
    cut: float
    net_yield: float
    cut_yield: float
    lost_to_flaws: float
    lost_to_overcut: float
    lost_to_gaps: float
    lost_to_small_offcuts: float
    offcut_area: float
    lace: float = 0.0
    placed: int = 0
    asked: int = 0
    hides_used: int = 0
    hides_bound: int = 0
    sets: tuple[SetFigures, ...] = ()
    cost: float | None = None
    cost_per_set: float | None = None
    value_left: float | None = None
    currency: str = ""
    hides: tuple[HideFigures, ...] = ()
    layers: tuple[LayerFigures, ...] = ()
    offcuts: tuple[Offcut, ...] = ()

    @property
    def leather_cost(self) -> float | None:
        """Money for the leather used: the hides' prices less their shares in offcuts to keep; None if unpriced."""
        return None if self.cost is None or self.value_left is None else self.cost - self.value_left

    @property
    def leather_cost_per_set(self) -> float | None:
        """The same for one whole set; None without a price or a whole set."""
        whole = sum(each.whole for each in self.sets)
        return None if self.leather_cost is None or whole == 0 else self.leather_cost / whole

    @property
    def stated_less_gross(self) -> float | None:
        """By how much the seller's mark is more than the measured area, mm²; None where there is no mark."""
        return None if self.stated is None else self.stated - self.gross


_USUAL_GOAL = "".join(COMPLETE.name)
"""A copy of the name, which the writer does not take for the default: a file always says its goal."""


class Plan(Record, frozen=True, kw_only=True):
    """Where everything lies. `seconds` is how long the search ran when it was bounded by the clock, `made`
    when; both are left out of a plan bounded by passes, so that the same seed gives the same bytes."""

    nestplan: int = 1
    kind: Literal["plan"] = "plan"
    name: Name
    job: Source
    hides: tuple[Source, ...]
    goal: GoalName = _USUAL_GOAL
    seed: int = 0
    passes: int | None = None
    seconds: float | None = None
    made: str = ""
    placements: tuple[Placement, ...] = ()
    unplaced: tuple[Unplaced, ...] = ()
    figures: Figures | None = None

    def __post_init__(self) -> None:
        need_word("goal", self.goal, GOALS.names)
        need_range("seed", self.seed, 0, 2**63 - 1, "")
        need_range("passes", self.passes, 0, 2**63 - 1, "")
        need_at_most("hides", self.hides, 10_000)
        need_at_most("placements", self.placements, 1_000_000)
        need_at_most("unplaced", self.unplaced, 1_000_000)

    def _repr_svg_(self) -> str | None:
        return svg_view(self)

    def _repr_html_(self) -> str | None:
        return html_view(self)
