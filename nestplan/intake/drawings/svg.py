"""SVG files as polylines in mm: basic shapes, paths, nested transforms, view boxes, `use` and `symbol`.

The XML is parsed with entities and outside references refused; the tree is walked here, so that every copy a
`use` makes is counted before it is made. svgelements reads path data and transforms. Style sheets, clipping
and text are no shapes and are left out. Which lines belong together is told in `joining`.
"""

from __future__ import annotations

import io
import math
import re
from dataclasses import dataclass, replace
from pathlib import Path
from xml.etree.ElementTree import Element, ParseError

import numpy as np
import svgelements
from defusedxml import ElementTree
from defusedxml.common import DefusedXmlException

from nestplan.errors import InputError, NestplanError, ShapeError
from nestplan.intake.drawings.polylines import DrawnText, Points, Polyline, RawDrawing, Repair
from nestplan.intake.drawings.read_limits import ReadCounter
from nestplan.intake.drawings.svg_shapes import (
    NUMBERS,
    PHYSICAL,
    PX,
    label,
    length,
    numbers_in,
    outlines,
    place,
    size,
    tag_of,
)
from nestplan.intake.drawings.units import missing_units, unit_scale

__all__ = ["read_svg"]

Affine = Points
"""(2, 3) matrix: [x', y'] = A [x, y, 1]."""

_HREF = ("href", "{http://www.w3.org/1999/xlink}href")
_GROUPS = {"g", "a", "switch", "svg"}
_SHAPES = {"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"}
_SILENT = {"defs", "style", "metadata", "title", "desc", "symbol", "script", "clipPath", "mask"}
_SILENT |= {"linearGradient", "radialGradient", "filter", "marker", "pattern", "namedview"}

# Only a check of the alphabet, so that it takes time in proportion to the text; svgelements reads the
# numbers.
_TRANSFORM = re.compile(
    r"\s*(?:(?:matrix|translate|scale|rotate|skewX|skewY)\s{0,9}\([-+.,\d\seE]*\)[\s,]*)*"
)
_LONGEST_TRANSFORM = 10_000


@dataclass(frozen=True)
class _GroupPlacement:
    """Where the walk stands: matrix to mm (y down), the layer, depth, the ids of `use` entered so far."""

    matrix: Affine
    layer: str
    depth: int
    uses: tuple[str, ...]


def read_svg(path: Path, *, units: str | None, tolerance: float, counter: ReadCounter) -> RawDrawing:
    """Lines of an SVG file, y turned upward. Raises InputError, ShapeError, and UnitError when neither the
    file's width and height nor `units` tell how large one user unit is."""
    root = _parse(path, counter)
    if tag_of(root) != "svg":
        raise InputError("This is no SVG drawing.", mend="Give a file whose root element is svg.")
    if root.get("transform"):
        raise InputError("The drawing as a whole is transformed.", mend="Save it as plain SVG.", place="svg")
    matrix, named, height, repairs = _viewport(root, units)
    raw = RawDrawing(named, repairs=repairs)
    shapes = {element.get("id", ""): element for element in root.iter() if element.get("id")}
    placement = _GroupPlacement(matrix, "", 0, ())
    _read_element(root, placement, raw, counter, shapes, tolerance)
    raw.polylines = [_upward(polyline, height) for polyline in raw.polylines]
    raw.texts = [replace(each, point=(each.point[0], height - each.point[1])) for each in raw.texts]
    return raw


def _upward(polyline: Polyline, height: float) -> Polyline:
    points = np.column_stack([polyline.points[:, 0], height - polyline.points[:, 1]])
    circle = polyline.circle and (polyline.circle[0], height - polyline.circle[1], polyline.circle[2])
    return replace(polyline, points=points, circle=circle)


def _parse(path: Path, counter: ReadCounter) -> Element:
    data = path.read_bytes()
    counter.check_size(len(data))
    if data[:2] == b"\x1f\x8b":
        raise InputError("The SVG file is compressed.", mend="Save it as plain SVG, or unpack it first.")
    root: Element | None = None
    depth = 0
    try:
        events = ElementTree.iterparse(
            io.BytesIO(data), events=("start", "end"), forbid_entities=True, forbid_external=True
        )
        for event, element in events:
            if event == "start":
                counter.count_entities()
                root = element if root is None else root
                depth += 1
                counter.check_depth(depth - 8, tag_of(element))
            else:
                depth -= 1
    except DefusedXmlException as error:
        raise InputError(
            "The SVG file defines entities or points to files outside it, which is refused for safety.",
            mend="Save it as plain SVG.",
        ) from error
    except NestplanError:
        raise
    except (ParseError, ValueError, LookupError) as error:
        raise InputError(f"The SVG file is damaged ({error}).", mend="Save it again as plain SVG.") from error
    if root is None:
        raise InputError("The SVG file is empty.", mend="Save it again.")
    # The walk counts afresh: what matters then is what `use` makes of the tree.
    counter.entities = 0
    return root


