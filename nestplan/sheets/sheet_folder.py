"""Everything for one plan, written into one folder: what there is, under which name."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from nestplan.drawing.png import write_png
from nestplan.drawing.svg import write_svg
from nestplan.errors import InputError
from nestplan.model import Hide, Job, Plan
from nestplan.sheets.cut_sheet import write_cut_sheet
from nestplan.sheets.drawing_files import hide_lines, piece_lines, plan_lines, write_drawing_file
from nestplan.sheets.full_size import write_full_size
from nestplan.sheets.job_sheet import write_job_sheet
from nestplan.sheets.lesson_sheet import write_lesson_sheet
from nestplan.sheets.plan_pictures import plan_picture
from nestplan.sheets.shopping import ShoppingLines
from nestplan.sheets.unit_formatting import LengthUnit
from nestplan.storage import file_stem

__all__ = ["write_sheets"]


def write_sheets(
    plan: Plan,
    job: Job,
    hides: Sequence[Hide],
    folder: str | Path,
    *,
    shopping: ShoppingLines,
    paper: str = "a4",
    roll_width: float | None = None,
    units: LengthUnit = "mm",
) -> list[Path]:
    """Write cut sheet, full-size sheets, job and lesson sheet, pictures and drawing files; returns their paths.

    The folder is made if it is not there; files of the same names are replaced. Drawing files: for each hide
    that is used its plan in cutting order and the hide itself, and all pieces together, as DXF and as SVG.
    Errors: InputError for an unknown paper or a folder that cannot be written.
    """
    out = Path(folder)
    drawings = out / "drawings"
    try:
        drawings.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"The folder cannot be made: {error.strerror}.", file=str(out), mend="Choose another folder."
        ) from error
    written = [out / f"{name}.pdf" for name in ("full-size", "cut-sheet", "job-sheet", "lesson-sheet")]
    # The full-size sheets first: a wrong paper is refused there before anything is written.
    write_full_size(job, written[0], paper=paper, roll_width=roll_width, units=units)
    write_cut_sheet(plan, job, hides, written[1], units=units, paper=paper)
    write_job_sheet(job, shopping, written[2], plan=plan, units=units, paper=paper)
    write_lesson_sheet(plan, job, hides, written[3], units=units, paper=paper)
    for look in ("light", "dark"):
        page = plan_picture(plan, job, hides, units=units, look=look)
        written += [out / f"plan-{look}.svg", out / f"plan-{look}.png"]
        write_svg(page, written[-2], title=plan.name)
        write_png(page, written[-1])
    lines = {"pieces": piece_lines(job)}
    for hide, stem in zip(hides, _stems(hides), strict=True):
        if any(placed.hide == hide.name for placed in plan.placements):
            lines[f"{stem}.plan"] = plan_lines(plan, job, hide)
            lines[f"{stem}.hide"] = hide_lines(hide)
    for name, picture in lines.items():
        if not len(picture):
            continue
        for ending in (".dxf", ".svg"):
            target = drawings / f"{name}{ending}"
            write_drawing_file(picture, target, title=name)
            written.append(target)
    return written


def _stems(hides: Sequence[Hide]) -> list[str]:
    """A different stem for each hide, also where their names differ only in signs."""
    stems: list[str] = []
    for hide in hides:
        plain = stem = file_stem(hide.name, also="_")
        number = 2
        while stem in stems:
            stem, number = f"{plain}-{number}", number + 1
        stems.append(stem)
    return stems
