"""Pieces from measures: trapezoid, scalloped and pointed panels, straps with their ends, discs, laces.

Each function gives the finished piece (or strip) with its lower left corner, or its left end, at the origin;
`PANELS` names them with their parameters, so that a form can be made for each. Curves are flattened to
FLATTENING mm. The defaults are ours, to be changed; only those with a source beside them have one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from nestplan.errors import InputError
from nestplan.model.piece import FLATTENING, Mark, Piece, Strip

__all__ = [
    "PANELS",
    "PanelKind",
    "PanelParameter",
    "StrapEnd",
    "disc",
    "lace",
    "pointed_panel",
    "scalloped_panel",
    "strap",
    "trapezoid_panel",
]

StrapEnd = Literal["square", "round", "point", "bevel"]

_Ring = list[tuple[float, float]]


@dataclass(frozen=True)
class PanelParameter:
    """One parameter of a form: its argument name, its label, and what stands in it at first (mm unless a count
    or a choice)."""

    name: str
    label: str
    default: float | int | str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class PanelKind:
    """A kind of piece that measures make: what it is called, its parameters, and the function that makes it."""

    label: str
    parameters: tuple[PanelParameter, ...]
    make: Callable[..., Piece | Strip]


def trapezoid_panel(name: str, *, top: float, bottom: float, height: float, lean: float = 0.0) -> Piece:
    """A panel with level top and bottom edges; `lean` shifts the top sideways from the middle of the
    bottom."""
    _check_positive(top=top, bottom=bottom, height=height)
    _check_range("lean", abs(lean), 0.0, 5000.0)
    middle = bottom / 2.0 + lean
    ring = [(0.0, 0.0), (bottom, 0.0), (middle + top / 2.0, height), (middle - top / 2.0, height)]
    return _piece(name, ring)


def scalloped_panel(
    name: str, *, width: float, height: float, scallops: int, depth: float, top: float | None = None
) -> Piece:
    """A panel whose lower edge is a row of `scallops` equal arcs bulging downward by `depth`.

    `height` is measured from the top edge to the lowest points; `top` is the width of the top edge (default:
    as wide as below). Each arc spans width / scallops; its depth may be at most half of that (a half circle).
    """
    _check_positive(width=width, height=height, depth=depth)
    _check_count("scallops", scallops, 1, 200)
    span = width / scallops
    _check_range("depth", depth, 0.0, min(span / 2.0, height * 0.999))
    edge: _Ring = [(0.0, depth)]
    for k in range(scallops):
        edge += _arc((k * span, depth), ((k + 1) * span, depth), depth)[1:]
    wide = width if top is None else top
    _check_positive(top=wide)
    return _piece(name, [*edge, ((width + wide) / 2.0, height), ((width - wide) / 2.0, height)])


def pointed_panel(name: str, *, width: float, height: float, point: float, top: float | None = None) -> Piece:
    """A panel whose lower edge comes to a point in the middle, `point` below the ends of its sides.

    `height` is measured from the top edge to the tip.
    """
    _check_positive(width=width, height=height, point=point)
    _check_range("point", point, 0.0, height * 0.999)
    wide = width if top is None else top
    _check_positive(top=wide)
    sides = [((width + wide) / 2.0, height), ((width - wide) / 2.0, height)]
    return _piece(name, [(0.0, point), (width / 2.0, 0.0), (width, point), *sides])


def strap(
    name: str,
    *,
    length: float,
    width: float,
    tip: StrapEnd = "point",
    butt: StrapEnd = "square",
    holes: int = 0,
    pitch: float = 25.0,
    first: float | None = None,
    diameter: float = 4.0,
) -> Piece:
    """A strap along x with its tip at the right end, shaped ends, and a row of holes on its middle line.

    Ends: `square`; `round`, a half circle; `point`, coming to its middle over half the width; `bevel`, one
    corner cut off over the width. `holes` are `pitch` apart from centre to centre (25 mm: a course on belts,
    sites.google.com cobblix), the one nearest the tip `first` mm from it (default 2.5 widths: a traditional
    saddler's rule).
    """
    _check_positive(length=length, width=width)
    _check_range("width", width, 0.0, length)
    right, left = _end(tip, width), [(-x, y) for x, y in reversed(_end(butt, width))]
    reach = max(x for x, _ in right)
    shift = max(-min(x for x, _ in left), 0.0)
    if reach + shift >= length:
        raise InputError("The strap is too short for its ends.", mend="Make it longer.", place="length")
    ring = [(x + length - reach, y) for x, y in right] + [(x + shift, y) for x, y in left]
    return _piece(name, ring, _holes(length, width, holes, pitch, first, diameter))


def disc(name: str, *, diameter: float, hole: float = 0.0) -> Piece:
    """A disc, with a round opening in its middle if `hole` (its diameter) is above 0."""
    _check_positive(diameter=diameter)
    _check_range("hole", hole, 0.0, diameter * 0.99)
    middle = (diameter / 2.0, diameter / 2.0)
    inner = [_circle(middle, hole / 2.0)] if hole > 0.0 else []
    return Piece(name=name, outline=tuple(_circle(middle, diameter / 2.0)), holes=tuple(map(tuple, inner)))


def lace(name: str, *, length: float, width: float, count: int = 1, joins: int = 0) -> Strip:
    """A lace, cut from a straight edge or round and round from a disc, whichever there is room for."""
    _check_positive(length=length, width=width)
    return Strip(name=name, length=length, width=width, count=count, use="lace", source="either", joins=joins)


def _end(kind: StrapEnd, width: float) -> _Ring:
    """The right end of a strap, from its lower to its upper corner, with the corners' x at 0."""
    half = width / 2.0
    if kind == "square":
        return [(0.0, 0.0), (0.0, width)]
    if kind == "point":
        return [(0.0, 0.0), (half, half), (0.0, width)]
    if kind == "bevel":
        return [(0.0, 0.0), (width, width)]
    if kind == "round":
        return _arc((0.0, 0.0), (0.0, width), half)
    raise InputError(
        f"'{kind}' is no end of a strap.", mend="Take square, round, point or bevel.", place="tip or butt"
    )


def _holes(
    length: float, width: float, holes: int, pitch: float, first: float | None, diameter: float
) -> tuple[Mark, ...]:
    _check_count("holes", holes, 0, 100)
    if holes == 0:
        return ()
    _check_positive(pitch=pitch, diameter=diameter)
    near = 2.5 * width if first is None else first
    _check_range("first", near, diameter / 2.0, length)
    if (
        diameter >= width
        or near + (holes - 1) * pitch + diameter / 2.0 > length
        or (holes > 1 and pitch <= diameter)
    ):
        raise InputError(
            f"{holes} holes of {diameter:g} mm, {pitch:g} mm apart, do not fit on the strap.",
            mend="Take fewer or smaller holes, or a longer strap.",
            place="holes",
        )
    return tuple(
        Mark(at=(length - near - k * pitch, width / 2.0), do="punch", diameter=diameter) for k in range(holes)
    )


def _arc(start: tuple[float, float], end: tuple[float, float], depth: float) -> _Ring:
    """Points on the arc from `start` to `end` that bulges `depth` to the right of the way, ends included."""
    chord = np.subtract(end, start)
    length = float(np.hypot(*chord))
    radius = (length * length / 4.0 + depth * depth) / (2.0 * depth)
    right = np.array([chord[1], -chord[0]]) / length
    center = (np.asarray(start) + end) / 2.0 + right * (depth - radius)
    half = math.asin(min(length / 2.0 / radius, 1.0))
    if depth > radius:
        half = math.pi - half
    middle = math.atan2(right[1], right[0])
    angles = np.linspace(middle - half, middle + half, _chords(radius, 2.0 * half) + 1)
    points = center + radius * np.column_stack([np.cos(angles), np.sin(angles)])
    points[0], points[-1] = start, end
    return _pairs(points)


def _circle(center: tuple[float, float], radius: float) -> _Ring:
    angles = np.linspace(0.0, 2.0 * math.pi, _chords(radius, 2.0 * math.pi), endpoint=False)
    return _pairs(np.asarray(center) + radius * np.column_stack([np.cos(angles), np.sin(angles)]))


def _chords(radius: float, sweep: float) -> int:
    """Chords so that none strays from the arc by FLATTENING mm and the area is true within 0.1 %; a whole number
    of fours, so that middles and quarters are corners and the outer measures come out."""
    widest = 2.0 * math.acos(max(1.0 - FLATTENING / radius, 0.0))
    return -4 * (-max(4, math.ceil(sweep / min(widest, math.radians(4.0)) - 1e-9)) // 4)


def _pairs(points: NDArray[np.float64]) -> _Ring:
    return [(x, y) for x, y in points.tolist()]


def _piece(name: str, ring: Sequence[tuple[float, float]], marks: tuple[Mark, ...] = ()) -> Piece:
    left, low = min(x for x, _ in ring), min(y for _, y in ring)
    outline = tuple((x - left, y - low) for x, y in ring)
    moved = tuple(_moved(mark, -left, -low) for mark in marks)
    return Piece(name=name, outline=outline, marks=moved)


def _moved(mark: Mark, x: float, y: float) -> Mark:
    return Mark(at=(mark.at[0] + x, mark.at[1] + y), do=mark.do, diameter=mark.diameter)


def _check_positive(**figures: float) -> None:
    for name, value in figures.items():
        _check_range(name, value, 0.0, 50_000.0)


def _check_range(name: str, value: float, low: float, high: float) -> None:
    """Above `low` (a `low` of 0 lets 0 pass only for figures that may be nothing) and up to `high`."""
    may_be_nothing = name in ("lean", "hole")
    if not (math.isfinite(value) and (low < value or (may_be_nothing and value == low)) and value <= high):
        raise InputError(
            f"A {name} of {value:g} mm cannot be; it goes from {low:g} to {high:g} mm.",
            mend="Change the figure.",
            place=name,
        )


def _check_count(name: str, value: Any, low: int, high: int) -> None:
    if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
        raise InputError(f"{value} {name} cannot be.", mend=f"Take {low} to {high}.", place=name)


_ENDS = ("square", "round", "point", "bevel")

PANELS: dict[str, PanelKind] = {
    "trapezoid": PanelKind(
        "panel with straight sides",
        (
            PanelParameter("top", "top edge", 100.0),
            PanelParameter("bottom", "bottom edge", 120.0),
            PanelParameter("height", "height", 110.0),
            PanelParameter("lean", "top shifted to the right", 0.0),
        ),
        trapezoid_panel,
    ),
    "scalloped": PanelKind(
        "panel with a scalloped lower edge",
        (
            PanelParameter("width", "width", 120.0),
            PanelParameter("height", "height, to the lowest points", 110.0),
            PanelParameter("scallops", "number of scallops", 3),
            PanelParameter("depth", "depth of a scallop", 12.0),
            PanelParameter("top", "top edge", 120.0),
        ),
        scalloped_panel,
    ),
    "pointed": PanelKind(
        "panel that comes to a point",
        (
            PanelParameter("width", "width", 120.0),
            PanelParameter("height", "height, to the tip", 140.0),
            PanelParameter("point", "how far the tip stands out", 40.0),
            PanelParameter("top", "top edge", 120.0),
        ),
        pointed_panel,
    ),
    "strap": PanelKind(
        "strap with shaped ends",
        (
            PanelParameter("length", "length over all", 1100.0),
            PanelParameter("width", "width", 38.0),
            PanelParameter("tip", "shape of the tip", "point", _ENDS),
            PanelParameter("butt", "shape of the other end", "square", _ENDS),
            PanelParameter("holes", "number of holes", 5),
            PanelParameter("pitch", "from hole to hole", 25.0),
            PanelParameter("diameter", "diameter of a hole", 4.0),
        ),
        strap,
    ),
    "disc": PanelKind(
        "disc",
        (
            PanelParameter("diameter", "diameter", 100.0),
            PanelParameter("hole", "diameter of the opening (0: none)", 0.0),
        ),
        disc,
    ),
    "lace": PanelKind(
        "lace",
        (
            PanelParameter("length", "length", 1500.0),
            PanelParameter("width", "width", 5.0),
            PanelParameter("count", "how many", 1),
            PanelParameter("joins", "joins allowed", 0),
        ),
        lace,
    ),
}