def _viewport(root: Element, units: str | None) -> tuple[Affine, str, float, list[Repair]]:
    """The matrix from user units to mm, the unit's name, the page height in mm, remarks.

    With a view box, the page's width and height over the box's give the scale (SVG 2, section 8.2).
    """
    box = [float(text) for text in NUMBERS.findall(root.get("viewBox", ""))]
    if root.get("viewBox") and (len(box) != 4 or not all(map(math.isfinite, box)) or min(box[2:]) <= 0.0):
        raise InputError("The view box of the drawing is no box.", mend="Save it again.", place="viewBox")
    wide, wide_unit = _page_size(root, "width")
    high, high_unit = _page_size(root, "height")
    stated = wide_unit or high_unit
    remarks: list[Repair] = []
    if units in (None, stated) and stated is None:
        raise missing_units("The drawing does not say how large it is (width and height have no unit).")
    if units in (None, stated) or (units == "px" and stated is None):
        scale_x, scale_y = _page_scale(root, box, wide, high)
    else:
        scale_x = scale_y = unit_scale(units or "")
        if stated is not None:
            remarks.append(
                Repair(f"the file states its size in {stated}", f"read as {units}, as asked", 0.0, 0.0)
            )
    left, top = (box[0], box[1]) if box else (0.0, 0.0)
    matrix = np.array([[scale_x, 0.0, -left * scale_x], [0.0, scale_y, -top * scale_y]])
    page = box[3] * scale_y if box else (high or 0.0) / PX * scale_y
    return matrix, units or stated or "px", page, remarks


def _page_scale(
    root: Element, box: list[float], wide: float | None, high: float | None
) -> tuple[float, float]:
    """Millimetres in one user unit, across and down, from the page's size in mm and its view box."""
    if not box or (wide is None and high is None):
        return PX, PX
    scale_x = wide / box[2] if wide is not None else (high or 0.0) / box[3]
    scale_y = high / box[3] if high is not None else scale_x
    fit = root.get("preserveAspectRatio", "xMidYMid meet").split()
    if fit[:1] != ["none"]:
        scale_x = scale_y = (max if "slice" in fit else min)(scale_x, scale_y)
    return scale_x, scale_y


def _page_size(root: Element, side: str) -> tuple[float | None, str | None]:
    """A side of the page in mm and the unit it is stated in; (None, None) when it is not stated or
    relative."""
    text = root.get(side)
    if not text:
        return None, None
    found = length(text)
    if found is None:
        raise InputError(
            f"The {side} '{text[:40]}' of the drawing is no length.", mend="Save it again.", place=side
        )
    number, unit = found
    if unit == "%":
        return None, None
    value = number * PHYSICAL.get(unit, PX)
    if not (math.isfinite(value) and value > 0.0):
        raise InputError(f"The {side} of the drawing is {text[:40]}.", mend="Save it again.", place=side)
    return value, unit or None


def _read_element(
    element: Element,
    placement: _GroupPlacement,
    raw: RawDrawing,
    counter: ReadCounter,
    shapes: dict[str, Element],
    tolerance: float,
) -> None:
    tag = tag_of(element)
    counter.count_entities()
    if tag in _SILENT and not (tag == "symbol" and placement.uses):
        return
    if _hidden(element):
        raw.skipped["hidden things"] += 1
        return
    if placement.depth:
        placement = replace(placement, matrix=_compose(placement.matrix, _transform(element)))
    placement = replace(placement, depth=placement.depth + 1)
    counter.check_depth(placement.depth, place(element))
    if tag in _GROUPS or tag == "symbol":
        inner = _inside_group(element, tag, placement)
        for child in element:
            _read_element(child, inner, raw, counter, shapes, tolerance)
    elif tag == "use":
        _read_use(element, placement, raw, counter, shapes, tolerance)
    elif tag in _SHAPES:
        _read_shape(element, tag, placement, raw, counter, tolerance)
    elif tag == "text":
        text = " ".join("".join(element.itertext()).split())[:200]
        x, y = _apply(placement.matrix, np.array([[size(element, "x"), size(element, "y")]]))[0]
        raw.texts.append(DrawnText(text, (float(x), float(y)), placement.layer))
    elif tag:
        raw.skipped[tag] += 1


