"""Where a piece may lie on a hide, and which way round: flaws, faces, regions, firmness and stretch as geometry.

Every rule becomes a containment constraint, "this ring lies inside that area", at a set of turns; nesting obeys
those and knows nothing of leather. Whether a finished plan keeps the rules is judged by `audit`, by itself.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from nestplan.geometry.areas import kept_away_from
from nestplan.geometry.containment import Containment
from nestplan.geometry.pose import Turns
from nestplan.geometry.ring import mirror
from nestplan.model.hide import Flaw, Hide
from nestplan.model.job import CutPiece, Job, Permissions
from nestplan.model.piece import Shows, StretchRule, Strip

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = [
    "AllowedPlacement",
    "PlacementRules",
    "RuleKind",
    "Zone",
    "flaws_against_face",
    "flaws_against_strip",
    "zones_of",
]

RuleKind = Literal["stretch", "regions", "flaws"]
"""Kinds of rules that can be left out, to find which one keeps a piece off a hide."""

_QUARTER = 16
"""Segments to a quarter circle when the hide is grown by the run-off."""

_SNAP = 1e-4
"""Grid, mm, to which zones are snapped when they are joined again, so that no slivers stay between them."""


@dataclass(frozen=True, eq=False)
class AllowedPlacement:
    """A cut piece may lie on a hide at these turns (degrees) if all `constraints` hold.

    They are the finished outline, the cut shape at its least overcut, then the parts in their order. With
    `flipped` it is turned over first (x → −x); the constraints' rings are already flipped.
    """

    turns: Turns
    constraints: tuple[Containment, ...]
    flipped: bool = False


@dataclass(frozen=True, eq=False)
class Zone:
    """A part of a hide with one firmness and one stretch axis (degrees; None: not known; "all": every way)."""

    name: str
    firmness: int
    stretch: float | Literal["all"] | None
    area: BaseGeometry


@dataclass(eq=False)
class PlacementRules:
    """The rules of one job on one hide. `relaxed` leaves some of them out.

    Holds what several pieces share (flaws by what they spoil, zones), so it is made once for each hide.
    """

    hide: Hide
    job: Job
    relaxed: frozenset[RuleKind] = frozenset()
    _joined: dict[tuple[Shows, tuple[int, ...] | None], Polygon | MultiPolygon] = field(default_factory=dict)

    @property
    def permissions(self) -> Permissions:
        """What the job allows beyond the rules."""
        return self.job.permissions

    @property
    def leather(self) -> Polygon | MultiPolygon:
        """The hide's outline less its holes."""
        return self.hide.surface

    @cached_property
    def zones(self) -> tuple[Zone, ...]:
        """The hide's regions, and last what lies between them."""
        return zones_of(self.hide)

    def for_piece(self, piece: CutPiece) -> tuple[AllowedPlacement, ...]:
        """Where and which way round `piece` may lie on this hide; empty where it may not at all."""
        if not self.job.layer(piece.cut.layer).takes(self.hide):
            return ()
        allowed = self._one_side_up(piece, flipped=False)
        return allowed + self._one_side_up(piece, flipped=True) if piece.piece.turn_over else allowed

    def strip_area(self, strip: Strip) -> Polygon | MultiPolygon:
        """Area in which strips like this one may lie: away from every flaw, in the regions it may use.

        With `over_flaws` only flaws that go through hinder. Empty where the layer may not be cut from this hide.
        """
        if not self.job.layer(strip.layer).takes(self.hide):
            return Polygon()
        hindering = () if "flaws" in self.relaxed else flaws_against_strip(self.hide, strip)
        sound = self.leather.difference(_kept_free(hindering))
        wanted = self._zones_for(strip.regions, strip.not_regions, strip.least_firmness)
        return sound if wanted is None else _areal(sound.intersection(self._join(wanted)))

    def strip_axis(self, strip: Strip) -> float | None:
        """Direction (degrees) along which the strip is to lie: the backbone's; None: any."""
        if strip.along == "any":
            return None
        return self.hide.backbone_angle

    def _one_side_up(self, piece: CutPiece, *, flipped: bool) -> tuple[AllowedPlacement, ...]:
        def laid(ring: NDArray[np.float64]) -> NDArray[np.float64]:
            return mirror(ring) if flipped else ring

        cut = piece.cut
        base = [Containment(laid(piece.shape), self._cut_area)]
        for part in piece.piece.parts_in(cut.layer):
            wanted = self._zones_for(part.regions, part.not_regions, part.least_firmness)
            area = self._allowed(part.shows or cut.shows, wanted)
            base.append(Containment(laid(piece.in_hand(part.ring)), area))
        wanted = self._zones_for(cut.regions, cut.not_regions, cut.least_firmness)
        finished = laid(piece.finished)
        rule = piece.stretch
        if rule is not None and flipped:
            rule = StretchRule(axis=(180.0 - rule.axis) % 180.0, tolerance=rule.tolerance)
        found = []
        for turns, chosen in self._turn_classes(rule, wanted):
            area = self._allowed(cut.shows, chosen)
            constraints = (Containment(finished, area), *base)
            if all(constraint.area.area > 0 for constraint in constraints):
                found.append(AllowedPlacement(turns, constraints, flipped))
        return tuple(found)

    def _turn_classes(
        self, rule: StretchRule | None, wanted: tuple[int, ...] | None
    ) -> list[tuple[Turns, tuple[int, ...] | None]]:
        """Turns with the zones that are open at them; every allowed turn is in at least one class."""
        if rule is None or rule.tolerance >= 90 or "stretch" in self.relaxed:
            return [(Turns.any(), wanted)]
        allowed: dict[int, Turns] = {}
        for number in range(len(self.zones)) if wanted is None else wanted:
            axis = self.zones[number].stretch
            if isinstance(axis, float):
                allowed[number] = Turns.around(axis - rule.axis, rule.tolerance, period=180)
        ends = sorted({end for turns in allowed.values() for interval in turns.intervals for end in interval})
        classes: dict[tuple[int, ...], list[tuple[float, float]]] = {}
        for low, high in zip(ends, [*ends[1:], ends[0] + 360.0] if ends else [], strict=True):
            middle = (low + high) / 2 % 360.0
            for span in ((low, low), (low, high)):
                angle = low if span[0] == span[1] else middle
                chosen = tuple(number for number, turns in allowed.items() if turns.contains(angle))
                if chosen:
                    classes.setdefault(chosen, []).append(span)
        found: list[tuple[Turns, tuple[int, ...] | None]] = []
        for chosen, spans in classes.items():
            wider = any(set(chosen) < set(other) and _spans_cover(classes[other], spans) for other in classes)
            if not wider:
                everything = len(chosen) == len(self.zones)
                found.append((Turns.of(spans), None if everything else chosen))
        return found

    def _zones_for(
        self, names: Sequence[str], not_names: Sequence[str], least_firmness: int
    ) -> tuple[int, ...] | None:
        """Numbers of the zones that satisfy a wish; None where all do."""
        if "regions" in self.relaxed:
            return None
        fitting = tuple(
            number
            for number, zone in enumerate(self.zones)
            if (not names or zone.name in names)
            and zone.name not in not_names
            and zone.firmness >= least_firmness
        )
        return None if len(fitting) == len(self.zones) else fitting

    def _allowed(self, shows: Shows, zones: tuple[int, ...] | None) -> Polygon | MultiPolygon:
        key = (shows, zones)
        if key not in self._joined:
            flaws = () if "flaws" in self.relaxed else flaws_against_face(self.hide, shows)
            area = self.leather.difference(_kept_free(flaws))
            self._joined[key] = area if zones is None else _areal(area.intersection(self._join(zones)))
        return self._joined[key]

    def _join(self, zones: Sequence[int]) -> BaseGeometry:
        return shapely.union_all([self.zones[number].area for number in zones], grid_size=_SNAP)

    @cached_property
    def _cut_area(self) -> Polygon | MultiPolygon:
        """Area for whole cut shapes. The band may lie over faces that are spoiled, since it is cut away."""
        area: BaseGeometry = Polygon(self.hide.ring)
        if self.permissions.run_off > 0:
            area = area.buffer(self.permissions.run_off, quad_segs=_QUARTER)
        if not self.permissions.through_flaws_in_overcut:
            open_places = [Polygon(hole) for hole in self.hide.hole_rings]
            if "flaws" not in self.relaxed:
                open_places += [Polygon(flaw.ring) for flaw in self.hide.flaws if flaw.kind.goes_through]
            area = area.difference(shapely.union_all(open_places))
        return _areal(area)


