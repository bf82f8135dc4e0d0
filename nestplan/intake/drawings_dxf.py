"""DXF files as strokes in mm: lines, arcs, circles, ellipses, polylines with bulges, splines, nested blocks.

Only the model space is read. Blocks are walked here with their own matrices, so that arcs stay true under any
scaling and nothing is expanded without being counted. Which strokes belong together is told in
`drawings_join`.
"""

from __future__ import annotations

import itertools
import logging
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ezdxf
import ezdxf.recover
import numpy as np
from ezdxf.lldxf.const import DXFError
from ezdxf.math import Matrix44

from nestplan.errors import InputError, NestplanError, ShapeError
from nestplan.intake.drawings_strokes import (
    Budget,
    Label,
    Points,
    Repair,
    Sketch,
    Stroke,
    bezier_points,
    bulge_points,
    circle_points,
    curve_tolerance,
    ellipse_points,
    missing_units,
    unit_scale,
)

__all__ = ["read_dxf"]

# $INSUNITS, DXF reference. Codes left out (miles, parsecs …) are asked for like a missing unit.
_INSUNITS = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 9: "mil", 13: "um", 14: "dm"}

# ezdxf tells its mends to a log; ours are listed in the drawing, and nobody asked for a second list.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())

# Entities that say nothing about shape: not worth a remark.
_SILENT = {"VIEWPORT", "ATTDEF", "SEQEND"}
_MOST_DEGREE = 25
# Points in a knot span by which its bend is measured first.
_PROBES = 16


@dataclass(frozen=True)
class _Frame:
    """Where the walk stands: matrix (4, 4) to mm, the layer that layer 0 stands for, blocks entered so
    far."""

    matrix: Matrix44
    layer: str
    blocks: tuple[str, ...]
    tolerance: float

    @property
    def stretch(self) -> float:
        return _stretch(self.matrix)


def read_dxf(path: Path, *, units: str | None, tolerance: float, budget: Budget, repair: bool) -> Sketch:
    """Strokes of a DXF file. Raises InputError, UnitError (no $INSUNITS and no `units`), ShapeError.

    With `repair` a damaged file is read with ezdxf's recovery, and every mend is listed.
    """
    document, repairs = _load(path, repair)
    named = _INSUNITS.get(int(document.header.get("$INSUNITS", 0) or 0))
    if units is None and named is None:
        raise missing_units("The drawing does not say its unit ($INSUNITS is not set).")
    sketch = Sketch(units or named or "mm", repairs=repairs)
    if units and named and unit_scale(units) != unit_scale(named):
        sketch.repairs.append(
            Repair(f"the file says its unit is {named}", f"read as {units}, as asked", 0.0, 0.0)
        )
    scale = unit_scale(sketch.units)
    frame = _Frame(Matrix44.scale(scale, scale, scale), "0", (), tolerance)
    hidden = {layer.dxf.name.lower() for layer in document.layers if layer.is_off() or layer.is_frozen()}
    try:
        _walk(document.modelspace(), frame, sketch, budget, document, hidden)
    except NestplanError:
        raise
    except (
        DXFError,
        ValueError,
        TypeError,
        ArithmeticError,
        LookupError,
        AttributeError,
        RecursionError,
    ) as error:
        raise InputError(
            f"A shape in the drawing cannot be read ({error}).",
            mend="Save it again as DXF R2000 or later, lines and polylines only.",
        ) from error
    return sketch


def _load(path: Path, repair: bool) -> tuple[Any, list[Repair]]:
    try:
        return ezdxf.readfile(path), []
    except OSError as error:
        raise InputError("This is no DXF file.", mend="Give a DXF file, ASCII or binary.") from error
    except Exception as error:
        # ezdxf lets many kinds of error through on damaged bytes; all of them mean the same to the user.
        if not repair:
            raise InputError(
                f"The DXF file is damaged ({_first_line(error)}).",
                mend="Save it again, or allow repairs to read what is whole.",
            ) from error
    try:
        document, auditor = ezdxf.recover.readfile(path)
    except Exception as error:
        raise InputError(
            f"The DXF file is damaged beyond repair ({_first_line(error)}).", mend="Save it again."
        ) from error
    done = [
        Repair("the file is damaged", _first_line(entry.message), 0.0, 0.0, slight=False)
        for entry in [*auditor.fixes, *auditor.errors]
    ]
    return document, done or [Repair("the file is damaged", "what is whole was read", 0.0, 0.0, slight=False)]


