"""A hide that lies elsewhere now: its flaws, regions and directions, and the plan on it, taken along.

Leather may have been turned, moved and stretched a little since its outline was taken. Areas of the leather follow
the stretch; cut shapes keep their form and follow with their middle and their turn.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec
import numpy as np

from nestplan.geometry.ring import centroid
from nestplan.model.hide import Disc, Flaw, Hide, Line
from nestplan.model.plan import Placement

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from nestplan.model.values import Points

    Floats = NDArray[np.float64]

__all__ = ["HideMotion", "hide_as_it_lies", "hide_redrawn", "placement_along"]


@dataclass(frozen=True, eq=False)
class HideMotion:
    """Where places of a hide went: `matrix` (2, 2) then `shift` (2,), mm: a turn, a shift and a little stretch."""

    matrix: Floats
    shift: Floats

    def moved(self, points: ArrayLike) -> Floats:
        """Where points (n, 2) lie now."""
        return np.asarray(np.asarray(points, dtype=np.float64).reshape(-1, 2) @ self.matrix.T + self.shift)

    @property
    def turn(self) -> float:
        """How far it was turned, degrees counter-clockwise."""
        u, _, vt = np.linalg.svd(self.matrix)
        nearest = u @ vt
        return float(np.degrees(np.arctan2(nearest[1, 0], nearest[0, 0])))

    @property
    def stretch(self) -> tuple[float, float]:
        """How much longer it became along the two directions in which that is most and least; 1 is unchanged."""
        most, least = np.linalg.svd(self.matrix, compute_uv=False)
        return float(most), float(least)

    def without_stretch(self, about: Floats) -> HideMotion:
        """The turn and shift alone that move the place `about` (2,) as this does."""
        angle = np.radians(self.turn)
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        return HideMotion(turn, self.moved(about)[0] - turn @ about)


def hide_as_it_lies(hide: Hide, motion: HideMotion, now: Hide) -> Hide:
    """The hide with the outline and origin of `now` and all that was known of it, moved there.

    Openings that `now` has and the hide had not are added as flaws; flaws and regions of which nothing is left
    are dropped.
    """
    import shapely

    whole = shapely.Polygon(now.ring)
    holes = tuple(_points(motion.moved(hole)) for hole in hide.hole_rings)
    kept_holes = tuple(hole for hole in holes if whole.contains(shapely.Polygon(hole)))
    flaws = [
        flaw
        for flaw in (_flaw_along(flaw, motion.moved) for flaw in hide.flaws)
        if _lies_on(flaw.ring, whole)
    ]
    known = shapely.union_all(
        [shapely.Polygon(flaw.ring) for flaw in flaws if flaw.kind.goes_through]
        + [shapely.Polygon(hole) for hole in kept_holes]
    )
    flaws += [
        flaw
        for flaw in now.flaws
        if flaw.kind.goes_through and not known.intersects(shapely.Polygon(flaw.ring))
    ]
    regions = tuple(
        msgspec.structs.replace(
            region,
            outline=_points(motion.moved(region.ring)),
            stretch=_turned(region.stretch, motion)
            if isinstance(region.stretch, float | int)
            else region.stretch,
        )
        for region in hide.regions
    )
    return msgspec.structs.replace(
        hide,
        outline=now.outline,
        holes=kept_holes,
        flaws=tuple(flaws),
        regions=tuple(region for region in regions if _lies_on(region.ring, whole)),
        backbone=None if hide.backbone is None else _points(motion.moved(hide.backbone)),
        stretch=None if hide.stretch is None else _turned(hide.stretch, motion),
        origin=now.origin,
    )


def placement_along(placement: Placement, motion: HideMotion) -> Placement:
    """The placement where its leather lies now: its form unchanged, its middle and its turn taken along."""
    middle = np.array(centroid(placement.cut_ring))
    rigid = motion.without_stretch(middle)
    x, y = rigid.moved([(placement.x, placement.y)])[0]
    return msgspec.structs.replace(
        placement,
        angle=(placement.angle + motion.turn) % 360.0,
        x=float(x),
        y=float(y),
        finished=_exact(rigid.moved(placement.finished_ring)),
        cut=_exact(rigid.moved(placement.cut_ring)),
    )


def hide_redrawn(hide: Hide, moved: Callable[[Floats], Floats]) -> Hide:
    """The hide with its outline, holes and flaws where `moved` takes their points (n, 2)."""
    return msgspec.structs.replace(
        hide,
        outline=_points(moved(hide.ring)),
        holes=tuple(_points(moved(hole)) for hole in hide.hole_rings),
        flaws=tuple(_flaw_along(flaw, moved) for flaw in hide.flaws),
    )


def _flaw_along(flaw: Flaw, moved: Callable[[Floats], Floats]) -> Flaw:
    if flaw.disc is not None:
        x, y = moved(np.array([flaw.disc.at], dtype=np.float64))[0]
        return msgspec.structs.replace(flaw, disc=Disc(at=(float(x), float(y)), diameter=flaw.disc.diameter))
    if flaw.line is not None:
        line = Line(
            points=_points(moved(np.array(flaw.line.points, dtype=np.float64))), width=flaw.line.width
        )
        return msgspec.structs.replace(flaw, line=line)
    return msgspec.structs.replace(flaw, outline=_points(moved(flaw.ring)))


def _turned(axis: float, motion: HideMotion) -> float:
    return round((axis + motion.turn) % 180.0, 2)


def _lies_on(ring: Floats, whole: object) -> bool:
    import shapely

    return bool(shapely.intersects(shapely.Polygon(ring), whole))


def _points(points: ArrayLike) -> Points:
    return tuple((round(float(x), 2), round(float(y), 2)) for x, y in np.asarray(points))


def _exact(points: Floats) -> Points:
    return tuple((float(x), float(y)) for x, y in points)