def flaws_against_face(hide: Hide, shows: Shows) -> tuple[Flaw, ...]:
    """The flaws that a finished outline which shows this face keeps off: those through the leather or on that face."""
    faces = {"grain": {"grain"}, "flesh": {"flesh"}, "both": {"grain", "flesh"}, "hidden": set()}[shows]
    return tuple(flaw for flaw in hide.flaws if flaw.kind.goes_through or flaw.kind.faces & faces)


def flaws_against_strip(hide: Hide, strip: Strip) -> tuple[Flaw, ...]:
    """The flaws that a strip keeps off: every one, or with `over_flaws` those that go through the leather."""
    return tuple(flaw for flaw in hide.flaws if flaw.kind.goes_through or not strip.over_flaws)


@functools.lru_cache(maxsize=64)
def zones_of(hide: Hide) -> tuple[Zone, ...]:
    """The hide cut into zones of one firmness and stretch: its regions (a later one lies on top of an earlier),
    clipped to the hide, and last what lies between them under the name ""; remembered, since every drawing of the hide
    and its table ask for them."""
    left: BaseGeometry = hide.surface
    zones: list[Zone] = []
    for region in reversed(hide.regions):
        mine = _areal(shapely.intersection(Polygon(region.ring), left, grid_size=_SNAP))
        left = _areal(shapely.difference(left, Polygon(region.ring), grid_size=_SNAP))
        stretch = hide.stretch_axis if region.stretch is None else region.stretch
        axis = stretch if isinstance(stretch, str) or stretch is None else float(stretch) % 180.0
        if mine.area > 0:
            zones.append(Zone(region.name, region.firmness, axis, mine))
    zones.reverse()
    if left.area > 0:
        zones.append(Zone("", hide.firmness, hide.stretch_axis, left))
    return tuple(zones)


def _kept_free(flaws: Iterable[Flaw]) -> BaseGeometry:
    return shapely.union_all([kept_away_from(flaw.ring, flaw.margin) for flaw in flaws])


def _spans_cover(wide: list[tuple[float, float]], narrow: list[tuple[float, float]]) -> bool:
    """Whether every span of `narrow` lies inside one of `wide`."""
    return all(any(a <= low and high <= b for a, b in wide) for low, high in narrow)


def _areal(shape: BaseGeometry) -> Polygon | MultiPolygon:
    """The areas of a geometry, without the points and lines an intersection may leave."""
    if isinstance(shape, Polygon | MultiPolygon):
        return shape
    parts = [part for part in getattr(shape, "geoms", ()) if isinstance(part, Polygon | MultiPolygon)]
    merged = shapely.union_all(parts)
    return merged if isinstance(merged, Polygon | MultiPolygon) else Polygon()
