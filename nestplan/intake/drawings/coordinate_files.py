"""Plain rings as polylines in mm: CSV (`x,y[,ring]`) and rings in JSON after the manner of GeoJSON.

CSV: a header may name the unit (`x_mm`, `y (in)`); rows of one ring follow each other or share a value in
the third column. Columns are parted by commas, semicolons or tabs; beside the latter two, and in quotes, a decimal may
have a comma.
JSON: Polygon, MultiPolygon, LineString, MultiLineString, Point, MultiPoint (geometry types
of RFC 7946, but plane coordinates in a stated unit), Feature, FeatureCollection, GeometryCollection, or a
bare list of rings. Which lines belong together is told in `joining`.
"""

from __future__ import annotations

import csv
import io
import json
import math
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from nestplan.errors import InputError, ShapeError
from nestplan.intake.drawings.flattening import circle_points
from nestplan.intake.drawings.polylines import Points, Polyline, RawDrawing
from nestplan.intake.drawings.read_limits import ReadCounter
from nestplan.intake.drawings.units import missing_units, unit_scale

__all__ = ["read_csv_rings", "read_json_rings"]

_UNIT_IN_HEADER = re.compile(r"[xy][\s_]*[\[(]?\s*(mm|cm|dm|m|in|ft)\s*[\])]?", re.IGNORECASE)
_NESTING: dict[str, int] = {
    "Point": 0,
    "MultiPoint": 1,
    "LineString": 1,
    "MultiLineString": 2,
    "Polygon": 2,
    "MultiPolygon": 3,
}


def read_csv_rings(path: Path, *, units: str | None, counter: ReadCounter) -> RawDrawing:
    """Rings of a CSV file, each closed. Raises InputError with the line, UnitError without a unit."""
    text = _text(path, counter)
    parted_by = _delimiter(text)
    rows = csv.reader(io.StringIO(text, newline=None), delimiter=parted_by)
    _refuse_thousands(text, parted_by)
    if parted_by == ",":
        _refuse_commas_within(text)
    rings: dict[str, list[tuple[float, float]]] = {}
    stated: str | None = None
    try:
        for line, row in enumerate(rows, start=1):
            cells = [cell.strip() for cell in row]
            if not any(cells) or cells[0].startswith("#"):
                continue
            if not rings and cells[0][:1].lower() == "x":
                stated = _header_unit(cells)
                continue
            counter.count_points(1)
            rings.setdefault(cells[2] if len(cells) > 2 else "", []).append(_pair(cells, line, parted_by))
    except csv.Error as error:
        raise InputError(f"This is no CSV file ({error}).", mend="Write x,y on each line.") from error
    if not rings:
        raise InputError("The file holds no points.", mend="Write x,y on each line.")
    named = units or stated
    if named is None:
        raise missing_units("A CSV file of points does not say its unit.")
    raw = RawDrawing(named)
    for name, pairs in rings.items():
        counter.count_entities()
        points = _placed(pairs, named, counter, f"ring '{name}'" if name else "")
        if len(points) > 3 and np.array_equal(points[0], points[-1]):
            points = points[:-1]
        raw.polylines.append(Polyline(points, True, "", name, f"ring '{name}'" if name else ""))
    return raw


def _delimiter(text: str) -> str:
    """What parts the columns: a tab or a semicolon where the first line has one, else a comma."""
    first = next(
        (line for line in text[:10_000].splitlines() if line.strip() and not line.startswith("#")), ""
    )
    return "\t" if "\t" in first.strip() else ";" if ";" in first else ","


def _refuse_thousands(text: str, parted_by: str) -> None:
    """Raises InputError where commas stand in numbers and each may part thousands as well as decimals."""
    number = r'"\s*(-?\d+,\d+)\s*"' if parted_by == "," else r"(?<![\w.,])-?\d+,\d+(?![\w.,])"
    with_comma = re.findall(number, text)
    if with_comma and all(re.fullmatch(r"-?[1-9]\d{0,2},\d{3}", each) for each in with_comma):
        raise InputError(
            f"The comma in '{with_comma[0]}' may part decimals or thousands.",
            mend="Write a decimal point, and nothing between thousands.",
        )


def _refuse_commas_within(text: str) -> None:
    """Raises InputError where some lines have two whole numbers, parted by a comma, and some three: the third may name
    a ring, or be there for a decimal comma."""
    rows = [(line, row.strip()) for line, row in enumerate(text.splitlines(), start=1)]
    longer = [(line, row) for line, row in rows if re.fullmatch(r"-?\d+\s*,\s*-?\d+\s*,\s*-?\d+", row)]
    if longer and any(re.fullmatch(r"-?\d+\s*,\s*-?\d+", row) for _, row in rows):
        raise _commas_within(longer[0][1], longer[0][0])


