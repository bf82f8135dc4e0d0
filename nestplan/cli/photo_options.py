"""What a command is told about a photograph: the sheet, marks or points that give its scale, and places in it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import typer

from nestplan.errors import InputError

if TYPE_CHECKING:
    from nestplan.tasks.tracing import Pixel, Scale

__all__ = [
    "APART",
    "CORNERS",
    "FLOOR_AT",
    "HIDE_AT",
    "MARKS",
    "REFERENCE",
    "TWO_POINTS",
    "ScaleOptions",
    "places_of",
    "scale_of",
]

REFERENCE: str | None = typer.Option(
    None,
    "--reference",
    help="The sheet or board beside the hide: A4, A3, letter, '600 x 400 mm', '24 x 16 in'.",
)
CORNERS: str | None = typer.Option(
    None, "--corners", help="Its four corners in pixels of the upright photo: 'x,y x,y x,y x,y'."
)
MARKS: bool = typer.Option(False, "--marks", help="Printed marks (see `marks`) lie round the hide.")
TWO_POINTS: str | None = typer.Option(
    None,
    "--two-points",
    help="For a photo from straight above: two points in pixels, 'x,y x,y'; with --apart.",
)
APART: str | None = typer.Option(None, "--apart", help="How far the two points are apart, such as 1.5 m.")
HIDE_AT: list[str] | None = typer.Option(None, "--hide-at", help="A pixel 'x,y' on the hide; repeat.")
FLOOR_AT: list[str] | None = typer.Option(None, "--floor-at", help="A pixel 'x,y' on the floor; repeat.")
"""The options of every command that reads a photograph of a hide."""


@dataclass(frozen=True)
class ScaleOptions:
    """What gives a photograph its scale, as typed."""

    reference: str | None = None
    corners: str | None = None
    marks: bool = False
    two_points: str | None = None
    apart: str | None = None

    @property
    def given(self) -> Sequence[str]:
        """The options that were used, as typed."""
        used = (
            ("--reference", self.reference),
            ("--corners", self.corners),
            ("--marks", self.marks),
            ("--two-points", self.two_points),
            ("--apart", self.apart),
        )
        return [name for name, value in used if value]


def scale_of(options: ScaleOptions, photo: str, *, beside: str = "the hide") -> Scale:
    """What gives the photograph called `photo` its scale; `beside` says what the sheet lies beside.

    Raises InputError if nothing does, or what was typed is no size or place.
    """
    from nestplan.geometry.units import read_length
    from nestplan.tasks.tracing import ClickedSheet, FoundSheet, PrintedMarks, TwoPoints

    if options.marks:
        return PrintedMarks()
    if options.two_points is not None:
        if options.apart is None:
            raise InputError("Two points need their distance.", mend="Add --apart, such as --apart '1.5 m'.")
        start, end = places_of(options.two_points, 2)
        return TwoPoints(start, end, read_length(options.apart))
    if options.reference is None:
        raise InputError(
            "The photo's scale is not known.",
            mend=f"Say what lies beside {beside} with --reference (A4, A3, letter, '600 x 400 mm'), "
            "or use --marks, or --two-points with --apart.",
            file=photo,
        )
    size = _size_of(options.reference)
    if options.corners is None:
        return FoundSheet(size)
    return ClickedSheet(size, places_of(options.corners, 4))


def _size_of(text: str) -> tuple[float, float]:
    """Width and height in mm of a reference: a paper's name, or two lengths with an x between them."""
    from nestplan.geometry.units import read_length
    from nestplan.intake.photo.sheet_sizes import PAPER_SIZES

    for name, size in PAPER_SIZES.items():
        if text.strip().lower() == name.lower():
            return size
    parts = re.split(r"\s*[x×*]\s*", text.strip().lower())
    if len(parts) == 2:
        unit = re.search(r"[a-z\"']+\s*$", parts[1])
        if unit and re.fullmatch(r"[\d\s./]+", parts[0]):
            parts[0] += " " + unit.group()
        return read_length(_number(parts[0])), read_length(_number(parts[1]))
    raise InputError(
        f"The reference '{text}' is not known.",
        mend=f"Say one of {', '.join(PAPER_SIZES)}, or its sides such as '600 x 400 mm' or '24 x 16 in'.",
        place="--reference",
    )


def _number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text


def places_of(text: str, count: int) -> list[Pixel]:
    """The `count` places, pixels of the upright photograph, that a text such as `812,344` says.

    Raises InputError if it says another number of them.
    """
    numbers = re.findall(r"-?\d+(?:\.\d+)?", text)
    if len(numbers) != 2 * count:
        raise InputError(
            f"'{text}' is not {count} point{'s' * (count != 1)}.",
            mend="Write each as x,y in pixels, from the upper left: " + " ".join(["812,344"] * count),
        )
    values = [float(number) for number in numbers]
    return list(zip(values[0::2], values[1::2], strict=True))
