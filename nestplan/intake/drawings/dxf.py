"""DXF files as polylines in mm: lines, arcs, circles, ellipses, polylines with bulges, splines, nested blocks.

Only the model space is read. Blocks are walked here with their own matrices, so that arcs stay true under any
scaling and nothing is expanded without being counted. Which lines belong together is told in `joining`.
"""

from __future__ import annotations

import logging
import math
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ezdxf
import ezdxf.recover
import numpy as np
from ezdxf.lldxf.const import DXFError
from ezdxf.math import Matrix44

from nestplan.errors import InputError, NestplanError, ShapeError
from nestplan.intake.drawings.apparel import units_of_texts
from nestplan.intake.drawings.dxf_shapes import READERS
from nestplan.intake.drawings.polylines import DrawnText, Points, Polyline, RawDrawing, Repair
from nestplan.intake.drawings.read_limits import ReadCounter
from nestplan.intake.drawings.units import missing_units, unit_scale

__all__ = ["read_dxf"]

# $INSUNITS, DXF reference. Codes left out (miles, parsecs …) are asked for like a missing unit.
_INSUNITS = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 9: "mil", 13: "um", 14: "dm"}

# ezdxf tells its mends to a log; ours are listed in the drawing, and nobody asked for a second list.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())

# How far, as a share, a plane may lean, and how much in mm a shape may rise, and still count as flat.
_TILT = 1e-6
_HEIGHT = 0.05

# Entities that say nothing about shape: not worth a remark.
_SILENT = {"VIEWPORT", "ATTDEF", "SEQEND"}


@dataclass(frozen=True)
class _BlockPlacement:
    """Where the walk stands: matrix (4, 4) to mm, the layer that layer 0 stands for, blocks entered so far, and
    the outermost of them as it was placed."""

    matrix: Matrix44
    layer: str
    blocks: tuple[str, ...]
    tolerance: float
    group: str = ""

    @property
    def largest_factor(self) -> float:
        return _largest_factor(self.matrix)


def read_dxf(
    path: Path, *, units: str | None, tolerance: float, counter: ReadCounter, repair: bool
) -> RawDrawing:
    """Lines of a DXF file. Raises InputError, UnitError (no $INSUNITS and no `units`), ShapeError.

    With `repair` a damaged file is read with ezdxf's recovery, and every mend is listed.
    """
    document, repairs = _load(path, repair)
    code = document.header.get("$INSUNITS", 0)
    named = _INSUNITS.get(code) if isinstance(code, int) else None
    named = units_of_texts(_texts_outside_blocks(document)) or named
    if units is None and named is None:
        raise missing_units("The drawing does not say its unit ($INSUNITS is not set).")
    raw = RawDrawing(units or named or "mm", repairs=repairs)
    if units and named and unit_scale(units) != unit_scale(named):
        raw.repairs.append(
            Repair(f"the file says its unit is {named}", f"read as {units}, as asked", 0.0, 0.0)
        )
    scale = unit_scale(raw.units)
    placement = _BlockPlacement(Matrix44.scale(scale, scale, scale), "0", (), tolerance)
    hidden = {layer.dxf.name.lower() for layer in document.layers if layer.is_off() or layer.is_frozen()}
    try:
        _read_entities(document.modelspace(), placement, raw, counter, document, hidden)
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
    return raw


def _texts_outside_blocks(document: Any) -> list[str]:
    """The texts that stand in the model space itself, the first few hundred. Raises InputError if it has none."""
    try:
        texts = document.modelspace().query("TEXT")
    except KeyError as error:
        raise InputError(
            "The drawing has no model space.",
            mend="Save it again as DXF R2000 or later, lines and polylines only.",
        ) from error
    return [str(entity.dxf.get("text", "")) for entity in texts[:500]]


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


def _read_entities(
    entities: Iterable[Any],
    placement: _BlockPlacement,
    raw: RawDrawing,
    counter: ReadCounter,
    document: Any,
    hidden: set[str],
) -> None:
    for entity in entities:
        counter.count_entities()
        kind = entity.dxftype()
        layer = entity.dxf.get("layer", "0")
        layer = placement.layer if layer == "0" else layer
        if layer.lower() in hidden:
            raw.skipped[f"things on the layer {layer}, which is switched off"] += 1
        elif kind == "INSERT":
            _read_block(entity, placement, layer, raw, counter, document, hidden)
        elif kind in ("TEXT", "MTEXT"):
            text = entity.plain_text() if kind == "MTEXT" else entity.dxf.text
            at = _placed(placement, [entity.dxf.insert])
            raw.texts.append(
                DrawnText(text.strip()[:200], (float(at[0, 0]), float(at[0, 1])), layer, placement.group)
            )
        elif kind in READERS:
            _read_entity(entity, kind, layer, placement, raw, counter)
        elif kind not in _SILENT:
            raw.skipped[kind] += 1