def _inside_group(element: Element, tag: str, placement: _GroupPlacement) -> _GroupPlacement:
    """Where the children of a group, symbol or inner svg stand.

    Raises InputError for an inner view box.
    """
    if placement.depth > 1 and tag in ("svg", "symbol") and element.get("viewBox"):
        raise InputError(
            "A drawing inside the drawing has a view box of its own.",
            mend="Ungroup it, or save it as plain SVG.",
            place=place(element),
        )
    if placement.depth > 1 and tag == "svg":
        shift = np.array([[1.0, 0.0, size(element, "x")], [0.0, 1.0, size(element, "y")]])
        placement = replace(placement, matrix=_compose(placement.matrix, shift))
    name = (label(element) or element.get("class", "").strip()) if tag == "g" else ""
    return replace(placement, layer=name or placement.layer)


def _read_use(
    element: Element,
    placement: _GroupPlacement,
    raw: RawDrawing,
    counter: ReadCounter,
    shapes: dict[str, Element],
    tolerance: float,
) -> None:
    target = next((element.get(key, "") for key in _HREF if element.get(key)), "")
    where = place(element)
    if not target.startswith("#"):
        raise InputError("A shape is taken from another file.", mend="Save it as plain SVG.", place=where)
    name = target[1:]
    if name in placement.uses:
        raise InputError(
            "A shape is made of itself (use).", mend="Ungroup it and save it again.", place=where
        )
    if name not in shapes:
        raw.skipped[f"uses of {target[:60]}, which is not in the file"] += 1
        return
    shift = np.array([[1.0, 0.0, size(element, "x")], [0.0, 1.0, size(element, "y")]])
    inner = replace(placement, matrix=_compose(placement.matrix, shift), uses=(*placement.uses, name))
    _read_element(shapes[name], inner, raw, counter, shapes, tolerance)


def _read_shape(
    element: Element,
    tag: str,
    placement: _GroupPlacement,
    raw: RawDrawing,
    counter: ReadCounter,
    tolerance: float,
) -> None:
    if not np.isfinite(placement.matrix).all():
        raise _lies_nowhere(element, counter)
    stretch = float(np.linalg.norm(placement.matrix[:, :2], 2))
    fine = tolerance / max(stretch, 1e-12)
    name = label(element) or (placement.uses[-1] if placement.uses else "")
    counter.check_numbers(numbers_in(element))
    for points, closed, circle in outlines(element, tag, fine):
        if len(points) == 0:
            continue
        counter.count_points(len(points))
        placed = _apply(placement.matrix, points)
        if not np.isfinite(placed).all() or np.abs(placed).max() > counter.limits.extent:
            raise _lies_nowhere(element, counter)
        if circle is not None and _keeps_circles(placement.matrix):
            x, y = _apply(placement.matrix, np.array([circle[:2]]))[0]
            circle = (float(x), float(y), circle[2] * stretch)
        else:
            circle = None
        raw.polylines.append(Polyline(placed, closed, placement.layer, name, place(element), circle=circle))


def _lies_nowhere(element: Element, counter: ReadCounter) -> ShapeError:
    return ShapeError(
        f"A point lies further than {counter.limits.extent / 1000:g} m away, or nowhere.",
        mend="Check the unit of the drawing, and move it near its origin.",
        place=place(element),
    )


def _transform(element: Element) -> Affine:
    text = element.get("transform", "")
    if "transform" in element.get("style", ""):
        raise InputError("A shape is moved by its style.", mend="Save it as plain SVG.", place=place(element))
    if not text.strip():
        return np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    if len(text) > _LONGEST_TRANSFORM or _TRANSFORM.fullmatch(text) is None:
        raise InputError(
            f"The transform '{text[:60]}' cannot be read.",
            mend="Save it as plain SVG.",
            place=place(element),
        )
    try:
        m = svgelements.Matrix(text)
        rows = [[m.a, m.c, m.e], [m.b, m.d, m.f]]
    except (ValueError, TypeError, IndexError, ArithmeticError) as error:
        raise InputError(
            f"The transform '{text[:60]}' cannot be read.",
            mend="Save it as plain SVG.",
            place=place(element),
        ) from error
    return np.array(rows, dtype=np.float64)


def _compose(outer: Affine, inner: Affine) -> Affine:
    """The matrix that applies `inner` first."""
    linear = outer[:, :2] @ inner
    linear[:, 2] += outer[:, 2]
    return linear


def _apply(matrix: Affine, points: Points) -> Points:
    placed: Points = points @ matrix[:, :2].T + matrix[:, 2]
    return placed


def _keeps_circles(matrix: Affine) -> bool:
    """Whether the matrix keeps circles round."""
    values = np.linalg.svd(matrix[:, :2], compute_uv=False)
    return bool(values[0] - values[1] <= 1e-6 * values[0])


def _hidden(element: Element) -> bool:
    style = element.get("style", "").replace(" ", "")
    return (
        element.get("display") == "none"
        or "display:none" in style
        or element.get("visibility") == "hidden"
        or "visibility:hidden" in style
    )
