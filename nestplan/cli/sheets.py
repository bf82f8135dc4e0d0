"""Carrying a plan to the bench on the command line: `sheet` writes every sheet, `picture` one picture.

Not here: what stands on the sheets (sheets), how supplies are counted (estimate).
"""

from __future__ import annotations

from pathlib import Path

import typer

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add `sheet` and `picture`."""

    @app.command(short_help="Write all sheets, pictures and drawing files of a plan.")
    def sheet(
        plan: Path = typer.Argument(..., help="The plan file (plan.json)."),
        out: Path = typer.Option(..., "--out", help="Folder for the sheets, pictures and drawing files."),
        paper: str = typer.Option("a4", "--paper", help="a4, letter, a3 or roll (for the full-size sheets)."),
        roll_width: str | None = typer.Option(
            None, "--roll-width", help="Width of the roll, such as 610 mm or 36 in; 24 in by default."
        ),
        units: str | None = typer.Option(None, "--units", help="mm or in; the job's own by default."),
        job: Path | None = typer.Option(None, "--job", help="The job file, if it has moved."),
        hide: list[Path] | None = typer.Option(
            None, "--hide", help="A hide file, if it has moved; may be repeated."
        ),
    ) -> None:
        """Write cut sheet, full-size sheets, job and lesson sheet, pictures, DXF and SVG of a plan."""
        from nestplan.cli.arguments import length_unit, need_folder
        from nestplan.cli.planning import open_plan
        from nestplan.cli.wording import counted
        from nestplan.estimate import shopping_list
        from nestplan.geometry.units import read_length
        from nestplan.sheets import write_sheets

        need_folder(out)
        read, the_job, the_hides = open_plan(plan, job=job, hides=hide or ())
        written = write_sheets(
            read,
            the_job,
            the_hides,
            out,
            shopping=shopping_list(the_job),
            paper=paper,
            roll_width=None if roll_width is None else read_length(roll_width),
            units=length_unit(units, the_job.units),
        )
        sheets = [path.name for path in written if path.parent == out]
        typer.echo(
            f"Written to {out}: {', '.join(sheets)}, and {counted(len(written) - len(sheets), 'file')} in drawings."
        )

    @app.command(short_help="Write a picture of a plan, light or dark.")
    def picture(
        plan: Path = typer.Argument(..., help="The plan file (plan.json)."),
        out: Path = typer.Option(..., "--out", help="The picture to write; its ending says .png or .svg."),
        look: str = typer.Option("light", "--look", help="light, dark or paper (black on white)."),
        units: str | None = typer.Option(None, "--units", help="mm or in; the job's own by default."),
        job: Path | None = typer.Option(None, "--job", help="The job file, if it has moved."),
        hide: list[Path] | None = typer.Option(
            None, "--hide", help="A hide file, if it has moved; may be repeated."
        ),
    ) -> None:
        """Write a picture of a plan, light or dark, as PNG or SVG."""
        from nestplan.cli.arguments import length_unit
        from nestplan.cli.planning import open_plan
        from nestplan.errors import InputError
        from nestplan.sheets import write_plan_png, write_plan_svg

        write = {".png": write_plan_png, ".svg": write_plan_svg}.get(out.suffix.lower())
        if write is None:
            raise InputError(
                "A picture is a .png or an .svg file.",
                file=str(out),
                place="--out",
                mend="Change the ending.",
            )
        read, the_job, the_hides = open_plan(plan, job=job, hides=hide or ())
        write(read, the_job, the_hides, out, units=length_unit(units, the_job.units), look=look)
        typer.echo(f"Written: {out}")
