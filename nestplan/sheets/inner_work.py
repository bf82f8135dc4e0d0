"""What is done inside the outline of a piece that is cut from one layer, as lines where the piece lies.

`layer_work` says what belongs to which layer and time; nothing of the other layers is given here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from nestplan.drawing.primitives import Points
from nestplan.geometry.pose import Pose
from nestplan.model import Mark, Opening, Piece
from nestplan.model.layer_work import work_at_table, work_drawn_for_later

__all__ = ["InnerLine", "clear_of_work", "inner_lines"]

_SPOT_ROOM = 2.0
"""Words keep so far off a spot, mm."""


@dataclass(frozen=True, eq=False)
class InnerLine:
    """One thing inside a piece, where the piece lies.

    `points`, mm: the edge (n, 2) of an opening, the ends (2, 2) of a bar, the middle (1, 2) of a circle or a spot;
    `radius` (mm) of a circle. `later`: only drawn now, and done once the layers are glued and trimmed. `cuts`: leather
    is cut there.
    """

    item: Opening | Mark
    symbol: Literal["opening", "circle", "bar", "spot"]
    points: Points
    radius: float
    later: bool
    cuts: bool


def inner_lines(piece: Piece, layer: str, pose: Pose) -> Iterator[InnerLine]:
    """What is done to one layer at the table, then what is drawn on it for later."""
    for later, work in ((False, work_at_table(piece, layer)), (True, work_drawn_for_later(piece, layer))):
        for opening in work.openings:
            yield InnerLine(opening, "opening", pose.apply(opening.ring), 0.0, later, True)
        for mark in work.marks:
            if mark.kind.symbol == "bar" and mark.length:
                yield InnerLine(mark, "bar", pose.apply(mark.ends), 0.0, later, mark.kind.cuts)
                continue
            middle = pose.apply(np.array((mark.at,), dtype=np.float64))
            if mark.kind.symbol == "circle" and mark.diameter:
                yield InnerLine(mark, "circle", middle, mark.diameter / 2.0, later, mark.kind.cuts)
            else:
                yield InnerLine(mark, "spot", middle, 0.0, later, mark.kind.cuts)


def clear_of_work(piece: Piece, layer: str) -> shapely.Geometry:
    """A piece in its own frame without what is done to one of its layers: where words may stand, mm."""
    shape: shapely.Geometry = shapely.Polygon(piece.ring)
    taken = []
    for line in inner_lines(piece, layer, Pose(0.0, 0.0)):
        if line.symbol == "opening":
            taken.append(shapely.make_valid(shapely.Polygon(line.points)))
        elif line.symbol == "bar":
            taken.append(shapely.LineString(line.points).buffer(0.5))
        else:
            taken.append(shapely.Point(line.points[0]).buffer(line.radius or _SPOT_ROOM))
    return shapely.difference(shape, shapely.union_all(taken)) if taken else shape
