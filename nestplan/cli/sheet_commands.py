"""Carrying a plan to the bench on the command line: `sheet` writes every sheet, `picture` one picture."""

from __future__ import annotations

from pathlib import Path

import typer

from nestplan.cli.terminal import say, say_repair
from nestplan.sheets.catalogue import contents_words

__all__ = ["register"]

_JOB = typer.Option(None, "--job", help="The job file, if it has moved.")
_HIDE = typer.Option(None, "--hide", help="A hide file, if it has moved; may be repeated.")
_UNITS = typer.Option(None, "--units", help="mm or in; the job's own by default.")


def register(app: typer.Typer) -> None:
    """Add `sheet` and `picture`."""
    app.command(
        short_help="Write all sheets, pictures and drawing files of a plan.",
        help=f"Write {contents_words()} of a plan.",
    )(sheet)
    app.command(short_help="Write a picture of a plan, light or dark.")(picture)


def sheet(
    plan: Path = typer.Argument(..., help="The plan file (plan.json)."),
    *,
    out: Path = typer.Option(..., "--out", help="Folder for the sheets, pictures and drawing files."),
    paper: str = typer.Option("a4", "--paper", help="a4, letter, a3 or roll (for the full-size sheets)."),
    roll_width: str | None = typer.Option(
        None, "--roll-width", help="Width of the roll, such as 610 mm or 36 in; 24 in by default."
    ),
    class_size: int = typer.Option(
        1,
        "--class",
        min=1,
        max=500,
        help="How many people learn at once: the lesson sheet counts their tools.",
    ),
    units: str | None = _UNITS,
    job: Path | None = _JOB,
    hide: list[Path] | None = _HIDE,
) -> None:
    """Write every sheet and file of the catalogue for a plan."""
    from nestplan.cli.option_values import length_unit, require_folder
    from nestplan.cli.plan_words import counted
    from nestplan.geometry.units import read_length
    from nestplan.tasks.exporting import left_from_before, write_sheet_folder
    from nestplan.tasks.opening import open_plan

    require_folder(out)
    opened = open_plan(plan, job=job, hides=hide or (), on_repair=say_repair)
    written = write_sheet_folder(
        opened,
        out,
        paper=paper,
        roll_width=None if roll_width is None else read_length(roll_width),
        units=length_unit(units, opened.job.units),
        class_size=class_size,
    )
    sheets = [path.name for path in written if path.parent == out]
    say(
        f"Written to {out}: {', '.join(sheets)}, and {counted(len(written) - len(sheets), 'file')} in drawings."
    )
    old = left_from_before(out, written)
    if old:
        names = ", ".join(str(path.relative_to(out)) for path in old)
        say(f"Not of this plan, left from before: {names}. Delete what you no longer need.", err=True)


def picture(
    plan: Path = typer.Argument(..., help="The plan file (plan.json)."),
    *,
    out: Path = typer.Option(..., "--out", help="The picture to write; its ending says .png or .svg."),
    look: str = typer.Option("light", "--look", help="light, dark or paper (black on white)."),
    units: str | None = _UNITS,
    job: Path | None = _JOB,
    hide: list[Path] | None = _HIDE,
) -> None:
    """Write a picture of a plan, light or dark, as PNG or SVG."""
    from nestplan.cli.option_values import length_unit
    from nestplan.errors import InputError
    from nestplan.tasks.exporting import PICTURE_SUFFIXES, write_picture
    from nestplan.tasks.opening import open_plan

    if out.suffix.lower() not in PICTURE_SUFFIXES:
        raise InputError(
            "A picture is a .png or an .svg file.",
            file=str(out),
            place="--out",
            mend="Change the ending.",
        )
    opened = open_plan(plan, job=job, hides=hide or (), on_repair=say_repair)
    write_picture(opened, out, look=look, units=length_unit(units, opened.job.units))
    say(f"Written: {out}")