def _commas_within(row: str, line: int) -> InputError:
    return InputError(
        f"'{row[:60]}' has commas between the numbers and, it seems, in them.",
        mend="Part the columns by a semicolon or a tab, such as 12,5;30,25, or write decimal points.",
        place=f"line {line}",
    )


def _header_unit(cells: list[str]) -> str | None:
    units = {match[1].lower() for cell in cells[:2] if (match := _UNIT_IN_HEADER.fullmatch(cell))}
    if len(units) > 1:
        raise InputError("x and y are headed with two units.", mend="Give both in one unit.", place="line 1")
    return next(iter(units), None)


def _pair(cells: list[str], line: int, parted_by: str) -> tuple[float, float]:
    if parted_by == "," and len(cells) > 3 and all(re.fullmatch(r"-?\d+", cell) for cell in cells[:4]):
        raise _commas_within(",".join(cells), line)
    # Beside commas a number with a comma in it stood in quotes.
    x, y = (
        cell.replace(",", ".") if cell.count(",") == 1 and "." not in cell else cell
        for cell in (*cells, "", "")[:2]
    )
    try:
        return float(x), float(y)
    except ValueError:
        raise InputError(
            f"'{','.join(cells)[:60]}' is no point.",
            mend="Write two numbers, x,y, and if need be the name of the ring; decimal commas where columns are "
            "parted by semicolons or tabs.",
            place=f"line {line}",
        ) from None


def _text(path: Path, counter: ReadCounter) -> str:
    data = path.read_bytes()
    counter.check_size(len(data))
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError("The file is not UTF-8 text.", mend="Save it as UTF-8.") from error


def read_json_rings(path: Path, *, units: str | None, counter: ReadCounter) -> RawDrawing:
    """Rings, lines and spots of a JSON file. Raises InputError with the key path, UnitError without a unit.

    The unit is the top level's `"units"`, or `units`. A feature's `properties` may hold `layer`, `role`,
    `name`, and for a point `diameter` (in the drawing's unit).
    """
    try:
        text = _text(path, counter)
        whole = json.loads(text)
        if "\\u" in text:
            # Half of a letter can be written so, and nowhere else.
            json.dumps(whole, ensure_ascii=False).encode()
    except (ValueError, RecursionError) as error:
        raise InputError(f"This is no JSON file ({str(error)[:100]}).", mend="Save it again.") from error
    if isinstance(whole, dict) and "nestplan" in whole:
        raise InputError(
            f"This is a {whole.get('kind', 'file')} of nestplan's own, no drawing.",
            mend="It needs no reading in: give it to the other commands as it is.",
        )
    stated = whole.get("units") if isinstance(whole, dict) else None
    named = units or (stated if isinstance(stated, str) else None)
    if named is None:
        raise missing_units('The rings do not say their unit (a top-level "units").')
    unit_scale(named)
    raw = RawDrawing(named)
    if isinstance(whole, dict) and "rings" in whole:
        whole = whole["rings"]
    if isinstance(whole, list):
        # A bare list of rings: holes are told by their place.
        for number, ring in enumerate(whole):
            _polygon([ring], {}, f"[{number}]", raw, counter)
        return raw
    for geometry, properties, place in _geometries(whole, {}, "", 0, counter):
        _read_geometry(geometry, properties, place, raw, counter)
    if not raw.polylines:
        raise InputError("The file holds no rings.", mend="Give polygons with coordinates.")
    return raw


def _geometries(
    node: Any, properties: dict[str, Any], place: str, depth: int, counter: ReadCounter
) -> Iterator[tuple[dict[str, Any], dict[str, Any], str]]:
    counter.count_entities()
    counter.check_depth(depth, place)
    if not isinstance(node, dict):
        raise InputError("A geometry is missing.", mend="Give an object with a type.", place=place)
    kind = node.get("type")
    if kind in ("FeatureCollection", "GeometryCollection"):
        key = "features" if kind == "FeatureCollection" else "geometries"
        members = node.get(key)
        if not isinstance(members, list):
            raise InputError(f"'{key}' is missing.", mend="Give a list.", place=place)
        for number, member in enumerate(members):
            yield from _geometries(
                member, properties, f"{place}{'.' if place else ''}{key}[{number}]", depth + 1, counter
            )
    elif kind == "Feature":
        own = node.get("properties")
        inner = own if isinstance(own, dict) else {}
        yield from _geometries(
            node.get("geometry"), inner, f"{place}.geometry".lstrip("."), depth + 1, counter
        )
    elif isinstance(kind, str) and kind in _NESTING:
        yield node, properties, place
    else:
        raise InputError(
            f"'{str(kind)[:40]}' is no kind of geometry.",
            mend=f"Use {', '.join(_NESTING)}.",
            place=f"{place}.type".lstrip("."),
        )


