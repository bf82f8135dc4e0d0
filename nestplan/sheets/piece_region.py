"""In which region of its hide a placed piece lies, one answer for every sheet: the one that holds most of it."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from nestplan.model import Placement
from nestplan.model.rules import Zone

__all__ = ["region_of"]


def region_of(zones: Sequence[Zone], placed: Placement) -> Zone | None:
    """The zone that holds most of the finished piece, the first of equals; None where there is no zone."""
    shape = shapely.Polygon(placed.finished_ring)
    return max(zones, key=lambda zone: zone.area.intersection(shape).area, default=None)
