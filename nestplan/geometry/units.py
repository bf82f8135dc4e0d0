"""Read and show lengths, areas and thicknesses in the units of the bench and of the tannery.

Inside the program a length is a float in millimetres and an area a float in square millimetres; only this
file knows of inches, square feet and ounces. It imports nothing heavy. What a length is *for*, and whether it
may be zero or negative, is checked by whoever asked for it.

Sources of the factors: the inch is 25.4 mm and the foot 304.8 mm exactly (international yard and pound
agreement, 1959; ISO 80000-3), hence 1 ft² = 9.290304 dm² exactly. The leather ounce is 1/64 in and the iron
1/48 in of thickness (ASTM D1814).
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Literal

from nestplan.errors import InputError, UnitError

__all__ = [
    "MM2_PER_DM2",
    "MM2_PER_FT2",
    "MM_PER_INCH",
    "MM_PER_OUNCE",
    "read_area",
    "read_area_mark",
    "read_length",
    "read_thickness",
    "read_thickness_range",
    "show_area",
    "show_length",
    "show_thickness",
]

MM_PER_INCH = 25.4
MM2_PER_DM2 = 10_000.0
MM2_PER_FT2 = 92_903.04
MM_PER_OUNCE = 25.4 / 64

Reading = Literal["tenths", "quarters"]

_INCH = Fraction(254, 10)
_LENGTHS: Mapping[str, Fraction] = {
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), Fraction(1)),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), Fraction(10)),
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), Fraction(1000)),
    **dict.fromkeys(("in", "in.", "inch", "inches", '"', "″", "”", "''"), _INCH),
    **dict.fromkeys(("ft", "ft.", "foot", "feet", "'", "′", "’"), 12 * _INCH),
    **dict.fromkeys(("yd", "yd.", "yard", "yards"), 36 * _INCH),
}
_AREAS: Mapping[str, Fraction] = {
    f"{sign}": factor**2
    for short, words, factor in (
        ("mm", ("millimetre", "millimeter"), Fraction(1)),
        ("cm", ("centimetre", "centimeter"), Fraction(10)),
        ("dm", ("decimetre", "decimeter"), Fraction(100)),
        ("m", ("metre", "meter"), Fraction(1000)),
        ("in", ("inch", "inche"), _INCH),
        ("ft", ("foot", "feet"), 12 * _INCH),
    )
    for sign in (
        f"{short}2",
        f"{short}^2",
        f"sq {short}",
        f"sq. {short}",
        f"sq. {short}.",
        f"sq{short}",
        *(f"square {word}" for word in words),
        *(f"square {word}s" for word in words),
    )
}
_THICKNESSES: Mapping[str, Fraction] = {
    **{sign: factor for sign, factor in _LENGTHS.items() if factor in (1, 10, _INCH)},
    **dict.fromkeys(("oz", "oz.", "ounce", "ounces"), _INCH / 64),
    **dict.fromkeys(("iron", "irons"), _INCH / 48),
}
_OUNCE_SIGNS = frozenset(("oz", "oz.", "ounce", "ounces"))

_MIXED = r"\d+(?:\s+|\s*-\s*)\d+\s*/\s*\d+"
_NUMBER = rf"(?:{_MIXED}|\d+\s*/\s*\d+|\d+[.,]\d+|[.,]\d+|\d+)"
_UNIT = r"[^\W\d_][^\d\s+]*(?:\s+[^\W\d_][^\d\s+]*)*(?:\^?2)?|[\"″”'′’]{1,2}"
_TERM = re.compile(rf"\s*({_NUMBER})\s*({_UNIT})?\s*")
_RANGE = re.compile(rf"\s*({_NUMBER})\s*({_UNIT})?\s*(?:-|\bto\b)\s*({_NUMBER})\s*({_UNIT})?\s*")
_LONGEST = 60


def read_length(value: float | int | str) -> float:
    """The length that `value` says, in mm: a bare number is mm, a text carries its unit.

    Texts may be `"12 mm"`, `"1.5 cm"`, `"1 1/2 in"`, `"1½ in"`, `"3/8in"`, `"2 ft"`, `"2 ft 6 1/2 in"`, and
    may start with a minus sign. A decimal comma is read as a point, but `"1,250 mm"` is refused: it may be
    1.25 or 1250. Fractions are exact. Raises UnitError where the unit is missing, unknown or unclear,
    InputError where the number is none (NaN, infinite, a truth value).
    """
    if not isinstance(value, str):
        return _plain_number(value, "length")
    text = _tidy(value, "length")
    sign = -1 if text.startswith("-") else 1
    amount = _sum_of_terms(
        text.lstrip("+-"), value, "length", _LENGTHS, 'Say "12 mm", "1.5 cm" or "1 1/2 in".'
    )
    return float(sign * amount)


def read_area(value: float | int | str) -> float:
    """The area that `value` says, in mm²: a text with its unit, such as `"22.75 ft2"`, `"210 dm2"`, `"1.2
    m²"`.

    A bare number is refused, since leather is sold in dm², ft² and m². Raises UnitError where the unit is
    missing or unknown, InputError where the area is negative or no number. For the figure a seller stamps on
    a hide see `read_area_mark`.
    """
    mend = 'Say the unit, such as "22.75 ft2", "210 dm2" or "1.2 m2".'
    if not isinstance(value, str):
        number = _plain_number(value, "area")
        raise UnitError(f"The area {number:g} has no unit.", mend=mend)
    text = _tidy(value, "area")
    match = _TERM.fullmatch(text)
    if match is None:
        raise _unreadable(value, "area", mend)
    return float(_exact(match[1], value) * _factor(match[2], value, "area", _AREAS, mend))


def read_thickness(value: float | int | str) -> float:
    """The thickness that `value` says, in mm: a bare number is mm; texts may use mm, in, oz or irons.

    The leather ounce is a thickness, 1/64 in (ASTM D1814), never a weight. Raises UnitError for a range such
    as `"2-3 oz"` (see `read_thickness_range`), for `"5/6 oz"`, which may be five sixths of an ounce or 5 to 6
    oz, and where the unit is missing or unknown; InputError where it is negative or no number.
    """
    low, high = read_thickness_range(value)
    if low != high:
        raise UnitError(f"{value!r} is a range of thicknesses.", mend="One thickness is wanted here.")
    return low


def read_thickness_range(value: float | int | str | Sequence[float | int | str]) -> tuple[float, float]:
    """The least and greatest thickness that `value` says, in mm.

    `"2-3 oz"`, `"1.2 to 1.4 mm"`, `"1 1/2-2 oz"`, or a pair of what `read_thickness` reads; a single
    thickness gives it twice. Raises UnitError as `read_thickness` does, InputError where the first is the
    greater.
    """
    if isinstance(value, Sequence) and not isinstance(value, str):
        if len(value) != 2:
            raise InputError(
                f"A thickness range has two figures, not {len(value)}.",
                mend="Give the least and the greatest.",
            )
        return _ordered(read_thickness(value[0]), read_thickness(value[1]), value)
    if not isinstance(value, str):
        number = _plain_number(value, "thickness")
        if number < 0:
            raise InputError(f"The thickness {number:g} mm is negative.", mend="Give 0 or more.")
        return number, number
    mend = 'Say "1.2 mm", "3 oz", or "2-3 oz" for a range.'
    text = _tidy(value, "thickness")
    single = _TERM.fullmatch(text)
    if single is not None:
        figure = _exact(single[1], value)
        factor = _factor(single[2], value, "thickness", _THICKNESSES, mend)
        bare_fraction = re.fullmatch(r"(\d+)\s*/\s*(\d+)", single[1])
        if bare_fraction and single[2].casefold() in _OUNCE_SIGNS and figure < 1:
            low, high = bare_fraction.groups()
            raise UnitError(
                f"{value!r} may be {low}/{high} of an ounce or {low} to {high} ounces.",
                mend=f'Say "{float(figure):.3g} oz" or "{low}-{high} oz".',
            )
        return float(figure * factor), float(figure * factor)
    pair = _RANGE.fullmatch(text)
    if pair is None:
        raise _unreadable(value, "thickness", mend)
    last = _factor(pair[4], value, "thickness", _THICKNESSES, mend)
    first = last if pair[2] is None else _factor(pair[2], value, "thickness", _THICKNESSES, mend)
    return _ordered(float(_exact(pair[1], value) * first), float(_exact(pair[3], value) * last), value)


def read_area_mark(text: str, reading: Reading | None = None) -> float:
    """The area that a seller's mark on a hide says, in mm²; refused where it has two meanings.

    Marks are square feet unless they name a metric unit. A lone digit after the whole number is a tenth of a
    foot in one trade custom and a quarter in another (Roberts and Etherington, *Bookbinding and the
    Conservation of Books*, 1982, "area": tenths in the United States, quarters in England): `"22.3"`, `"22
    3"` and `"22³"` are 22.30 ft² or 22.75 ft², and raise UnitError naming both unless `reading` says
    `"tenths"` or `"quarters"`. Read without asking: `"22"`, `"22.0"`, `"22 3/4"`, `"22.75"`; `"22.5"` (there
    are no five quarters, so tenths); `"22-3"` and `"22/3"` (the way quarters are written, so 22 3/4). `"1/2"`
    is a half or 1 2/4, and refused.
    """
    if reading not in (None, "tenths", "quarters"):
        raise UnitError(f"A mark is read in tenths or in quarters, not in {reading!r}.")
    stamp = re.sub(
        r"(?<=\d)[⁰¹²³⁴-⁹]+", lambda small: " " + unicodedata.normalize("NFKC", small[0]), str(text)
    )
    tidy = re.sub(r"\s*(?:ft2|ft\^2|sq\.? ?ft\.?|square (?:feet|foot)|ft\.?)$", "", _tidy(stamp, "area mark"))
    whole = re.fullmatch(r"(\d+)", tidy)
    lone = re.fullmatch(r"(\d+)\s*([., /-])\s*(\d)", tidy)
    pair = re.fullmatch(r"(\d+)[ ](\d\d)", tidy)
    if whole:
        return float(Fraction(whole[1]) * _AREAS["ft2"])
    if pair:
        return float((Fraction(pair[1]) + Fraction(pair[2]) / 100) * _AREAS["ft2"])
    if not lone:
        if re.search(r"[^\W\d_]", tidy):
            return read_area(tidy)
        return float(_exact_number(tidy, text) * _AREAS["ft2"])
    readings = _readings_of(int(lone[1]), lone[2], int(lone[3]), reading)
    if not readings:
        raise UnitError(
            f"The mark {text!r} has no reading in {reading or 'quarters'}.",
            mend='Write the area out, such as "22.75 ft2".',
        )
    if len(set(readings.values())) > 1:
        meanings = " or ".join(f"{float(area):.2f} ft² ({name})" for name, area in readings.items())
        raise UnitError(
            f"The mark {text!r} may mean {meanings}.",
            mend='Say which: give the reading, or write it out, such as "22 3/4" or "22.30".',
        )
    return float(next(iter(readings.values())) * _AREAS["ft2"])


def show_length(mm: float, unit: Literal["mm", "cm", "in"] = "mm", *, decimals: int | None = None) -> str:
    """`mm` in words, rounded: to 0.1 mm, to 0.01 cm, or to the nearest 1/16 in as a fraction.

    `decimals` gives that many decimals instead, inches included.
    """
    if unit == "mm":
        return f"{_rounded(mm, 1 if decimals is None else decimals)} mm"
    if unit == "cm":
        return f"{_rounded(mm / 10, 2 if decimals is None else decimals)} cm"
    if unit != "in":
        raise UnitError(f"Lengths are shown in mm, cm or in, not in {unit!r}.")
    if decimals is not None:
        return f"{_rounded(mm / MM_PER_INCH, decimals)} in"
    sixteenths = round(abs(mm) / MM_PER_INCH * 16)
    whole, part = divmod(Fraction(sixteenths, 16), 1)
    words = " ".join([str(whole)] * (whole > 0 or part == 0) + [str(part)] * (part > 0))
    return f"{'-' if mm < 0 and sixteenths else ''}{words} in"


def show_area(mm2: float, unit: Literal["dm2", "ft2"] = "dm2", *, decimals: int | None = None) -> str:
    """`mm2` in words, rounded to 0.1 dm² or 0.01 ft², or to `decimals`."""
    if unit == "dm2":
        return f"{_rounded(mm2 / MM2_PER_DM2, 1 if decimals is None else decimals)} dm²"
    if unit != "ft2":
        raise UnitError(f"Areas are shown in dm2 or ft2, not in {unit!r}.")
    return f"{_rounded(mm2 / MM2_PER_FT2, 2 if decimals is None else decimals)} ft²"


def show_thickness(mm: float, unit: Literal["mm", "oz"] = "mm", *, decimals: int | None = None) -> str:
    """`mm` in words, rounded to 0.01 mm or 0.1 oz, or to `decimals`."""
    if unit == "mm":
        return f"{_rounded(mm, 2 if decimals is None else decimals)} mm"
    if unit != "oz":
        raise UnitError(f"Thicknesses are shown in mm or oz, not in {unit!r}.")
    return f"{_rounded(mm / MM_PER_OUNCE, 1 if decimals is None else decimals)} oz"


def _readings_of(whole: int, mark: str, digit: int, reading: Reading | None) -> dict[str, Fraction]:
    """Every area in ft² that a whole number and a lone digit may mean, by the name of the reading."""
    tenths = {"tenths": whole + Fraction(digit, 10)}
    quarters = {"quarters": whole + Fraction(digit, 4)} if digit <= 3 else {}
    if reading is not None:
        return tenths if reading == "tenths" else quarters
    if mark == "/" and 0 < whole < digit:
        return {"a fraction": Fraction(whole, digit), **quarters}
    if mark in "/-":
        return quarters
    return {**tenths, **quarters}


def _plain_number(value: float | int, what: str) -> float:
    """`value` as a finite float; InputError for NaN, infinities, truth values and whatever is no number."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise InputError(f"A {what} is a number or a text with a unit, not {value!r}.")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise InputError(f"A {what} must be a finite number, not {number}.")
    return number