def _read_geometry(
    geometry: dict[str, Any], properties: dict[str, Any], place: str, raw: RawDrawing, counter: ReadCounter
) -> None:
    kind, data = geometry["type"], geometry.get("coordinates")
    place = f"{place}.coordinates".lstrip(".")
    if kind == "Point":
        _read_point(data, properties, place, raw, counter)
        return
    members = data if isinstance(data, list) else None
    if members is None:
        raise InputError("The coordinates are missing.", mend="Give a list of points.", place=place)
    if kind == "MultiPoint":
        for number, point in enumerate(members):
            _read_point(point, properties, f"{place}[{number}]", raw, counter)
    elif kind == "LineString":
        _read_ring(members, False, properties, place, raw, counter)
    elif kind == "MultiLineString":
        for number, line in enumerate(members):
            _read_ring(line, False, properties, f"{place}[{number}]", raw, counter)
    elif kind == "Polygon":
        _polygon(members, properties, place, raw, counter)
    else:
        for number, rings in enumerate(members):
            _polygon(rings, properties, f"{place}[{number}]", raw, counter)


def _polygon(
    rings: Any, properties: dict[str, Any], place: str, raw: RawDrawing, counter: ReadCounter
) -> None:
    if not isinstance(rings, list):
        raise InputError("A polygon is a list of rings.", mend="Check the brackets.", place=place)
    for number, ring in enumerate(rings):
        # Holes are told by their place; only the outer ring carries the polygon's role and name.
        own = properties if number == 0 else {"layer": properties.get("layer", "")}
        _read_ring(ring, True, own, place if len(rings) == 1 else f"{place}[{number}]", raw, counter)


def _read_ring(
    data: Any, closed: bool, properties: dict[str, Any], place: str, raw: RawDrawing, counter: ReadCounter
) -> None:
    if not isinstance(data, list) or not data:
        raise InputError("A ring is a list of points.", mend="Check the brackets.", place=place)
    counter.count_entities()
    counter.count_points(len(data))
    points = _placed(data, raw.units, counter, place)
    if closed and len(points) > 3 and np.array_equal(points[0], points[-1]):
        points = points[:-1]
    raw.polylines.append(Polyline(points, closed, *_named(properties), place, _role(properties)))


def _read_point(
    data: Any, properties: dict[str, Any], place: str, raw: RawDrawing, counter: ReadCounter
) -> None:
    counter.count_entities()
    points = _placed([data], raw.units, counter, place)
    diameter = properties.get("diameter")
    layer, name = _named(properties)
    if diameter is None:
        raw.polylines.append(Polyline(points, False, layer, name, place, _role(properties)))
        return
    if isinstance(diameter, bool) or not isinstance(diameter, int | float) or not 0 < diameter < math.inf:
        raise InputError(
            "A diameter is no number above 0.", mend="Give a number.", place=f"{place}, diameter"
        )
    x, y = map(float, points[0])
    across = float(diameter) * unit_scale(raw.units)
    ring = circle_points(x, y, across / 2.0, 0.05)
    counter.count_points(len(ring))
    raw.polylines.append(Polyline(ring, True, layer, name, place, _role(properties), (x, y, across)))


def _named(properties: dict[str, Any]) -> tuple[str, str]:
    return str(properties.get("layer") or "")[:200], str(properties.get("name") or "")[:200]


def _role(properties: dict[str, Any]) -> str:
    return str(properties.get("role") or "")[:40]


def _placed(pairs: Any, units: str, counter: ReadCounter, place: str) -> Points:
    """Points (n, 2) in mm. Raises InputError for anything that is no list of finite pairs."""
    for number, pair in enumerate(pairs):
        fit = isinstance(pair, list | tuple) and len(pair) in (2, 3)
        if not fit or any(isinstance(v, bool) or not isinstance(v, int | float) for v in pair):
            raise InputError("A point is two numbers.", mend="Write [x, y].", place=f"{place}[{number}]")
    try:
        points = np.array([pair[:2] for pair in pairs], dtype=np.float64).reshape(-1, 2) * unit_scale(units)
    except OverflowError:
        points = np.full((1, 2), math.inf)
    if not np.isfinite(points).all() or np.abs(points).max(initial=0.0) > counter.limits.extent:
        raise ShapeError(
            f"A point lies further than {counter.limits.extent / 1000:g} m away, or nowhere.",
            mend="Check the unit and the figures.",
            place=place,
        )
    return points