def _first_line(message: object) -> str:
    lines = str(message).strip().splitlines()
    return lines[0][:200] if lines else type(message).__name__


def _walk(
    entities: Iterable[Any], frame: _Frame, sketch: Sketch, budget: Budget, document: Any, hidden: set[str]
) -> None:
    for entity in entities:
        budget.entity()
        kind = entity.dxftype()
        layer = entity.dxf.get("layer", "0")
        layer = frame.layer if layer == "0" else layer
        if layer.lower() in hidden:
            sketch.skipped[f"things on the layer {layer}, which is switched off"] += 1
        elif kind == "INSERT":
            _enter(entity, frame, layer, sketch, budget, document, hidden)
        elif kind in ("TEXT", "MTEXT"):
            text = entity.plain_text() if kind == "MTEXT" else entity.dxf.text
            at = _place(frame, [entity.dxf.insert])
            sketch.labels.append(Label(text.strip()[:200], (float(at[0, 0]), float(at[0, 1])), layer))
        elif kind in _READERS:
            _add(entity, kind, layer, frame, sketch, budget)
        elif kind not in _SILENT:
            sketch.skipped[kind] += 1


def _add(entity: Any, kind: str, layer: str, frame: _Frame, sketch: Sketch, budget: Budget) -> None:
    place = f"{kind} {entity.dxf.handle}" if entity.dxf.handle else kind
    extrusion = entity.dxf.get("extrusion")
    if extrusion is not None and math.hypot(extrusion.x, extrusion.y) > 1e-6 * max(
        extrusion.magnitude, 1e-12
    ):
        raise ShapeError("A shape lies in a tilted plane.", mend="Draw it flat, in x and y.", place=place)
    for points, closed, circle in _READERS[kind](entity, frame.tolerance / max(frame.stretch, 1e-12)):
        if len(points) == 0:
            continue
        budget.add_points(len(points))
        flat = _place(frame, points)
        if not np.isfinite(flat).all() or np.abs(flat).max() > budget.limits.extent:
            raise ShapeError(
                f"A point lies further than {budget.limits.extent / 1000:g} m away, or nowhere.",
                mend="Check the unit of the drawing, and move it near its origin.",
                place=place,
            )
        full = None
        if circle is not None and _even(frame.matrix):
            x, y = _place(frame, [circle[0]])[0]
            full = (float(x), float(y), 2.0 * circle[1] * frame.stretch)
        sketch.strokes.append(Stroke(flat, closed, layer, "", place, circle=full))


def _enter(
    insert: Any, frame: _Frame, layer: str, sketch: Sketch, budget: Budget, document: Any, hidden: set[str]
) -> None:
    name = insert.dxf.get("name", "")
    place = f"block {name}"
    block = document.blocks.get(name)
    if block is None or block.block is None or block.block.is_xref:
        sketch.skipped[f"references to the block {name}, which is not in the file"] += 1
        return
    if name.lower() in frame.blocks:
        raise InputError("A block contains itself.", mend="Explode the blocks and save again.", place=place)
    budget.deeper(len(frame.blocks) + 1, place)
    copies = max(1, insert.dxf.get("row_count", 1)) * max(1, insert.dxf.get("column_count", 1))
    budget.entity(copies)
    for one in insert.multi_insert() if copies > 1 else [insert]:
        matrix = one.matrix44() * frame.matrix
        inside = _Frame(matrix, layer, (*frame.blocks, name.lower()), frame.tolerance)
        _walk(block, inside, sketch, budget, document, hidden)
    for attribute in insert.attribs:
        at = _place(frame, [attribute.dxf.insert])
        sketch.labels.append(
            Label(str(attribute.dxf.text).strip()[:200], (float(at[0, 0]), float(at[0, 1])), layer)
        )