def _tidy(value: str, what: str) -> str:
    """`value` in lower case with plain dashes, plain digits after units and fractions as `n/d`."""
    if len(value) > _LONGEST:
        raise UnitError(
            f"A {what} of {len(value)} letters cannot be read.", mend="Write a number and its unit."
        )
    text = "".join(_plain_letter(letter) for letter in value.strip())
    return re.sub(r"\s+", " ", text).strip().casefold()


def _plain_letter(letter: str) -> str:
    if letter in "‐‑‒–—−":
        return "-"
    plain = unicodedata.normalize("NFKC", letter)
    if "⁄" in plain and len(plain) > 1:
        return f" {plain.replace('⁄', '/')} "
    if letter in "⁄∕":
        return "/"
    return plain if plain in ("2", " ") else letter


def _sum_of_terms(text: str, value: str, what: str, units: Mapping[str, Fraction], mend: str) -> Fraction:
    """The sum of the terms of `text` (`2 ft 6 in`), each with a unit smaller than the one before it."""
    total, last, at = Fraction(0), None, 0
    while at < len(text):
        match = _TERM.match(text, at)
        if match is None:
            raise _unreadable(value, what, mend)
        factor = _factor(match[2], value, what, units, mend)
        if last is not None and factor >= last:
            raise _unreadable(value, what, mend)
        total += _exact(match[1], value) * factor
        last, at = factor, match.end()
    if last is None:
        raise _unreadable(value, what, mend)
    return total


