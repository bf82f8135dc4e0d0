"""A hide found again in a new photograph: how it lies now against its old outline, and what has changed since.

Outlines are matched (outline_match) with room for a little stretch and for edges that lie elsewhere; what differs then
by more than both outlines may err is a change: leather gone, leather that was not there, an opening that is new.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from nestplan.errors import InputError
from nestplan.geometry.ring import area
from nestplan.intake.photo.outline_match import OutlineMatch, Slant, matches, mirror_image, slant_between

if TYPE_CHECKING:
    import shapely
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["OutlineChange", "Registration", "register_outline"]

SAME_SHARE = 0.7
"""Share of the edge that is believed unchanged while starts are compared."""
LEAST_SAME, MOST_RESIDUAL = 0.5, 6.0
"""A hide is found again if at least so much of its edge lies within so many mm, in the mean square, of the new one."""
MOST_STRETCH = 0.06
"""Leather does not grow or shrink by more between two photographs, and scales err by less."""
RIVAL = 1.6
"""Another turn whose residual is less than so many times the best one's might be right as well."""
OTHER_TURN = 6.0
"""Matches whose turns differ by less, degrees, are one."""
LEAST_DEPTH = 5.0
"""How far, mm, an edge must lie elsewhere to be told as a change, beside what both outlines may err."""
LEAST_OPENING_ACROSS = 8.0


@dataclass(frozen=True, eq=False)
class OutlineChange:
    """A place that differs: leather `gone`, `more` than there was, or a new `opening`; its `ring` (n, 2) as the hide
    lies now, mm, and how `deep` it reaches, mm."""

    kind: Literal["gone", "more", "opening"]
    ring: Floats
    deep: float

    @property
    def area(self) -> float:
        """Its area, mm²."""
        return area(self.ring)


@dataclass(frozen=True, eq=False)
class Registration:
    """Places of the old outline lie now at `points @ matrix.T + shift`; `residual` mm in the mean square over the
    `same` share of the edge; `rival` another turn (degrees against this one) that fits nearly as well, or None.
    `slant` is what was left of perspective in the new outline: all of this holds once that is straightened."""

    matrix: Floats
    shift: Floats
    residual: float
    same: float
    changes: tuple[OutlineChange, ...]
    slant: Slant
    rival: float | None = None


def register_outline(
    old: Floats,
    now: Floats,
    *,
    old_openings: Sequence[Floats] = (),
    now_openings: Sequence[Floats] = (),
    tolerance: float = 0.0,
) -> Registration:
    """How a hide with the outline `old` (n, 2) lies now that its outline is `now`, mm, and what has changed.

    What a camera that is known badly has left of perspective in the new outline is found too, and straightened.

    `tolerance` mm: how far both outlines together may err.

    Raises InputError if the new outline is not that hide's, or shows its other face.
    """
    found = _plausible(matches(old, now, keep=SAME_SHARE, affine=True))
    if not found:
        other = _plausible(matches(mirror_image(old), now, keep=SAME_SHARE, affine=True))
        if other:
            raise InputError(
                "The hide lies with its other face up.",
                mend="Turn it over as it was when its outline was taken, and photograph it again.",
            )
        raise InputError(
            "The outline in the photograph is not that of this hide, or more than half of its edge has changed.",
            mend="Check that it is the same hide, or take it in anew with trace.",
        )
    slant = slant_between(old, now, found[0])
    now, now_openings = slant.straightened(now), [slant.straightened(ring) for ring in now_openings]
    found = _plausible(matches(old, now, keep=SAME_SHARE, affine=True)) or found
    best = found[0]
    rival = next(
        (
            other
            for other in found[1:]
            if other.residual < RIVAL * best.residual + 0.3 and abs(_turned(other, best)) > OTHER_TURN
        ),
        None,
    )
    depth = LEAST_DEPTH + tolerance + 2 * best.residual
    changes = _changes(best.moved(old), now, depth)
    changes += _new_openings([best.moved(ring) for ring in old_openings], now_openings, depth)
    turn = None if rival is None else _turned(rival, best)
    return Registration(
        best.matrix,
        best.shift,
        best.residual,
        best.kept,
        tuple(sorted(changes, key=lambda change: -change.area)),
        slant,
        turn,
    )


def _turned(match: OutlineMatch, other: OutlineMatch) -> float:
    """By how many degrees one match is turned against another."""
    return (match.turn - other.turn + 180) % 360 - 180


def _plausible(found: list[OutlineMatch]) -> list[OutlineMatch]:
    """The matches that may be true, the best first: little stretch, most of the edge the same."""

    def merit(match: OutlineMatch) -> float:
        return match.residual / max(match.kept, 0.05)

    good = [
        match
        for match in found
        if max(abs(np.log(match.stretch))) < MOST_STRETCH
        and match.kept >= LEAST_SAME
        and match.residual <= MOST_RESIDUAL
        and float(np.linalg.det(match.matrix)) > 0
    ]
    return sorted(good, key=merit)


def _changes(old: Floats, now: Floats, depth: float) -> list[OutlineChange]:
    import shapely

    before, after = (shapely.make_valid(shapely.Polygon(ring)) for ring in (old, now))
    changes: list[OutlineChange] = []
    for kind, one, other in (("gone", before, after), ("more", after, before)):
        # What reaches deeper than `depth` beyond the other outline; grown again over its whole extent.
        deep = one.difference(other.buffer(depth, quad_segs=4))
        left = one.difference(other)
        for part in _polygons(left):
            if part.intersects(deep) and not part.intersection(deep).is_empty:
                reach = shapely.hausdorff_distance(part, part.intersection(other.buffer(0.5)))
                ring = np.asarray(shapely.orient_polygons(part).exterior.coords)[:-1]
                changes.append(OutlineChange(kind, ring, round(float(reach), 1)))  # type: ignore[arg-type]
    return changes


def _new_openings(old: Sequence[Floats], now: Sequence[Floats], depth: float) -> list[OutlineChange]:
    import shapely

    known = shapely.union_all([shapely.Polygon(ring).buffer(depth) for ring in old])
    found = []
    for ring in now:
        for part in _polygons(shapely.Polygon(ring).difference(known)):
            across = 2 * float(np.sqrt(part.area / np.pi))
            if across >= LEAST_OPENING_ACROSS:
                points = np.asarray(shapely.orient_polygons(part).exterior.coords)[:-1]
                found.append(OutlineChange("opening", points, round(across, 1)))
    return found


def _polygons(shape: shapely.Geometry) -> list[shapely.Polygon]:
    import shapely

    parts = getattr(shape, "geoms", [shape])
    return [part for part in parts if isinstance(part, shapely.Polygon) and not part.is_empty]