def _place(frame: _Frame, points: Any) -> Points:
    """Points in the drawing's (or block's) frame as (n, 2) mm."""
    placed = [(point.x, point.y) for point in frame.matrix.transform_vertices(points)]
    return np.array(placed, dtype=np.float64).reshape(-1, 2)


def _axes(matrix: Matrix44) -> Points:
    x, y = matrix.ux, matrix.uy
    return np.array([[x.x, x.y], [y.x, y.y]])


def _stretch(matrix: Matrix44) -> float:
    """The largest factor by which the matrix lengthens anything in the plane."""
    axes = _axes(matrix)
    if not np.isfinite(axes).all():
        raise ShapeError(
            "A block is placed with a scale that is no number.", mend="Explode it and save again."
        )
    return float(np.linalg.norm(axes, 2))


def _even(matrix: Matrix44) -> bool:
    """Whether the matrix keeps circles round."""
    values = np.linalg.svd(_axes(matrix), compute_uv=False)
    return bool(values[0] - values[1] <= 1e-6 * values[0])


# What a reader of one kind of entity yields: points in the frame's own units, closed or not, circle or None.
_Found = Iterator[tuple[Any, bool, tuple[Any, float] | None]]


def _lift(points: Points, entity: Any) -> list[Any]:
    """Points (n, 2) in the entity's own plane as points of the drawing."""
    ocs = entity.ocs()
    return list(ocs.points_to_wcs([(x, y, 0.0) for x, y in points.tolist()]))


def _line(entity: Any, tolerance: float) -> _Found:
    yield [entity.dxf.start, entity.dxf.end], False, None


def _point(entity: Any, tolerance: float) -> _Found:
    yield [entity.dxf.location], False, None


def _circle(entity: Any, tolerance: float) -> _Found:
    center, radius = entity.dxf.center, abs(entity.dxf.radius)
    points = circle_points(center.x, center.y, radius, tolerance)
    yield _lift(points, entity), True, (entity.ocs().to_wcs((center.x, center.y, 0.0)), radius)


def _arc(entity: Any, tolerance: float) -> _Found:
    start, end = entity.dxf.start_angle, entity.dxf.end_angle
    sweep = (end - start) % 360.0
    if sweep < 1e-9:
        yield from _circle(entity, tolerance)
        return
    center, radius = entity.dxf.center, abs(entity.dxf.radius)
    points = ellipse_points(
        (center.x, center.y),
        (radius, 0.0),
        (0.0, radius),
        math.radians(start),
        math.radians(sweep),
        tolerance,
    )
    yield _lift(points, entity), False, None


def _ellipse(entity: Any, tolerance: float) -> _Found:
    # An ellipse is given in the drawing's own frame, not in a plane of its own.
    center, major, minor = entity.dxf.center, entity.dxf.major_axis, entity.minor_axis
    start = entity.dxf.start_param
    sweep = (entity.dxf.end_param - start) % math.tau
    whole = sweep < 1e-9 or math.tau - sweep < 1e-9
    points = ellipse_points(
        (center.x, center.y),
        (major.x, major.y),
        (minor.x, minor.y),
        start,
        math.tau if whole else sweep,
        tolerance,
    )
    round_one = whole and abs(major.magnitude - minor.magnitude) <= 1e-6 * major.magnitude
    circle = (center, major.magnitude) if round_one else None
    yield _flat(points[:-1] if whole else points), whole, circle