def _factor(sign: str | None, value: str, what: str, units: Mapping[str, Fraction], mend: str) -> Fraction:
    """The factor of the unit `sign`; UnitError where it is missing, unknown or of another kind."""
    if sign is None:
        raise UnitError(f"The {what} {value!r} has no unit.", mend=mend)
    factor = units.get(sign.strip())
    if factor is not None:
        return factor
    if sign.strip() in _OUNCE_SIGNS:
        raise UnitError(f"{value!r} is a thickness: ounces measure nothing else here.", mend=mend)
    raise UnitError(f"{sign.strip()!r} is no unit of {what}.", mend=mend)


def _exact_number(tidy: str, value: str) -> Fraction:
    if re.fullmatch(_NUMBER, tidy) is None:
        raise _unreadable(value, "area mark", 'Write it out, such as "22 3/4" or "22.75".')
    return _exact(tidy, value)


def _exact(number: str, value: str) -> Fraction:
    """A number matched by `_NUMBER` as an exact fraction; UnitError for `x/0` and for `1,250`."""
    if re.fullmatch(r"\d{1,3},\d{3}", number) and not number.startswith("0"):
        raise UnitError(
            f"The comma in {value!r} may part decimals or thousands.",
            mend=f'Write "{number.replace(",", ".")}" or "{number.replace(",", "")}".',
        )
    if "/" not in number:
        return Fraction(number.replace(",", "."))
    *whole, top, bottom = re.findall(r"\d+", number)
    if int(bottom) == 0:
        raise UnitError(f"The fraction in {value!r} divides by zero.")
    return sum((Fraction(part) for part in whole), Fraction(int(top), int(bottom)))


def _ordered(low: float, high: float, value: object) -> tuple[float, float]:
    if low > high:
        raise InputError(
            f"The range {value!r} runs from the greater to the less.", mend="Write the less first."
        )
    return low, high


def _unreadable(value: str, what: str, mend: str) -> UnitError:
    return UnitError(f"The {what} {value!r} cannot be read.", mend=mend)


def _rounded(number: float, decimals: int) -> str:
    """`number` rounded, without trailing zeros and without a minus before zero."""
    text = f"{number:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
