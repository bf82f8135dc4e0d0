"""One SVG shape as points: rectangles, circles, ellipses, polygons and path data, in user units.

The tree, its transforms, units and bounds are in `svg`.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator
from typing import Any
from xml.etree.ElementTree import Element

import numpy as np
import svgelements

from nestplan.errors import InputError, ShapeError
from nestplan.intake.drawings.flattening import bezier_points, circle_points, ellipse_points, put_together
from nestplan.intake.drawings.polylines import Points

__all__ = [
    "NUMBERS",
    "PHYSICAL",
    "PX",
    "Outlines",
    "label",
    "length",
    "numbers_in",
    "outlines",
    "place",
    "size",
    "tag_of",
]

PHYSICAL = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72.0, "pc": 25.4 / 6.0, "q": 0.25}
"""Millimetres in the absolute units of CSS Values and Units; `PX` is 1/96 in."""
PX = 25.4 / 96.0

_SVG = "{http://www.w3.org/2000/svg}"
_NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
NUMBERS = re.compile(_NUMBER)
_LENGTH = re.compile(rf"\s*({_NUMBER})\s*(mm|cm|in|pt|pc|q|px|%|em|ex|rem)?\s*", re.IGNORECASE)
_RELATIVE = {"%", "em", "ex", "rem"}
_PATH = re.compile(r"\s*[Mm][-+.,\d\seEMmZzLlHhVvCcSsQqTtAa]*")

# Points (n, 2) in user units, closed or not, and (x, y, diameter) of a full circle.
Outlines = Iterator[tuple[Points, bool, tuple[float, float, float] | None]]


def outlines(element: Element, tag: str, tolerance: float) -> Outlines:
    """The outlines of one shape element (a path may hold several), curves flattened to `tolerance` user
    units."""
    if tag == "path":
        yield from _path(element.get("d", ""), place(element), tolerance)
    elif tag in ("polyline", "polygon"):
        numbers = [float(text) for text in NUMBERS.findall(element.get("points", ""))]
        points = np.array(numbers[: len(numbers) // 2 * 2], dtype=np.float64).reshape(-1, 2)
        yield points, tag == "polygon", None
    elif tag == "line":
        ends = [(size(element, "x1"), size(element, "y1")), (size(element, "x2"), size(element, "y2"))]
        yield np.array(ends), False, None
    elif tag == "rect":
        yield from _rectangle(element, tolerance)
    else:
        x, y = size(element, "cx"), size(element, "cy")
        rx = size(element, "r") if tag == "circle" else size(element, "rx")
        ry = rx if tag == "circle" else size(element, "ry")
        if min(rx, ry) <= 0.0:
            return
        if rx == ry:
            yield circle_points(x, y, rx, tolerance), True, (x, y, 2.0 * rx)
        else:
            yield ellipse_points((x, y), (rx, 0.0), (0.0, ry), 0.0, math.tau, tolerance)[:-1], True, None


def _rectangle(element: Element, tolerance: float) -> Outlines:
    x, y, width, height = (size(element, key) for key in ("x", "y", "width", "height"))
    if width <= 0.0 or height <= 0.0:
        return
    given = [size(element, key) if element.get(key) else None for key in ("rx", "ry")]
    rx = given[0] if given[0] is not None else given[1] or 0.0
    ry = given[1] if given[1] is not None else rx
    rx, ry = min(max(rx, 0.0), width / 2.0), min(max(ry, 0.0), height / 2.0)
    corners = [
        (x + width - rx, y + ry, -0.25),
        (x + width - rx, y + height - ry, 0.0),
        (x + rx, y + height - ry, 0.25),
        (x + rx, y + ry, 0.5),
    ]
    pieces = [
        ellipse_points((cx, cy), (rx, 0.0), (0.0, ry), turn * math.tau, math.tau / 4.0, tolerance)
        if rx > 0.0 and ry > 0.0
        else np.array([[cx, cy]])
        for cx, cy, turn in corners
    ]
    yield np.vstack(pieces), True, None


def _path(data: str, where: str, tolerance: float) -> Outlines:
    if not data.strip():
        return
    if _PATH.fullmatch(data) is None:
        raise ShapeError("A path holds something that is no path data.", mend="Save it again.", place=where)
    path = svgelements.Path()
    try:
        path.parse(data)
    except Exception as error:
        # svgelements lets several kinds of error through; each means that the data are wrong.
        raise ShapeError("A path breaks off in the middle.", mend="Save it again.", place=where) from error
    segments: list[Any] = []
    for segment in path:
        if isinstance(segment, svgelements.Move):
            yield from _subpath(segments, tolerance)
            segments = []
        segments.append(segment)
        if isinstance(segment, svgelements.Close):
            yield from _subpath(segments, tolerance)
            segments = []
    yield from _subpath(segments, tolerance)


def _subpath(segments: list[Any], tolerance: float) -> Outlines:
    drawn = [each for each in segments if not isinstance(each, svgelements.Move | svgelements.Close)]
    if not drawn:
        return
    closed = isinstance(segments[-1], svgelements.Close)
    first = np.array([[drawn[0].start.x, drawn[0].start.y]], dtype=np.float64)
    points = put_together(itertools.chain([first], (_segment(each, tolerance)[1:] for each in drawn)))
    circle = _as_circle(drawn)
    if len(points) > 3 and np.hypot(*(points[0] - points[-1])) <= 1e-6 * max(1.0, np.ptp(points)):
        points, closed = points[:-1], True
    yield points, closed, circle if closed else None


def _segment(segment: Any, tolerance: float) -> Points:
    if isinstance(segment, svgelements.Arc) and segment.rx and segment.ry:
        center, major, minor = segment.center, segment.prx - segment.center, segment.pry - segment.center
        points = ellipse_points(
            (center.x, center.y),
            (major.x, major.y),
            (minor.x, minor.y),
            segment.get_start_t(),
            segment.sweep,
            tolerance,
        )
        points[0], points[-1] = segment.start, segment.end
        return points
    if isinstance(segment, svgelements.CubicBezier):
        controls = [segment.start, segment.control1, segment.control2, segment.end]
    elif isinstance(segment, svgelements.QuadraticBezier):
        controls = [segment.start, segment.control, segment.end]
    else:
        controls = [segment.start, segment.end]
    return bezier_points(np.array([(point.x, point.y) for point in controls], dtype=np.float64), tolerance)


def _as_circle(drawn: list[Any]) -> tuple[float, float, float] | None:
    """The circle that arcs of one centre and radius close to, or None."""
    if not all(isinstance(each, svgelements.Arc) and each.rx for each in drawn):
        return None
    centers = np.array([(each.center.x, each.center.y) for each in drawn])
    radii = np.array([(each.rx, each.ry) for each in drawn])
    radius = float(radii.mean())
    same = np.ptp(centers, axis=0).max() <= 1e-6 * radius and np.ptp(radii) <= 1e-6 * radius
    whole = abs(abs(sum(each.sweep for each in drawn)) - math.tau) <= 1e-6
    return (*map(float, centers.mean(axis=0)), 2.0 * radius) if same and whole else None  # type: ignore[return-value]


def numbers_in(element: Element) -> int:
    """How many numbers a shape's outline is made of."""
    return sum(1 for key in ("d", "points") for _ in NUMBERS.finditer(element.get(key, "")))


