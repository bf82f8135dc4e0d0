"""What every drawing reader hands over: polylines in mm, y upward, curves made into points, and texts and
repairs.

How polylines become closed rings is told in `joining`.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from nestplan.errors import ShapeError

__all__ = ["DrawnText", "FrameError", "Points", "Polyline", "RawDrawing", "Repair", "place_words"]

Points = NDArray[np.float64]


class FrameError(ShapeError):
    """A line that makes no outline, or a frame round all of them: leaving out its `layer` may mend the drawing."""

    def __init__(
        self, what: str, *, mend: str = "", place: str = "", file: str = "", layer: str = ""
    ) -> None:
        super().__init__(what, mend=mend, place=place, file=file)
        self.layer = layer


@dataclass(frozen=True)
class Polyline:
    """One drawn thing: points (n, 2) in mm, y upward; a closed one does not repeat its first point.

    `circle` is (x, y, diameter) when the line is a true full circle. A single point is a spot. `name` is
    what the drawing calls it, `place` where to find it in the file, `group` the placed block it belongs to. `depth` is
    a point's height or thickness, mm.
    """

    points: Points
    closed: bool
    layer: str = ""
    name: str = ""
    place: str = ""
    role: str = ""
    circle: tuple[float, float, float] | None = None
    group: str = ""
    depth: float = 0.0


@dataclass(frozen=True)
class DrawnText:
    """A text in the drawing, the spot (x, y) in mm where it starts, and the placed block it belongs to."""

    text: str
    point: tuple[float, float]
    layer: str = ""
    group: str = ""


@dataclass(frozen=True)
class Repair:
    """One mend made on a drawing: what was found, what was done, where (mm), and the largest move in mm.

    A `slight` repair moves no point by more than the joining tolerance and loses nothing; it is made without
    asking and listed. Others are made only when the caller allows repairs.
    """

    found: str
    done: str
    x: float
    y: float
    moved: float = 0.0
    slight: bool = True

    @property
    def place(self) -> str:
        return place_words((self.x, self.y))

    def __str__(self) -> str:
        return f"{self.place}: {self.found}; {self.done}."


@dataclass
class RawDrawing:
    """What a reader found, before anything is joined. `skipped` counts entities that are no outlines."""

    units: str
    polylines: list[Polyline] = field(default_factory=list)
    texts: list[DrawnText] = field(default_factory=list)
    repairs: list[Repair] = field(default_factory=list)
    skipped: Counter[str] = field(default_factory=Counter)


def place_words(point: tuple[float, float] | Points) -> str:
    """The place of a point in words, mm to one decimal: `x 12.0, y 3.5 mm`."""
    x, y = float(point[0]) + 0.0, float(point[1]) + 0.0
    return f"x {round(x, 1) + 0.0:.1f}, y {round(y, 1) + 0.0:.1f} mm"
