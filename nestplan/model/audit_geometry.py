"""What the audit measures with: how deep one shape reaches into another, and a hide's areas worked out from its data.

Nothing here is shared with `rules`, which nesting obeys: zones, stretch axes and margins are worked out a second
time, another way, so that one mistake cannot hide in both.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nestplan.model.hide import Hide
from nestplan.model.piece import Shows

__all__ = [
    "DEPTH_TOLERANCE",
    "AuditedFlaw",
    "AuditedHide",
    "AuditedZone",
    "angle_between_axes",
    "depth_inside",
    "overlaps",
    "reaches_into",
    "sticks_out_of",
]

DEPTH_TOLERANCE = 0.01
"""mm: by how much a shape may reach into another, out of its room or into what it has to keep off; and by how much a
distance (gap, margin, overcut) may fall short. Files round to 0.0001 mm."""

_ARC_ERROR = 0.001
"""mm by which the chords of a grown outline may lie inside its true arcs."""


def reaches_into(shape: BaseGeometry, area: BaseGeometry, eroded: BaseGeometry | None = None) -> bool:
    """Whether a point of `shape` lies deeper inside `area` than DEPTH_TOLERANCE.

    However long a thin overlap is, it is as deep as it is thin. `eroded` may hand in `area` shrunk by the tolerance.
    """
    if not area.intersects(shape):
        return False
    return bool((area.buffer(-DEPTH_TOLERANCE) if eroded is None else eroded).intersects(shape))


def overlaps(one: BaseGeometry, other: BaseGeometry) -> bool:
    """Whether either of two shapes reaches into the other by more than DEPTH_TOLERANCE."""
    return reaches_into(one, other) or reaches_into(other, one)


def sticks_out_of(shape: BaseGeometry, room: BaseGeometry, grown: BaseGeometry | None = None) -> bool:
    """Whether a point of `shape` lies farther outside `room` than DEPTH_TOLERANCE.

    `grown` may hand in `room` grown by the tolerance.
    """
    if room.covers(shape):
        return False
    return not (room.buffer(DEPTH_TOLERANCE) if grown is None else grown).covers(shape)


def depth_inside(shape: BaseGeometry, area: BaseGeometry) -> float:
    """How deep inside `area` the deepest point of `shape` lies, mm, to about a thousandth of itself."""
    low, high = 0.0, math.sqrt(max(area.area, 0.0))
    while high - low > max(1e-4, 1e-3 * high):
        middle = (low + high) / 2.0
        low, high = (middle, high) if shape.intersects(area.buffer(-middle)) else (low, middle)
    return low


def angle_between_axes(one: float, other: float) -> float:
    """The angle between two axes, degrees in [0, 90]."""
    apart = abs(one - other) % 180.0
    return min(apart, 180.0 - apart)


@dataclass(frozen=True, eq=False)
class AuditedFlaw:
    """A flaw as the audit sees it: its area, its area less the tolerance, and how near outlines may come."""

    words: str
    area: Polygon
    margin: float
    faces: frozenset[str]
    goes_through: bool

    def __post_init__(self) -> None:
        shapely.prepare(self.area)

    def spoils_for(self, shows: Shows) -> bool:
        """Whether a finished outline that shows this may not lie on it."""
        if self.goes_through:
            return True
        if shows == "hidden":
            return False
        return bool(self.faces) if shows == "both" else shows in self.faces

    def is_covered_by(self, shape: BaseGeometry) -> bool:
        """Whether a shape lies on the flaw itself, be it a hairline; its margin does not count."""
        return overlaps(shape, self.area)

    def is_too_near(self, shape: BaseGeometry) -> bool:
        """Whether a shape comes nearer to it than its margin."""
        if self.margin > 0.0:
            return bool(shapely.dwithin(self.area, shape, self.margin - DEPTH_TOLERANCE))
        return self.is_covered_by(shape)


@dataclass(frozen=True, eq=False)
class AuditedZone:
    """A part of the hide with one firmness and one stretch axis (degrees; "all": every way; None: not known)."""

    name: str
    firmness: int
    stretch: float | Literal["all"] | None
    area: BaseGeometry
    eroded: BaseGeometry

    def __post_init__(self) -> None:
        shapely.prepare((self.area, self.eroded))

    @property
    def words(self) -> str:
        """Its name, or that it has none."""
        return self.name or "no region"

    def holds_some_of(self, shape: BaseGeometry) -> bool:
        """Whether a shape reaches into the zone."""
        return reaches_into(shape, self.area, self.eroded)


@dataclass(frozen=True, eq=False)
class AuditedHide:
    """A hide as the audit sees it, and by how much (mm) cut shapes may run off its edge."""

    hide: Hide
    run_off: float

    @cached_property
    def outline(self) -> Polygon:
        """The outer edge, holes filled."""
        outline = Polygon(self.hide.ring)
        shapely.prepare(outline)
        return outline

    @cached_property
    def holes(self) -> tuple[Polygon, ...]:
        """The openings inside the outline."""
        return tuple(Polygon(hole) for hole in self.hide.hole_rings)

    @cached_property
    def _finished_room(self) -> BaseGeometry:
        return self.outline.buffer(DEPTH_TOLERANCE)

    @cached_property
    def _cut_room(self) -> BaseGeometry:
        reach = self.run_off + DEPTH_TOLERANCE
        # As many chords to the quarter circle as keep them within _ARC_ERROR of the arc.
        segments = max(4, math.ceil(math.pi / 4.0 / math.acos(1.0 - min(_ARC_ERROR / reach, 1.0))))
        return self.outline.buffer(reach, quad_segs=segments)

    def is_left_by(self, finished: BaseGeometry) -> bool:
        """Whether a finished shape lies partly off the leather."""
        return sticks_out_of(finished, self.outline, self._finished_room) or self.has_hole_under(finished)

    def is_run_off_by(self, cut: BaseGeometry) -> bool:
        """Whether a cut shape leaves the outer edge by more than it may."""
        return sticks_out_of(cut, self.outline, self._cut_room)

    def has_hole_under(self, shape: BaseGeometry) -> bool:
        """Whether a shape lies over an opening."""
        return any(overlaps(shape, hole) for hole in self.holes)

    @cached_property
    def flaws(self) -> tuple[AuditedFlaw, ...]:
        """Its flaws in the order of the file."""
        return tuple(
            AuditedFlaw(
                words=flaw.name or flaw.spoils,
                area=Polygon(flaw.ring),
                margin=flaw.margin,
                faces=frozenset(flaw.kind.faces),
                goes_through=flaw.kind.goes_through,
            )
            for flaw in self.hide.flaws
        )

    @cached_property
    def zones(self) -> tuple[AuditedZone, ...]:
        """Its regions, each without what later ones cover, and last whatever no region covers, under the name ""."""
        return tuple(self._zones())

    def _zones(self) -> Iterator[AuditedZone]:
        leather = self.outline.difference(shapely.union_all(self.holes))
        regions = self.hide.regions
        shapes = [Polygon(region.ring) for region in regions]
        for number, region in enumerate(regions):
            later = shapely.union_all(shapes[number + 1 :])
            area = shapes[number].difference(later).intersection(leather)
            stretch = region.stretch
            if stretch is None:
                stretch = self.stretch_axis
            elif not isinstance(stretch, str):
                stretch = float(stretch) % 180.0
            yield AuditedZone(region.name, region.firmness, stretch, area, area.buffer(-DEPTH_TOLERANCE))
        rest = leather.difference(shapely.union_all(shapes))
        yield AuditedZone("", self.hide.firmness, self.stretch_axis, rest, rest.buffer(-DEPTH_TOLERANCE))

    @cached_property
    def backbone_axis(self) -> float | None:
        """The axis from the backbone's first to its last point, degrees in [0, 180); None without a backbone."""
        if self.hide.backbone is None:
            return None
        (x0, y0), (x1, y1) = self.hide.backbone[0], self.hide.backbone[-1]
        return math.degrees(math.atan2(y1 - y0, x1 - x0)) % 180.0

    @cached_property
    def stretch_axis(self) -> float | None:
        """The axis in which it gives most where no region says otherwise, degrees in [0, 180); None: not known."""
        if self.hide.stretch is not None:
            return float(self.hide.stretch) % 180.0
        along = self.backbone_axis
        return None if along is None else (along + 90.0) % 180.0
