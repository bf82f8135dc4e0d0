"""Texts of options and arguments as values: lengths, units, a seller's area mark; and checks before long work."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from nestplan.cli.terminal import say

if TYPE_CHECKING:
    from nestplan.geometry.units import Reading
    from nestplan.model.values import Length
    from nestplan.sheets.unit_formatting import LengthUnit

__all__ = [
    "area_of_mark",
    "length_in",
    "length_of",
    "length_unit",
    "make_folder",
    "one_of",
    "require_folder",
    "require_new_file",
    "told_in",
]


@contextmanager
def told_in(units: LengthUnit) -> Iterator[None]:
    """Errors of what is done inside tell their lengths in `units`."""
    from nestplan.errors import NestplanError

    try:
        yield
    except NestplanError as error:
        raise error.told_in(units) from None


def length_of(text: str) -> float:
    """The length (mm) that a text says; a bare number is mm.

    Raises UnitError if it is no length, InputError if it is beyond all leather.
    """
    from nestplan.errors import InputError
    from nestplan.geometry.ring import FARTHEST_MM
    from nestplan.geometry.units import read_length

    try:
        length = read_length(float(text))
    except ValueError:
        length = read_length(text)
    if abs(length) > FARTHEST_MM:
        raise InputError(f"'{text[:40]}' is longer than {FARTHEST_MM / 1000:.0f} m.", mend="Check its unit.")
    return length


def length_in(text: str, unit: LengthUnit) -> Length:
    """The length (mm) that a text for a job in `unit` says, with a sign where it has one: a bare number, `1 1/2` too,
    is in that unit. One with a unit is written into the job as it was typed; a bare one of mm stays a number.

    Raises UnitError if it is no length.
    """
    from nestplan.model.values import Length, decode_value

    plain = text.strip().replace("−", "-").lstrip("+").strip()
    plain = f"-{plain[1:].strip()}" if plain.startswith("-") else plain
    bare = not any(letter.isalpha() or letter in "\"'″”′’" for letter in plain)
    length: Length = decode_value(Length, f"{plain} {unit}" if bare else plain)
    return decode_value(Length, float(length)) if bare and unit == "mm" else length


def length_unit(asked: str | None, own: LengthUnit = "mm") -> LengthUnit:
    """The unit asked for with `--units`, or `own` where none is.

    Raises InputError for another unit.
    """
    from nestplan.errors import InputError

    if asked is None:
        return own
    if asked == "mm":
        return "mm"
    if asked == "in":
        return "in"
    raise InputError(f"There is no unit '{asked}' here.", place="--units", mend="Use mm or in.")


def one_of(word: str, words: Sequence[str], option: str) -> None:
    """Nothing, if `word` is one of those that an option takes.

    Raises InputError if it is another.
    """
    from nestplan.errors import InputError

    if word not in words:
        raise InputError(f"There is no '{word}'.", place=option, mend=f"Take one of: {', '.join(words)}.")


def require_folder(out: Path, *, instead: str = "another folder with --out") -> None:
    """Nothing, if files can be written in `out` or it can be made; asked before long work.

    Raises InputError if they cannot; `instead` is to be chosen then.
    """
    from nestplan.tasks import output_paths

    output_paths.require_folder(out, instead=instead)


def make_folder(out: Path) -> None:
    """Make the folder of `--out` where it is not there.

    Raises InputError if it cannot be made.
    """
    from nestplan.tasks import output_paths

    output_paths.make_folder(out, instead="another folder with --out")


def require_new_file(path: Path, replace: bool, *, endings: Sequence[str] = ()) -> None:
    """Nothing, if `path` may be written.

    Raises InputError if it is there already and `replace` is not said, or has none of the `endings`.
    """
    from nestplan.tasks import output_paths

    output_paths.require_new_file(
        path, replace=replace, instead="Choose another name, or add --replace.", endings=endings
    )


def area_of_mark(mark: str, reads: str | None, *, option: str = "--area-reads") -> float:
    """The area (mm²) of a seller's mark, echoed on standard error; a mark of two meanings is asked.

    Raises UnitError if it is no area, and, with both readings, if it has two and there is no terminal to ask at.
    """
    from nestplan.errors import UnitError
    from nestplan.geometry.units import read_area_mark, show_area

    if reads not in (None, "tenths", "quarters"):
        raise UnitError(f"A mark is not read in {reads}.", mend="Say tenths or quarters.", place=option)
    reading: Reading | None = "tenths" if reads == "tenths" else "quarters" if reads == "quarters" else None
    try:
        area = read_area_mark(mark, reading)
    except UnitError as error:
        if reading is not None or not _has_two_readings(mark):
            raise error.within("the area") from None
        if not sys.stdin.isatty():
            error.mend = f"{error.mend} Here: {option} tenths, or {option} quarters.".strip()
            raise error.within("the area") from None
        say(str(error.what), err=True)
        area = read_area_mark(mark, _asked_reading())
    say(f"'{mark}' read as {show_area(area, 'ft2')} ({show_area(area, 'dm2')}).", err=True)
    return area


def _asked_reading() -> Reading:
    """The reading the user says, asked until it is one."""
    while True:
        answer = typer.prompt("tenths or quarters?", err=True).strip().lower()
        if answer == "tenths":
            return "tenths"
        if answer == "quarters":
            return "quarters"


def _has_two_readings(mark: str) -> bool:
    """Whether a mark that was refused is read once it is said how."""
    from nestplan.errors import UnitError
    from nestplan.geometry.units import read_area_mark

    try:
        read_area_mark(mark, "tenths")
    except UnitError:
        return False
    return True
