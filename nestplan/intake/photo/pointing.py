"""What a person pointed at is binding: an outline is made to hold every place called hide, and none called floor.

Not here: what is learnt of hide and floor at those places (segmentation).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from nestplan.errors import InputError
from nestplan.intake.photo.segmentation import SEED_RADIUS

if TYPE_CHECKING:
    import shapely
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["bound_by_seeds", "check_seeds_apart"]

LEAST_APART = 1.0
"""Nearer than this, mm, a place called hide and one called floor are one."""
_OWN_SHARE = 0.45
"""The share of the way to the nearest place called otherwise that goes with a place."""
_LEAST_CLEAR = 0.45
"""Around a place called floor, mm, what joins parts of the hide keeps off it."""
_WIDEST_JOIN = 4000.0
"""Half the width, mm, of the widest strip that is tried to join parts of the hide: more than any hide's."""

Seeds = Sequence[tuple[float, float]]


def check_seeds_apart(hide_seeds: Seeds, floor_seeds: Seeds, *, file: str) -> None:
    """Nothing, if no place is called both.

    Raises InputError if one is.
    """
    if _nearest(hide_seeds, floor_seeds).min(initial=np.inf) < LEAST_APART:
        raise InputError(
            "One and the same place was called both hide and floor.",
            mend="Point at it once: as hide or as floor.",
            file=file,
        )


def bound_by_seeds(ring: Floats, hide_seeds: Seeds, floor_seeds: Seeds) -> tuple[Floats, tuple[Floats, ...]]:
    """The ring (n, 2), mm, with every hide seed inside and every floor seed outside, and openings for floor inside.

    A seed that the edge went past takes the circle round it along, as far as no other seed is nearer; what then lies
    apart is joined by a strip as wide as a seed, or wider where floor seeds lie in its way.
    """
    import shapely

    if not len(hide_seeds) and not len(floor_seeds):
        return ring, ()
    spots = _circles(floor_seeds, hide_seeds)
    shape = shapely.Polygon(ring)
    outside = [
        (seed, circle)
        for seed, circle in zip(hide_seeds, _circles(hide_seeds, floor_seeds), strict=True)
        if not shape.contains(shapely.Point(seed).buffer(LEAST_APART))
    ]
    whole = shapely.difference(
        shapely.union_all([shape, *(circle for _, circle in outside)]), shapely.union_all(spots)
    )
    parts = sorted(_polygons(whole), key=lambda part: -float(part.area))
    body = parts[0]
    for part in parts[1:]:
        if any(part.contains(shapely.Point(seed)) for seed in hide_seeds) and not body.contains(part):
            body = _joined(body, part, floor_seeds)
    body = shapely.orient_polygons(body)
    openings = tuple(np.asarray(hole.coords, dtype=np.float64)[:-1][::-1] for hole in body.interiors)
    return np.asarray(body.exterior.coords, dtype=np.float64)[:-1], openings


def _nearest(places: Seeds, others: Seeds) -> Floats:
    """How far (n,), mm, each place lies from the nearest of the others."""
    if not len(places) or not len(others):
        return np.full(len(places), np.inf)
    apart = np.asarray(places, dtype=np.float64)[:, None] - np.asarray(others, dtype=np.float64)[None]
    return np.asarray(np.hypot(apart[..., 0], apart[..., 1]).min(axis=1))


def _circles(places: Seeds, others: Seeds) -> list[shapely.Polygon]:
    """What goes with each place: a seed's circle, or less where one of the others is near."""
    import shapely

    reach = np.minimum(SEED_RADIUS, _OWN_SHARE * _nearest(places, others))
    return [
        shapely.Point(place).buffer(float(radius), quad_segs=4)
        for place, radius in zip(places, reach, strict=True)
    ]


def _polygons(shape: shapely.Geometry) -> list[shapely.Polygon]:
    return [part for part in getattr(shape, "geoms", [shape]) if part.geom_type == "Polygon"]


def _joined(body: shapely.Polygon, part: shapely.Polygon, floor_seeds: Seeds) -> shapely.Polygon:
    """Body and part in one, by the narrowest strip tried that leads past the floor seeds."""
    import shapely

    way = shapely.shortest_line(body, part)
    clear = shapely.union_all([shapely.Point(seed).buffer(_LEAST_CLEAR) for seed in floor_seeds])
    width = SEED_RADIUS
    while width < _WIDEST_JOIN:
        strip = shapely.difference(way.buffer(width, quad_segs=4), clear)
        both = shapely.union_all([body, part, strip])
        for joined in _polygons(both):
            if joined.contains(part.representative_point()) and joined.contains(body.representative_point()):
                return joined
        width *= 2
    return body
