"""What can be printed or handed on from the window, and the one call that writes each. No Qt.

The papers themselves are `nestplan.sheets`, the same as on the command line.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from nestplan.desk.background.checking import figures_of
from nestplan.desk.document.document import Contents
from nestplan.errors import InputError
from nestplan.model.hide import Hide

if TYPE_CHECKING:
    from nestplan.drawing.pages import Booklet
    from nestplan.estimate.combine import Combination
    from nestplan.estimate.compare import HideAnswer
    from nestplan.sheets.shopping import ShoppingLines

__all__ = ["EXPORTS", "PRINTS", "Export", "booklet", "export", "export_comparison"]


Write = Callable[[Contents, Hide | None, Path, str, str], None]


@dataclass(frozen=True)
class Export:
    """One kind of paper or file: its words, its endings (the usual one first; none: a folder), and what it needs.

    `write` takes the work, the hide at hand, the path, the unit (mm, in) and the paper (a4, letter, a3).
    """

    words: str
    endings: tuple[str, ...]
    write: Write
    needs: str = "plan"


def booklet(name: str, contents: Contents, unit: str, paper: str) -> Booklet:
    """The pages of one of PRINTS. Errors: InputError where there is nothing to print it from."""
    from nestplan.sheets import cut_sheet_booklet, full_size_sheets, job_sheet_booklet, lesson_sheet_booklet

    _needed(PRINTS[name], EXPORTS[name].needs, contents, None)
    contents = _with_figures(contents)
    if name == "full size":
        return full_size_sheets(contents.job, paper=paper, units=unit).booklet
    if name == "job sheet":
        return job_sheet_booklet(
            contents.job, _shopping(contents), plan=contents.plan, units=unit, paper=paper
        )
    pages = cut_sheet_booklet if name == "cut sheet" else lesson_sheet_booklet
    return pages(contents.plan, contents.job, contents.hides, units=unit, paper=paper)


def _shopping(contents: Contents) -> ShoppingLines:
    from nestplan.estimate import shopping_list

    return shopping_list(contents.job)


def _cut_sheet(contents: Contents, _hide: Hide | None, path: Path, unit: str, paper: str) -> None:
    from nestplan.sheets import write_cut_sheet

    write_cut_sheet(contents.plan, contents.job, contents.hides, path, units=unit, paper=paper)


def _full_size(contents: Contents, _hide: Hide | None, path: Path, unit: str, paper: str) -> None:
    from nestplan.sheets.full_size import write_full_size

    write_full_size(contents.job, path, units=unit, paper=paper)


def _job_sheet(contents: Contents, _hide: Hide | None, path: Path, unit: str, paper: str) -> None:
    from nestplan.sheets import write_job_sheet

    write_job_sheet(contents.job, _shopping(contents), path, plan=contents.plan, units=unit, paper=paper)


def _lesson_sheet(contents: Contents, _hide: Hide | None, path: Path, unit: str, paper: str) -> None:
    from nestplan.sheets import write_lesson_sheet

    write_lesson_sheet(contents.plan, contents.job, contents.hides, path, units=unit, paper=paper)


def _everything(contents: Contents, _hide: Hide | None, path: Path, unit: str, paper: str) -> None:
    from nestplan.sheets import write_sheets

    write_sheets(
        contents.plan,
        contents.job,
        contents.hides,
        path,
        shopping=_shopping(contents),
        paper=paper,
        units=unit,
    )


def _picture_png(contents: Contents, _hide: Hide | None, path: Path, unit: str, _paper: str) -> None:
    from nestplan.sheets import write_plan_png

    write_plan_png(contents.plan, contents.job, contents.hides, path, units=unit)


def _picture_svg(contents: Contents, _hide: Hide | None, path: Path, unit: str, _paper: str) -> None:
    from nestplan.sheets import write_plan_svg

    write_plan_svg(contents.plan, contents.job, contents.hides, path, units=unit)


def _plan_drawing(contents: Contents, hide: Hide | None, path: Path, _unit: str, _paper: str) -> None:
    from nestplan.sheets.drawing_files import plan_lines, write_drawing_file

    assert hide is not None
    write_drawing_file(plan_lines(contents.plan, contents.job, hide), path, title=hide.name)


def _hide_drawing(_work: Contents, hide: Hide | None, path: Path, _unit: str, _paper: str) -> None:
    from nestplan.sheets.drawing_files import hide_lines, write_drawing_file

    assert hide is not None
    write_drawing_file(hide_lines(hide), path, title=hide.name)


def _piece_drawing(contents: Contents, _hide: Hide | None, path: Path, _unit: str, _paper: str) -> None:
    from nestplan.sheets.drawing_files import piece_lines, write_drawing_file

    write_drawing_file(piece_lines(contents.job), path, title=contents.job.name)


_LINES = (".dxf", ".svg")
EXPORTS: dict[str, Export] = {
    "cut sheet": Export("Cut sheet (PDF)", (".pdf",), _cut_sheet),
    "full size": Export("Full-size sheets of the pieces (PDF)", (".pdf",), _full_size, "job"),
    "job sheet": Export("Job sheet (PDF)", (".pdf",), _job_sheet, "job"),
    "lesson sheet": Export("Lesson sheet (PDF)", (".pdf",), _lesson_sheet),
    "picture": Export("Picture of the plan (PNG)", (".png",), _picture_png),
    "drawn picture": Export("Picture of the plan (SVG)", (".svg",), _picture_svg),
    "plan drawing": Export(
        "Cut lines on this hide, true size (DXF, SVG)", _LINES, _plan_drawing, "plan on hide"
    ),
    "hide drawing": Export("This hide as a drawing (DXF, SVG)", _LINES, _hide_drawing, "hide"),
    "piece drawing": Export("The pieces as a drawing (DXF, SVG)", _LINES, _piece_drawing, "job"),
    "everything": Export("All sheets and drawings, into a folder", (), _everything),
}
#: What can be sent to a printer.
PRINTS = {
    "cut sheet": "Cut sheet",
    "full size": "Full-size sheets",
    "job sheet": "Job sheet",
    "lesson sheet": "Lesson sheet",
}


def export(
    name: str, contents: Contents, hide: Hide | None, path: Path, unit: str, paper: str = "a4"
) -> None:
    """Write one of EXPORTS to `path`. Errors: InputError where what it needs is missing or cannot be written."""
    kind = EXPORTS[name]
    _needed(kind.words, kind.needs, contents, hide)
    try:
        kind.write(_with_figures(contents), hide, path, unit, paper)
    except OSError as error:
        raise InputError(
            f"The file cannot be written: {error.strerror}.", file=str(path), mend="Choose another folder."
        ) from error


def export_comparison(
    answers: Sequence[HideAnswer],
    together: Combination | None,
    contents: Contents,
    folder: Path,
    by: str,
    unit: str,
) -> None:
    """compare.csv, compare.json, compare.pdf and compare.png in a folder, as `nestplan compare --out` writes them.

    Errors: InputError where a file cannot be written.
    """
    from nestplan.estimate.comparison_report import comparison_csv, comparison_json, pictured_answers
    from nestplan.sheets.comparison_pages import ComparedHide, write_comparison_pages
    from nestplan.storage import write_atomically

    write_atomically(folder / "compare.csv", comparison_csv(answers).encode())
    write_atomically(folder / "compare.json", comparison_json(answers, together).encode())
    compared = [ComparedHide(*each) for each in pictured_answers(answers, contents.job, contents.hides, unit)]
    write_comparison_pages(compared, folder, f"{contents.job.name}: hides by {by}", units=unit)


def _needed(words: str, needs: str, contents: Contents, hide: Hide | None) -> None:
    missing = {
        "plan": contents.plan is None or contents.job is None,
        "plan on hide": contents.plan is None or contents.job is None or hide is None,
        "job": contents.job is None,
        "hide": hide is None,
    }[needs]
    if missing:
        need = {"hide": "a hide on the table", "job": "a job (step 2)"}.get(needs, "a plan (step 4)")
        raise InputError(f"{words} needs {need}.", mend="Make it first.")


def _with_figures(contents: Contents) -> Contents:
    if contents.plan is None or contents.plan.figures is not None or contents.job is None:
        return contents
    figures = figures_of(contents.plan, contents)
    return Contents(
        contents.hides, contents.job, msgspec.structs.replace(contents.plan, figures=figures), contents.photos
    )
