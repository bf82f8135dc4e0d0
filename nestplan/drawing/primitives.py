"""What any drawing is made of: outlines, circles and texts, in millimetres with y up, each on a named layer.

A `Picture` collects them; it is described once and then put on any paper: `pdf`, `svg`, `png`, `dxf`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "Anchor",
    "Box",
    "Circle",
    "Fill",
    "Hatch",
    "HatchKind",
    "LineStyle",
    "Outline",
    "Picture",
    "Points",
    "Primitive",
    "Text",
    "bounds_of",
    "circle_ring",
    "dashed",
    "moved",
]

Points = NDArray[np.float64]
"""Points (n, 2), mm."""
Box = tuple[float, float, float, float]
"""An upright box: xmin, ymin, xmax, ymax, mm."""
Anchor = Literal["left", "middle", "right"]
HatchKind = Literal["lines", "cross", "dots", "dashes"]


@dataclass(frozen=True)
class LineStyle:
    """How a line is drawn: width in mm, colour `#rrggbb`, dash lengths on and off in mm (empty = solid)."""

    width: float = 0.25
    color: str = "#000000"
    dash: tuple[float, ...] = ()

    def scaled(self, factor: float) -> LineStyle:
        return LineStyle(self.width * factor, self.color, tuple(step * factor for step in self.dash))


@dataclass(frozen=True)
class Hatch:
    """A pattern over an area: kind, distance between its lines or dots in mm, angle in degrees, its stroke."""

    kind: HatchKind
    spacing: float
    angle: float = 45.0
    stroke: LineStyle = LineStyle(0.13)

    def scaled(self, factor: float) -> Hatch:
        return Hatch(self.kind, self.spacing * factor, self.angle, self.stroke.scaled(factor))


@dataclass(frozen=True)
class Fill:
    """What an area is filled with: a colour, a pattern over it, or both."""

    color: str | None = None
    hatch: Hatch | None = None

    def scaled(self, factor: float) -> Fill:
        return Fill(self.color, self.hatch.scaled(factor) if self.hatch else None)


@dataclass(frozen=True, eq=False)
class Outline:
    """One line or one area: open or closed rings (n, 2) in mm; a second closed ring inside the first is a hole.

    Filled by the even-odd rule. Stroke None = no line, fill None = nothing inside.
    """

    rings: tuple[Points, ...]
    closed: bool
    stroke: LineStyle | None
    fill: Fill | None
    layer: str


@dataclass(frozen=True)
class Circle:
    """A full circle: centre and radius in mm."""

    x: float
    y: float
    radius: float
    stroke: LineStyle | None
    fill: Fill | None
    layer: str


@dataclass(frozen=True)
class Text:
    """One line of text: `x`, `y` is its anchor on the baseline, `size` the height of the letters' em in mm.

    `angle` in degrees ccw. A `halo` colour draws the text's outline first, so that lines below do not disturb it.
    """

    x: float
    y: float
    words: str
    size: float
    anchor: Anchor
    angle: float
    bold: bool
    color: str
    halo: str | None
    layer: str


Primitive = Outline | Circle | Text


@dataclass
class Picture:
    """A drawing: what is drawn is kept in order, in mm with y up, for a paper to read."""

    items: list[Primitive] = field(default_factory=list)

    def line(self, points: ArrayLike, stroke: LineStyle = LineStyle(), *, layer: str = "") -> None:
        """An open line through `points` (n, 2)."""
        self.items.append(Outline((_points(points),), False, stroke, None, layer))

    def area(
        self,
        rings: ArrayLike | Sequence[ArrayLike],
        stroke: LineStyle | None = None,
        fill: Fill | None = None,
        *,
        layer: str = "",
    ) -> None:
        """A closed area: one ring (n, 2), or a sequence of rings of which the later ones are holes."""
        self.items.append(Outline(_rings(rings), True, stroke, fill, layer))

    def circle(
        self,
        x: float,
        y: float,
        radius: float,
        stroke: LineStyle | None = None,
        fill: Fill | None = None,
        *,
        layer: str = "",
    ) -> None:
        self.items.append(Circle(float(x), float(y), float(radius), stroke, fill, layer))

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float = 3.0,
        *,
        anchor: Anchor = "left",
        angle: float = 0.0,
        bold: bool = False,
        color: str = "#000000",
        halo: str | None = None,
        layer: str = "",
    ) -> None:
        self.items.append(
            Text(float(x), float(y), words, size, anchor, angle, bold, color, halo, layer),
        )

    def add(self, items: Iterable[Primitive]) -> None:
        self.items.extend(items)

    def on(self, layer: str) -> list[Primitive]:
        """What was drawn on one layer, in order."""
        return [item for item in self.items if item.layer == layer]

    def bounds(self) -> Box:
        """Smallest upright box round all outlines and circles (texts and stroke widths not counted), mm."""
        return bounds_of(self.items)

    def __iter__(self) -> Iterator[Primitive]:
        return iter(self.items)

    def __len__(self) -> int:
        return len(self.items)


def bounds_of(items: Iterable[Primitive]) -> Box:
    """Smallest upright box round all outlines and circles, mm; texts and stroke widths are not counted.

    Four zeros where there is nothing to measure.
    """
    low, high = np.full(2, math.inf), np.full(2, -math.inf)
    for item in items:
        if isinstance(item, Outline):
            for ring in item.rings:
                low, high = np.minimum(low, ring.min(axis=0)), np.maximum(high, ring.max(axis=0))
        elif isinstance(item, Circle):
            low = np.minimum(low, (item.x - item.radius, item.y - item.radius))
            high = np.maximum(high, (item.x + item.radius, item.y + item.radius))
    if not np.isfinite(low).all():
        return 0.0, 0.0, 0.0, 0.0
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def moved(
    items: Iterable[Primitive], dx: float = 0.0, dy: float = 0.0, scale: float = 1.0
) -> Iterator[Primitive]:
    """The same drawing scaled about the origin, then moved by (dx, dy) mm; strokes and letters scale with it."""
    shift = np.array((dx, dy))
    for item in items:
        if isinstance(item, Outline):
            yield Outline(
                tuple(ring * scale + shift for ring in item.rings),
                item.closed,
                item.stroke.scaled(scale) if item.stroke else None,
                item.fill.scaled(scale) if item.fill else None,
                item.layer,
            )
        elif isinstance(item, Circle):
            yield Circle(
                item.x * scale + dx,
                item.y * scale + dy,
                item.radius * scale,
                item.stroke.scaled(scale) if item.stroke else None,
                item.fill.scaled(scale) if item.fill else None,
                item.layer,
            )
        else:
            yield replace(item, x=item.x * scale + dx, y=item.y * scale + dy, size=item.size * scale)


def circle_ring(x: float, y: float, radius: float, steps: int = 72) -> Points:
    """The circle as a ring (steps, 2) on it, ccw, mm."""
    angles = np.linspace(0.0, 2.0 * math.pi, steps, endpoint=False)
    return np.column_stack((x + radius * np.cos(angles), y + radius * np.sin(angles)))


def dashed(points: Points, dash: Sequence[float], *, closed: bool = False) -> list[Points]:
    """The drawn stretches (m, 2) of a dashed line along `points`; dash lengths on, off, on … in mm, repeated."""
    path = np.vstack((points, points[:1])) if closed else points
    lengths = np.hypot(*np.diff(path, axis=0).T)
    along = np.concatenate(([0.0], np.cumsum(lengths)))
    total, period = float(along[-1]), float(sum(dash))
    if total <= 0.0 or period <= 0.0:
        return [path]
    stretches: list[Points] = []
    start = 0.0
    # A dash pattern of odd length changes its meaning every other turn, as in PDF and SVG.
    steps = list(dash) if len(dash) % 2 == 0 else [*dash, *dash]
    while start < total:
        for number, step in enumerate(steps):
            end = min(start + step, total)
            if number % 2 == 0 and end > start:
                inner = (along > start) & (along < end)
                ends = np.column_stack([np.interp((start, end), along, path[:, axis]) for axis in (0, 1)])
                stretches.append(np.vstack((ends[:1], path[inner], ends[1:])))
            start += step
            if start >= total:
                break
    return stretches


def _points(points: ArrayLike) -> Points:
    return np.asarray(points, dtype=np.float64).reshape(-1, 2)


def _rings(rings: ArrayLike | Sequence[ArrayLike]) -> tuple[Points, ...]:
    if isinstance(rings, np.ndarray):
        return (_points(rings),) if rings.ndim == 2 else tuple(_points(ring) for ring in rings)
    listed: list[ArrayLike] = list(rings)  # type: ignore[arg-type]
    if listed and np.ndim(listed[0]) == 1:
        return (np.array([_points(point)[0] for point in listed]),)
    return tuple(_points(ring) for ring in listed)