def _read_entity(
    entity: Any, kind: str, layer: str, placement: _BlockPlacement, raw: RawDrawing, counter: ReadCounter
) -> None:
    place = f"{kind} {entity.dxf.handle}" if entity.dxf.handle else kind
    extrusion = entity.dxf.get("extrusion")
    if extrusion is not None and math.hypot(extrusion.x, extrusion.y) > _TILT * max(
        extrusion.magnitude, 1e-12
    ):
        raise ShapeError("A shape lies in a tilted plane.", mend="Draw it flat, in x and y.", place=place)
    for points, closed, circle in READERS[kind](
        entity, placement.tolerance / max(placement.largest_factor, 1e-12)
    ):
        if len(points) == 0:
            continue
        counter.count_points(len(points))
        flat = _placed_flat(placement, points, place)
        if not np.isfinite(flat).all() or np.abs(flat).max() > counter.limits.extent:
            raise ShapeError(
                f"A point lies further than {counter.limits.extent / 1000:g} m away, or nowhere.",
                mend="Check the unit of the drawing, and move it near its origin.",
                place=place,
            )
        full = None
        if circle is not None and _keeps_circles(placement.matrix):
            x, y = _placed(placement, [circle[0]])[0]
            full = (float(x), float(y), 2.0 * circle[1] * placement.largest_factor)
        depth = _point_depth(entity) * placement.largest_factor if kind == "POINT" else 0.0
        raw.polylines.append(
            Polyline(flat, closed, layer, "", place, circle=full, group=placement.group, depth=depth)
        )


def _point_depth(point: Any) -> float:
    """What a point says by its height or thickness, 0 for neither, in its block's units."""
    says = [abs(float(each)) for each in (point.dxf.location.z, point.dxf.get("thickness", 0.0))]
    return max((each for each in says if math.isfinite(each)), default=0.0)


def _read_block(
    insert: Any,
    placement: _BlockPlacement,
    layer: str,
    raw: RawDrawing,
    counter: ReadCounter,
    document: Any,
    hidden: set[str],
) -> None:
    name = insert.dxf.get("name", "")
    place = f"block {name}"
    block = document.blocks.get(name)
    if block is None or block.block is None or block.block.is_xref:
        raw.skipped[f"references to the block {name}, which is not in the file"] += 1
        return
    if name.lower() in placement.blocks:
        raise InputError("A block contains itself.", mend="Explode the blocks and save again.", place=place)
    counter.check_depth(len(placement.blocks) + 1, place)
    copies = max(1, insert.dxf.get("row_count", 1)) * max(1, insert.dxf.get("column_count", 1))
    counter.count_entities(copies)
    for one in insert.multi_insert() if copies > 1 else [insert]:
        matrix = one.matrix44() * placement.matrix
        if max(abs(matrix.ux.z), abs(matrix.uy.z)) > _TILT * _largest_factor(matrix):
            raise ShapeError("A block lies in a tilted plane.", mend="Draw it flat, in x and y.", place=place)
        group = placement.group or f"{name} {len(raw.polylines)}"
        inside = _BlockPlacement(matrix, layer, (*placement.blocks, name.lower()), placement.tolerance, group)
        _read_entities(block, inside, raw, counter, document, hidden)
    for attribute in insert.attribs:
        at = _placed(placement, [attribute.dxf.insert])
        raw.texts.append(
            DrawnText(
                str(attribute.dxf.text).strip()[:200],
                (float(at[0, 0]), float(at[0, 1])),
                layer,
                placement.group or name,
            )
        )


def _placed_flat(placement: _BlockPlacement, points: Any, where: str) -> Points:
    """Points of one shape as (n, 2) mm. Raises ShapeError if they do not lie at one height."""
    placed = np.array(
        [(point.x, point.y, point.z) for point in placement.matrix.transform_vertices(points)],
        dtype=np.float64,
    ).reshape(-1, 3)
    if np.isfinite(placed).all() and np.ptp(placed[:, 2]) > _HEIGHT:
        raise ShapeError(
            f"A shape rises by {np.ptp(placed[:, 2]):.3g} mm, so it is not flat.",
            mend="Flatten the drawing to one height.",
            place=where,
        )
    return placed[:, :2]


def _placed(placement: _BlockPlacement, points: Any) -> Points:
    """Points in the drawing's (or block's) frame as (n, 2) mm."""
    placed = [(point.x, point.y) for point in placement.matrix.transform_vertices(points)]
    return np.array(placed, dtype=np.float64).reshape(-1, 2)


def _axes(matrix: Matrix44) -> Points:
    x, y = matrix.ux, matrix.uy
    return np.array([[x.x, x.y], [y.x, y.y]])


def _largest_factor(matrix: Matrix44) -> float:
    """The largest factor by which the matrix lengthens anything in the plane."""
    axes = _axes(matrix)
    if not np.isfinite(axes).all():
        raise ShapeError(
            "A block is placed with a scale that is no number.", mend="Explode it and save again."
        )
    return float(np.linalg.norm(axes, 2))


def _keeps_circles(matrix: Matrix44) -> bool:
    """Whether the matrix keeps circles round."""
    values = np.linalg.svd(_axes(matrix), compute_uv=False)
    return bool(values[0] - values[1] <= 1e-6 * values[0])