def _spline(entity: Any, tolerance: float) -> _Found:
    budget_points = len(entity.control_points) + len(entity.fit_points)
    if entity.dxf.get("degree", 3) > _MOST_DEGREE or budget_points > 50_000:
        raise ShapeError("A spline is too heavy.", mend="Redraw it with fewer points, degree 3.")
    curve = entity.construction_tool()
    if curve.is_rational or not curve.is_clamped:
        points = _sampled(curve, tolerance)
    else:
        pieces = [
            bezier_points(np.array([(p.x, p.y) for p in controls]), tolerance)
            for controls in curve.bezier_decomposition()
        ]
        points = np.vstack([pieces[0][:1], *(piece[1:] for piece in pieces)])
    closed = len(points) > 3 and bool(np.hypot(*(points[0] - points[-1])) < 1e-9)
    yield _flat(points[:-1] if closed else points), closed, None


def _sampled(curve: Any, tolerance: float) -> Points:
    """Points on any spline: each knot span in steps so fine that the measured bend keeps the
    tolerance."""
    # Before the degree-th knot and after the last but so many, an unclamped spline is not defined.
    degree = curve.degree
    knots = np.unique(np.array(curve.knots())[degree : len(curve.knots()) - degree])
    fine = curve_tolerance(np.array([(p.x, p.y) for p in curve.control_points]), tolerance)
    spans = [np.array([[p.x, p.y] for p in curve.points([knots[0]])])]
    for low, high in itertools.pairwise(knots):
        steps, points = _PROBES, spans[0]
        for _ in range(2):
            points = np.array([(p.x, p.y) for p in curve.points(np.linspace(low, high, steps + 1))])
            # A chord strays by an eighth of the second difference; half as much again for what lies between.
            stray = 1.5 * float(np.hypot(*np.diff(points, 2, axis=0).T).max(initial=0.0)) / 8.0
            if not math.isfinite(stray):
                break
            steps = min(max(math.ceil(steps * math.sqrt(stray / fine)), 2), 20_000)
        spans.append(points[1:])
    return np.vstack(spans)


def _flat(points: Points) -> list[tuple[float, float, float]]:
    return [(x, y, 0.0) for x, y in points.tolist()]


def _lwpolyline(entity: Any, tolerance: float) -> _Found:
    rows = np.array([(x, y, bulge) for x, y, bulge in entity.get_points("xyb")], dtype=np.float64).reshape(
        -1, 3
    )
    yield from _bulged(rows, bool(entity.closed), entity, tolerance)


def _polyline(entity: Any, tolerance: float) -> _Found:
    if entity.is_2d_polyline:
        # Flag 16 marks the frame of a fitted spline: control points, not points of the line.
        rows = [
            (v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0))
            for v in entity.vertices
            if not v.dxf.get("flags", 0) & 16
        ]
        yield from _bulged(
            np.array(rows, dtype=np.float64).reshape(-1, 3), entity.is_closed, entity, tolerance
        )
    elif entity.is_3d_polyline:
        points = [v.dxf.location for v in entity.vertices if not v.dxf.get("flags", 0) & 16]
        yield points, bool(entity.is_closed), None


def _bulged(rows: Points, closed: bool, entity: Any, tolerance: float) -> _Found:
    if len(rows) == 0:
        return
    spots, bulges = rows[:, :2], rows[:, 2]
    circle = _as_circle(spots, bulges, entity) if closed else None
    following = np.roll(spots, -1, axis=0) if closed else spots[1:]
    pieces = [
        bulge_points(start, end, float(bulge), tolerance)[:-1]
        for start, end, bulge in zip(spots, following, bulges, strict=False)
    ]
    if not closed:
        pieces.append(spots[-1:])
    yield _lift(np.vstack(pieces), entity), closed, circle


def _as_circle(spots: Points, bulges: Points, entity: Any) -> tuple[Any, float] | None:
    """A circle drawn as two half-circle bulges."""
    if len(spots) != 2 or not np.allclose(np.abs(bulges), 1.0, atol=1e-9) or bulges[0] != bulges[1]:
        return None
    middle = spots.mean(axis=0)
    return entity.ocs().to_wcs((middle[0], middle[1], 0.0)), float(np.hypot(*(spots[1] - spots[0])) / 2.0)


_READERS = {
    "LINE": _line,
    "POINT": _point,
    "CIRCLE": _circle,
    "ARC": _arc,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
}