def length(text: str) -> tuple[float, str] | None:
    """A number and its unit (lower case, `""` for none, `"%"` for any relative one), or None."""
    match = _LENGTH.fullmatch(text) if len(text) < 100 else None
    if match is None:
        return None
    unit = (match[2] or "").lower()
    return float(match[1]), "%" if unit in _RELATIVE else unit


def size(element: Element, key: str) -> float:
    """An attribute of a shape in user units; 0 where it is not given. Raises InputError for a relative
    one."""
    text = element.get(key)
    if text is None:
        return 0.0
    found = length(text)
    if found is None or found[1] == "%":
        raise InputError(
            f"'{text[:40]}' is no length we can read.",
            mend="Save it as plain SVG, with sizes in numbers.",
            place=f"{place(element)}, {key}",
        )
    value, unit = found
    return value * (PHYSICAL[unit] / PX if unit in PHYSICAL else 1.0)


def tag_of(element: Element) -> str:
    """The element's name without its namespace."""
    tag = element.tag
    return tag.removeprefix(_SVG).rsplit("}", 1)[-1] if isinstance(tag, str) else ""


def label(element: Element) -> str:
    """What the drawing calls an element: a label in any namespace, else its id."""
    texts = (value for key, value in element.attrib.items() if key.rsplit("}", 1)[-1] == "label")
    return str(next(texts, element.get("id", ""))).strip()[:200]


def place(element: Element) -> str:
    """Where to find an element, in words."""
    name = label(element)
    return f"{tag_of(element)} '{name}'" if name else tag_of(element)
