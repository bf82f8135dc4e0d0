"""What can be printed or handed on from the window, and the one call that writes each. No Qt.

The papers themselves are `nestplan.sheets`, the same as on the command line.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import msgspec

from nestplan.desk.checking import figures_of
from nestplan.desk.document import Work
from nestplan.errors import InputError
from nestplan.model.hide import Hide

__all__ = ["EXPORTS", "Export", "export"]


@dataclass(frozen=True)
class Export:
    """One kind of paper or file: its words, its ending, whether it needs a plan or is of one hide."""

    words: str
    ending: str
    write: Callable[[Work, Hide | None, Path, str], None]
    needs: str = "plan"


def _cut_sheet(work: Work, _hide: Hide | None, path: Path, unit: str) -> None:
    from nestplan.sheets import write_cut_sheet

    write_cut_sheet(work.plan, work.job, work.hides, path, units=unit)


def _full_size(work: Work, _hide: Hide | None, path: Path, unit: str) -> None:
    from nestplan.sheets.fullsize import write_full_size

    write_full_size(work.job, path, units=unit)


def _picture_png(work: Work, _hide: Hide | None, path: Path, unit: str) -> None:
    from nestplan.sheets import write_plan_png

    write_plan_png(work.plan, work.job, work.hides, path, units=unit)


def _picture_svg(work: Work, _hide: Hide | None, path: Path, unit: str) -> None:
    from nestplan.sheets import write_plan_svg

    write_plan_svg(work.plan, work.job, work.hides, path, units=unit)


def _plan_drawing(work: Work, hide: Hide | None, path: Path, _unit: str) -> None:
    from nestplan.sheets.exports import plan_lines, write_drawing

    assert hide is not None
    write_drawing(plan_lines(work.plan, work.job, hide), path, title=hide.name)


def _hide_drawing(_work: Work, hide: Hide | None, path: Path, _unit: str) -> None:
    from nestplan.sheets.exports import hide_lines, write_drawing

    assert hide is not None
    write_drawing(hide_lines(hide), path, title=hide.name)


def _piece_drawing(work: Work, _hide: Hide | None, path: Path, _unit: str) -> None:
    from nestplan.sheets.exports import piece_lines, write_drawing

    write_drawing(piece_lines(work.job), path, title=work.job.name)


EXPORTS: dict[str, Export] = {
    "cut sheet": Export("Cut sheet (PDF)", ".pdf", _cut_sheet),
    "full size": Export("Full-size sheets of the pieces (PDF)", ".pdf", _full_size, "job"),
    "picture": Export("Picture of the plan (PNG)", ".png", _picture_png),
    "drawn picture": Export("Picture of the plan (SVG)", ".svg", _picture_svg),
    "plan drawing": Export("Cut lines on this hide, true size (DXF)", ".dxf", _plan_drawing, "plan on hide"),
    "hide drawing": Export("This hide as a drawing (DXF)", ".dxf", _hide_drawing, "hide"),
    "piece drawing": Export("The pieces as a drawing (DXF)", ".dxf", _piece_drawing, "job"),
}


def export(name: str, work: Work, hide: Hide | None, path: Path, unit: str) -> None:
    """Write one of EXPORTS to `path`. Errors: InputError where what it needs is missing or cannot be written."""
    kind = EXPORTS[name]
    missing = {
        "plan": work.plan is None or work.job is None,
        "plan on hide": work.plan is None or work.job is None or hide is None,
        "job": work.job is None,
        "hide": hide is None,
    }[kind.needs]
    if missing:
        need = {"hide": "a hide on the table", "job": "a job (step 2)"}.get(kind.needs, "a plan (step 4)")
        raise InputError(f"{kind.words} needs {need}.", mend="Make it first.")
    if work.plan is not None and work.plan.figures is None and work.job is not None:
        figures = figures_of(work.plan, work)
        work = Work(work.hides, work.job, msgspec.structs.replace(work.plan, figures=figures), work.photos)
    try:
        kind.write(work, hide, path, unit)
    except OSError as error:
        raise InputError(
            f"The file cannot be written: {error.strerror}.", file=str(path), mend="Choose another folder."
        ) from error
