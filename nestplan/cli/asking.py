"""What several commands ask alike: how a seller's area mark is to be read."""

from __future__ import annotations

import sys

import typer

__all__ = ["area_of_mark"]


def area_of_mark(mark: str, reads: str | None, *, option: str = "--area-reads") -> float:
    """The area (mm²) of a seller's mark, echoed on standard error; a mark of two meanings is asked.

    Without a terminal to ask at, a mark of two meanings is refused with both. Raises UnitError.
    """
    from nestplan.errors import UnitError
    from nestplan.geometry.units import Reading, read_area_mark, show_area

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
        typer.echo(str(error.what), err=True)
        answer = ""
        while answer not in ("tenths", "quarters"):
            answer = typer.prompt("tenths or quarters?", err=True).strip().lower()
        area = read_area_mark(mark, "tenths" if answer == "tenths" else "quarters")
    typer.echo(f"'{mark}' read as {show_area(area, 'ft2')} ({show_area(area, 'dm2')}).", err=True)
    return area


def _has_two_readings(mark: str) -> bool:
    """Whether a mark that was refused is read once it is said how."""
    from nestplan.errors import UnitError
    from nestplan.geometry.units import read_area_mark

    try:
        read_area_mark(mark, "tenths")
    except UnitError:
        return False
    return True
