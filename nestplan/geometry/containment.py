"""A ring that has to lie inside an area once it is posed: what every rule about places comes down to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    import shapely

__all__ = ["Containment"]


@dataclass(frozen=True, eq=False)
class Containment:
    """`ring` (n, 2), mm, in its own frame, must lie inside `area` (mm, the hide's or field's frame) once posed."""

    ring: npt.NDArray[np.float64]
    area: shapely.Polygon | shapely.MultiPolygon
