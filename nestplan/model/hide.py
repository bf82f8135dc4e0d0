"""A hide: its outline, flaws, regions, backbone, stretch, thickness, and where it came from.

Coordinates are millimetres as seen from the grain side, any origin.
"""

from __future__ import annotations

import math
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import msgspec
import numpy as np

from nestplan.errors import ShapeError
from nestplan.geometry.ring import area, disc_ring, line_ring, separate_openings
from nestplan.model.flaw_kinds import FLAW_KINDS, FlawKind
from nestplan.model.notebook import svg_view
from nestplan.model.values import (
    LEAST_LENGTH,
    TOUCHING,
    Area,
    FlawKindName,
    Length,
    Name,
    Point,
    Points,
    Record,
    ThicknessRange,
    as_ring,
    as_written,
    need,
    need_at_most,
    need_finite,
    need_near,
    need_range,
    need_thickness_range,
    need_unique,
    need_word,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import MultiPolygon, Polygon

__all__ = ["LARGEST_HIDE_AREA", "Disc", "Flaw", "Hide", "Line", "Origin", "Region"]


_MOST_FLAWS = 5_000
_MOST_REGIONS = 200
_MOST_HOLES = 1_000
_MOST_LINE_POINTS = 2_000
_WIDEST_LINE = 1_000.0
_WIDEST_DISC = 10_000.0
_DEAREST = 1e9
"""Bounds on what a file may hold, beyond any real hide: numbers of parts, mm, money."""

LARGEST_HIDE_AREA = 1000 * 304.8**2
"""The largest area a seller can have stated, mm² (1000 ft²)."""


class Disc(Record, frozen=True, kw_only=True):
    """A round flaw: centre and diameter, mm."""

    at: Point
    diameter: Length


class Line(Record, frozen=True, kw_only=True):
    """A long thin flaw: a polyline with a width, mm."""

    points: Points
    width: Length


class Flaw(Record, frozen=True, kw_only=True):
    """A spoiled area and what it spoils.

    Exactly one of `outline`, `disc`, `line` says where it is. `margin` (mm) is how far a finished outline
    keeps away from it.
    """

    spoils: FlawKindName
    name: str = ""
    outline: Points | None = None
    disc: Disc | None = None
    line: Line | None = None
    margin: Length = 0.0
    strength: float | None = None
    note: str = ""

    def __post_init__(self) -> None:
        need_word("spoils", self.spoils, FLAW_KINDS.names)
        given = sum(shape is not None for shape in (self.outline, self.disc, self.line))
        need(given == 1, "A flaw needs exactly one of outline, disc and line.", mend="Keep one of the three.")
        need_finite("margin", self.margin)
        need(
            0 <= self.margin <= 1000,
            "The margin must lie between 0 and 1000 mm.",
            place="margin",
            mend="Change it.",
        )
        if self.disc is not None:
            need_near("disc", [self.disc.at])
            need_finite("disc", self.disc.diameter)
            need(
                self.disc.diameter > 0,
                "The diameter must be more than 0.",
                place="disc.diameter",
                mend="Change it.",
            )
            need_range("disc.diameter", self.disc.diameter, LEAST_LENGTH, _WIDEST_DISC)
        if self.line is not None:
            need(
                len(self.line.points) >= 2,
                "A line needs two points or more.",
                place="line.points",
                mend="Add one.",
            )
            need_at_most("line.points", self.line.points, _MOST_LINE_POINTS)
            need_near("line.points", self.line.points)
            need_finite("line", self.line.width)
            need(self.line.width > 0, "The width must be more than 0.", place="line.width", mend="Change it.")
            need_range("line.width", self.line.width, LEAST_LENGTH, _WIDEST_LINE)
        if self.strength is not None:
            need(
                0 <= self.strength <= 1,
                "The strength must lie between 0 and 1.",
                place="strength",
                mend="Change it.",
            )
        _ = self.ring

    @property
    def kind(self) -> FlawKind:
        """The kind of flaw it is."""
        return FLAW_KINDS[self.spoils]

    @cached_property
    def ring(self) -> NDArray[np.float64]:
        """Ring (n, 2), mm, round the spoiled area; discs and lines are circumscribed (never smaller)."""
        if self.outline is not None:
            return as_ring(self.outline, "outline")
        if self.disc is not None:
            return disc_ring(self.disc.at, self.disc.diameter / 2, side="outside")
        assert self.line is not None
        return line_ring(self.line.points, self.line.width)


class Region(Record, frozen=True, kw_only=True):
    """A named part of the animal with its own firmness and stretch.

    `firmness` runs from 1 (loose belly, flank) to 5 (butt, bend). `stretch` is the direction in which this
    part gives most (degrees, an axis: 0 and 180 are the same); `"all"` where it gives every way; None: as
    the hide. Where regions overlap, the one listed later counts.
    """

    name: Name
    outline: Points
    firmness: int = 3
    stretch: float | Literal["all"] | None = None

    def __post_init__(self) -> None:
        need(
            1 <= self.firmness <= 5,
            "Firmness runs from 1 (loose) to 5 (firm).",
            place="firmness",
            mend="Change it.",
        )
        if not isinstance(self.stretch, str):
            need_finite("stretch", self.stretch)
            need_range("stretch", self.stretch, -360.0, 360.0, "degrees")
        _ = self.ring

    @cached_property
    def ring(self) -> NDArray[np.float64]:
        """Ring (n, 2), mm."""
        return as_ring(self.outline, "outline")


class Origin(Record, frozen=True, kw_only=True):
    """Where a hide's outline came from. `scale_error` is a fraction: 0.004 means lengths are good to 0.4 %."""

    how: Literal["photo", "traced", "drawing", "measured", "offcut", "simulated", "invented"]
    file: str = ""
    date: str = ""
    scale_error: float | None = None
    tolerance: Length | None = None
    parent: str = ""
    parent_hash: str = ""
    plan_hash: str = ""
    note: str = ""


class Hide(Record, frozen=True, kw_only=True):
    """One piece of leather: a whole hide, a side, a shoulder, a skin, an offcut.

    `backbone` runs from neck to tail, so its last point is at the rear edge. `stretch` is the direction in
    which the leather gives most (an axis in degrees); where it is None it is square to the backbone: garment
    leather stretches least along the spine (Ork Efendioglu 2024, doi 10.21203/rs.3.rs-5287129/v1).
    `stated_area` is the seller's mark, kept apart from the area of the outline. `price` is for the whole
    piece. `firmness` holds where no region is drawn. `used` names the plan after the hide has been cut up.
    """

    nestplan: int = 1
    kind: Literal["hide"] = "hide"
    name: Name
    leather: Name
    outline: Points
    holes: tuple[Points, ...] = ()
    flaws: tuple[Flaw, ...] = ()
    regions: tuple[Region, ...] = ()
    backbone: Points | None = None
    stretch: float | None = None
    firmness: int = 3
    thickness: ThicknessRange | None = None
    stated_area: Area | None = None
    price: float | None = None
    currency: str = ""
    lot: str = ""
    origin: Origin | None = None
    used: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        need(
            1 <= self.firmness <= 5,
            "Firmness runs from 1 (loose) to 5 (firm).",
            place="firmness",
            mend="Change it.",
        )
        need_thickness_range(self.thickness)
        for place, amount, most, unit in (
            ("price", self.price, _DEAREST, ""),
            ("stated_area", self.stated_area, LARGEST_HIDE_AREA, "mm²"),
        ):
            need_finite(place, amount)
            need(amount is None or amount >= 0, "It may not be negative.", place=place, mend="Change it.")
            need_range(place, amount, 0.0, most, unit)
        need_finite("stretch", self.stretch)
        need_range("stretch", self.stretch, -360.0, 360.0, "degrees")
        need_at_most("flaws", self.flaws, _MOST_FLAWS)
        need_at_most("regions", self.regions, _MOST_REGIONS)
        need_at_most("holes", self.holes, _MOST_HOLES)
        if self.backbone is not None:
            need(
                len(self.backbone) >= 2,
                "The backbone needs two points or more.",
                place="backbone",
                mend="Add one.",
            )
            need_at_most("backbone", self.backbone, _MOST_LINE_POINTS)
            need_near("backbone", self.backbone)
            need(
                math.dist(self.backbone[0], self.backbone[-1]) >= LEAST_LENGTH,
                "The backbone's ends are the same point.",
                place="backbone",
                mend="Move one.",
            )
        need_unique((region.name for region in self.regions), "regions")
        if self.stated_area is not None:
            # Built in code it may be a plain float; only as an Area is it written with its unit.
            msgspec.structs.force_setattr(self, "stated_area", Area(self.stated_area))
        self._check_places()

    def _check_places(self) -> None:
        from shapely.geometry import Polygon

        whole, written = Polygon(self.ring), Polygon(as_written(self.ring))
        for number, points in enumerate(self.holes):
            hole = as_ring(points, f"holes[{number}]")
            # As it will be written too: it could not be read again.
            if not (whole.contains(Polygon(hole)) and written.contains(Polygon(as_written(hole)))):
                raise ShapeError(
                    "The hole is not wholly inside the outline.",
                    place=f"holes[{number}]",
                    mend="Move it inside or draw the outline round it.",
                )
        if self.gross_area <= 0.0:
            raise ShapeError(
                "The holes leave no leather of the hide.",
                place="holes",
                mend="Make them smaller or take one out.",
            )
        for number, flaw in enumerate(self.flaws):
            if whole.distance(Polygon(flaw.ring)) > TOUCHING:
                x, y = flaw.ring[0]
                raise ShapeError(
                    f"The flaw lies outside the hide, near ({x:.1f}, {y:.1f}) mm.",
                    place=f"flaws[{number}]",
                    mend="Move it onto the hide or take it out.",
                )
        for number, region in enumerate(self.regions):
            if whole.distance(Polygon(region.ring)) > TOUCHING:
                raise ShapeError(
                    f"The region '{region.name}' lies outside the hide.",
                    place=f"regions[{number}]",
                    mend="Move it onto the hide or take it out.",
                )

    @cached_property
    def ring(self) -> NDArray[np.float64]:
        """The outline as a ring (n, 2), mm."""
        return as_ring(self.outline, "outline")

    @cached_property
    def hole_rings(self) -> tuple[NDArray[np.float64], ...]:
        """Rings (n, 2), mm, of openings inside the outline. Those that overlap or share an edge are one opening, and
        what they enclose belongs to it."""
        rings = [as_ring(hole, f"holes[{number}]") for number, hole in enumerate(self.holes)]
        return separate_openings(rings)

    @cached_property
    def gross_area(self) -> float:
        """Area of the outline less its holes, mm² (the measured area; the seller's mark is `stated_area`)."""
        return float(self.surface.area) if self.holes else area(self.ring)

    @cached_property
    def surface(self) -> Polygon | MultiPolygon:
        """The area inside the outline and outside its holes, mm, which may touch the outline."""
        import shapely

        simple = shapely.Polygon(self.ring, self.hole_rings)
        if simple.is_valid:
            return simple
        holes = shapely.union_all([shapely.Polygon(hole) for hole in self.hole_rings])
        left = shapely.Polygon(self.ring).difference(holes)
        parts = [part for part in shapely.get_parts(left) if isinstance(part, shapely.Polygon)]
        return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)

    @property
    def area_paid_for(self) -> float:
        """What one pays for, mm²: the seller's mark, or the measured area where there is none."""
        return float(self.stated_area or self.gross_area)

    @property
    def backbone_angle(self) -> float | None:
        """Direction of the backbone from neck to tail, degrees in [0, 360), or None."""
        if self.backbone is None:
            return None
        (x0, y0), (x1, y1) = self.backbone[0], self.backbone[-1]
        return float(np.degrees(np.arctan2(y1 - y0, x1 - x0))) % 360.0

    @property
    def stretch_axis(self) -> float | None:
        """Axis in which the hide gives most, degrees in [0, 180), or None where neither it nor a backbone is known."""
        if self.stretch is not None:
            return self.stretch % 180.0
        angle = self.backbone_angle
        return None if angle is None else (angle + 90.0) % 180.0

    @property
    def knows_stretch(self) -> bool:
        """Whether something tells which way it gives: its backbone, its stretch, or that of a region."""
        return self.stretch_axis is not None or any(region.stretch is not None for region in self.regions)

    def _repr_svg_(self) -> str | None:
        return svg_view(self)
