"""What every record of the model is made of: lengths, areas, points, rings, and how they are checked.

A length in a file is a number (mm) or a text with its unit
(`"1 1/2 in"`); in the program it is always a float in mm. One that was read from a text is written as that text again.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence, Sized
from itertools import chain
from typing import TYPE_CHECKING, Annotated, Any

import msgspec
import numpy as np

from nestplan.errors import InputError, ShapeError
from nestplan.geometry.ring import FARTHEST_MM, make_ring
from nestplan.geometry.units import (
    MM2_PER_DM2,
    MM2_PER_FT2,
    read_area,
    read_length,
    read_thickness,
    read_thickness_range,
)

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Length = float
    Thickness = float
    ThicknessRange = tuple[float, float]
    Area = float
else:

    class Length(float):
        """A length in mm, read from a number (mm) or a text with its unit; `written` is that text."""

        written: str = ""

    class Thickness(float):
        """A thickness of leather in mm, read from a number (mm) or a text (`"2 mm"`, `"5 oz"`); `written` is that
        text."""

        written: str = ""

    class ThicknessRange(tuple):
        """The least and greatest thickness in mm, read from a pair of them or a text (`"2-3 oz"`)."""

    class Area(float):
        """An area in mm², read from a text with its unit (`"22.75 ft2"`)."""


__all__ = [
    "DECIMALS",
    "LEAST_LENGTH",
    "MAX_POINTS",
    "TOUCHING",
    "Area",
    "EdgeStitchName",
    "FlawKindName",
    "GoalName",
    "LacePathName",
    "Length",
    "MarkKindName",
    "Name",
    "Point",
    "Points",
    "Record",
    "Thickness",
    "ThicknessRange",
    "as_points",
    "as_ring",
    "as_written",
    "decode_value",
    "encode_value",
    "need",
    "need_at_most",
    "need_finite",
    "need_near",
    "need_range",
    "need_thickness_range",
    "need_unique",
    "need_word",
    "schema_of_value",
]

MAX_POINTS = 20_000
"""More points than any hand-drawn or traced outline needs; a larger ring is refused before work starts."""

DECIMALS = 4
"""Decimals to which files hold numbers; of a length in mm, a tenth of a micrometre."""

TOUCHING = 0.001
"""Nearer than so many mm a thing lies on another: what only touches does so too once it is written to 0.1 µm."""

LEAST_LENGTH = 0.01
"""mm: no width, diameter or thickness is less; it could not be made, and less might be written as 0."""

_MOST_THICKNESS = 1000.0

Point = Annotated[
    tuple[float, float],
    msgspec.Meta(description='x and y, plain numbers: mm, or inches in a job whose points are "in"'),
]
Points = tuple[Point, ...]
Name = Annotated[str, msgspec.Meta(min_length=1, max_length=200)]
GoalName = Annotated[str, msgspec.Meta(extra_json_schema={"registry": "goals"})]
FlawKindName = Annotated[str, msgspec.Meta(extra_json_schema={"registry": "flaw kinds"})]
LacePathName = Annotated[str, msgspec.Meta(extra_json_schema={"registry": "lace paths"})]
EdgeStitchName = Annotated[str, msgspec.Meta(extra_json_schema={"registry": "edge stitches"})]
MarkKindName = Annotated[str, msgspec.Meta(extra_json_schema={"registry": "mark kinds"})]


class Record(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True, omit_defaults=True, dict=True
):
    """Base of the model: unchangeable, refuses unknown keys, leaves defaults out of files."""


def decode_value(kind: type[Any], value: Any) -> Any:
    """One of the unit-bearing values from its file form.

    Raises UnitError where its unit is missing or unclear, InputError for a wrong type or a number that is not finite.
    """
    if kind.__name__ == "ThicknessRange":
        return kind(_thickness_range(value))
    readers = {Length: read_length, Thickness: read_thickness, Area: read_area}
    reader = readers.get(kind)
    if reader is None:
        raise NotImplementedError(f"no reader for {kind}")
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise InputError("A number or a text with its unit is expected here.", mend="Correct the value.")
    amount = reader(value)
    if not math.isfinite(amount):
        raise InputError(f"{value} is no finite number.", mend="Give a finite number.")
    made = kind(amount)
    if isinstance(value, str) and kind is not Area:
        made.written = value
    return made


def _thickness_range(value: Any) -> tuple[float, float]:
    """A pair of thicknesses, in the order given (see `need_thickness_range`), or a text such as `2-3 oz`."""
    if isinstance(value, list | tuple):
        if len(value) != 2:
            raise InputError(
                "A thickness has two figures, the least and the greatest.",
                mend='Write such as [2.0, 2.4], or "5-6 oz".',
            )
        low, high = (decode_value(Thickness, each) for each in value)
        return low, high
    if isinstance(value, str):
        return read_thickness_range(value)
    raise InputError("A thickness is a range.", mend='Write such as [2.0, 2.4], or "5-6 oz".')


def encode_value(value: Any) -> Any:
    """The file form of a unit-bearing value: the text it was read from, or its number (mm); for an area a text, in a
    short unit."""
    written = getattr(value, "written", "")
    if written:
        return written
    if type(value).__name__ == "Area":
        for unit, size in (("ft2", MM2_PER_FT2), ("dm2", MM2_PER_DM2)):
            amount = round(float(value) / size, 4)
            if math.isclose(amount * size, float(value), rel_tol=1e-12, abs_tol=1e-9):
                return f"{amount:.10g} {unit}"
        return f"{float(value):.15g} mm2"
    if isinstance(value, float):
        return float(value)
    raise NotImplementedError(f"no file form for {type(value)}")


def schema_of_value(kind: type[Any]) -> dict[str, Any]:
    """JSON Schema of a unit-bearing value."""
    if kind.__name__ == "Area":
        return {"type": "string", "description": "an area with its unit, such as 22.75 ft2 or 210 dm2"}
    if kind.__name__ == "ThicknessRange":
        one = schema_of_value(Thickness)
        return {
            "anyOf": [
                {"type": "array", "prefixItems": [one, one], "minItems": 2, "maxItems": 2, "items": False},
                {"type": "string"},
            ],
            "description": "the least and the greatest, or a text such as 5-6 oz",
        }
    if kind.__name__ in {"Length", "Thickness"}:
        return {"type": ["number", "string"], "description": "mm, or a text with its unit such as 1 1/2 in"}
    raise NotImplementedError(f"no schema for {kind}")


def need(condition: bool, what: str, *, place: str = "", mend: str = "") -> None:
    """Raise InputError with `what` unless `condition` holds."""
    if not condition:
        raise InputError(what, place=place, mend=mend)


def need_range(place: str, value: float | None, least: float, most: float, unit: str = "mm") -> None:
    """Raise InputError unless a number lies from `least` to `most`, or is None."""
    need(
        value is None or least <= value <= most,
        f"It must lie between {least:g} and {most:,g}{f' {unit}' if unit else ''}.",
        place=place,
        mend="Change it.",
    )


def need_at_most(place: str, things: Sized, most: int) -> None:
    """Raise InputError if there are more than `most` of something, which is more than any real file has."""
    need(
        len(things) <= most,
        f"There are {len(things):,}; nestplan reads up to {most:,}.",
        place=place,
        mend="Take out what is not needed.",
    )


def need_near(place: str, points: Iterable[Sequence[float]]) -> None:
    """Raise InputError unless all points are finite and no farther from the origin than any leather reaches."""
    flat = list(chain.from_iterable(points))
    need_finite(place, *flat)
    need(
        max(map(abs, flat), default=0.0) <= FARTHEST_MM,
        f"A point lies farther than {FARTHEST_MM / 1000:g} m from the origin.",
        place=place,
        mend="Check the unit: lengths are millimetres.",
    )


def need_finite(place: str, *values: float | None) -> None:
    """Raise InputError unless every value is a finite number or None."""
    need(
        all(map(math.isfinite, filter(None, values))),
        "A number is not finite.",
        place=place,
        mend="Give a finite number.",
    )


def need_thickness_range(thickness: tuple[float, float] | None) -> None:
    """Raise InputError unless a range of thicknesses (mm) is None or has 0 < least ≤ most."""
    if thickness is not None:
        need_finite("thickness", *thickness)
        need(
            0 < thickness[0] <= thickness[1],
            "Thickness needs 0 < least ≤ most.",
            place="thickness",
            mend="Correct the two values.",
        )
        for value in thickness:
            need_range("thickness", value, LEAST_LENGTH, _MOST_THICKNESS)


def need_unique(names: Iterable[str], place: str) -> None:
    """Raise InputError if a name stands twice."""
    seen: set[str] = set()
    for name in names:
        need(
            name not in seen, f"The name '{name}' stands twice.", place=place, mend="Give each its own name."
        )
        seen.add(name)


def need_word(place: str, word: str, allowed: Collection[str]) -> None:
    """Raise InputError unless `word` is one of those `allowed`."""
    need(
        word in allowed,
        f"'{word}' is none of the words allowed here.",
        place=place,
        mend=f"Use one of: {', '.join(sorted(allowed))}.",
    )


def as_points(ring: ArrayLike) -> Points:
    """A ring or line (n, 2), mm, as records hold it: plain pairs of numbers."""
    return tuple((x, y) for x, y in np.asarray(ring, dtype=np.float64).tolist())


def as_ring(points: Points, place: str) -> NDArray[np.float64]:
    """The checked counter-clockwise ring (n, 2), mm, of a list of points.

    Raises ShapeError, with its `place`, for too many points, for whatever `make_ring` refuses, and for a ring that
    would cross itself once it is written to 0.1 µm, since it could not be read again.
    """
    if len(points) > MAX_POINTS:
        raise ShapeError(
            f"The outline has {len(points):,} points, more than {MAX_POINTS:,}.",
            place=place,
            mend="Simplify it; a point every few millimetres is enough.",
        )
    ring = make_ring(points, place=place)
    written = as_written(points)
    if not np.array_equal(written, points):
        make_ring(written, place=place)
    return ring


def as_written(points: ArrayLike) -> NDArray[np.float64]:
    """Points (n, 2), mm, as a file holds them: to 0.1 µm."""
    return np.asarray(points, dtype=np.float64).round(DECIMALS)
