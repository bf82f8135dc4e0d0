"""What can be printed or handed on from what lies open, and the one call that writes each; sheets of a plan's file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import msgspec

from nestplan.errors import InputError
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Plan
from nestplan.tasks.checking import figures_of
from nestplan.tasks.contents import Contents
from nestplan.tasks.opening import OpenedPlan

if TYPE_CHECKING:
    from nestplan.drawing.pages import Booklet
    from nestplan.sheets.shopping import ShoppingLines
    from nestplan.sheets.unit_formatting import LengthUnit

__all__ = [
    "EXPORTS",
    "PICTURE_SUFFIXES",
    "PRINTS",
    "Export",
    "Material",
    "Needs",
    "export",
    "lacking",
    "material_of",
    "pages_to_print",
    "write_picture",
    "write_sheet_folder",
]

Needs = Literal["plan", "plan on hide", "job", "hide"]
"""What a sheet or file is made from."""

PICTURE_SUFFIXES = (".png", ".svg")
"""Endings of the pictures of a plan that can be written."""


@dataclass(frozen=True)
class Material:
    """What sheets and files are made from: a plan with its job and hides, `hide` the one at hand, unit and paper."""

    plan: Plan | None
    job: Job | None
    hides: tuple[Hide, ...]
    hide: Hide | None = None
    units: LengthUnit = "mm"
    paper: str = "a4"

    @property
    def the_plan(self) -> Plan:
        """The plan, which must be there."""
        assert self.plan is not None
        return self.plan

    @property
    def the_job(self) -> Job:
        """The job, which must be there."""
        assert self.job is not None
        return self.job

    @property
    def the_hide(self) -> Hide:
        """The hide at hand, which must be there."""
        assert self.hide is not None
        return self.hide

    @property
    def shopping(self) -> ShoppingLines:
        """What the job needs besides leather."""
        from nestplan.estimate.supplies import shopping_list

        return shopping_list(self.the_job)


@dataclass(frozen=True)
class Export:
    """One kind of sheet or file: its words, its endings (the usual one first; none: a folder), and what it needs."""

    words: str
    endings: tuple[str, ...]
    write: Callable[[Material, Path], None] = field(repr=False)
    needs: Needs = "plan"


def material_of(
    contents: Contents, hide: Hide | None = None, *, units: LengthUnit = "mm", paper: str = "a4"
) -> Material:
    """What lies open, with the plan's figures counted where they are not, as what sheets are made from."""
    plan, job = contents.plan, contents.job
    if plan is not None and job is not None:
        plan = msgspec.structs.replace(plan, figures=figures_of(plan, job, contents.hides))
    return Material(plan, job, contents.hides, hide, units, paper)


def lacking(needs: Needs, contents: Contents, hide: Hide | None = None) -> bool:
    """Whether something is not there that a sheet needs."""
    no_job, no_plan = contents.job is None, contents.plan is None
    return {
        "plan": no_plan or no_job,
        "plan on hide": no_plan or no_job or hide is None,
        "job": no_job,
        "hide": hide is None,
    }[needs]


def export(name: str, material: Material, path: Path) -> None:
    """Write one of EXPORTS to `path`.

    Raises InputError if it cannot be written.
    """
    try:
        EXPORTS[name].write(material, path)
    except OSError as error:
        raise InputError(
            f"The file cannot be written: {error.strerror}.", file=str(path), mend="Choose another folder."
        ) from error


def pages_to_print(name: str, material: Material) -> Booklet:
    """The pages of one of PRINTS."""
    from nestplan.sheets.cut_sheet import cut_sheet_booklet
    from nestplan.sheets.full_size import full_size_sheets
    from nestplan.sheets.job_sheet import job_sheet_booklet
    from nestplan.sheets.lesson_sheet import lesson_sheet_booklet

    job, units, paper = material.the_job, material.units, material.paper
    if name == "full size":
        return full_size_sheets(job, paper=paper, units=units).booklet
    if name == "job sheet":
        return job_sheet_booklet(job, material.shopping, plan=material.plan, units=units, paper=paper)
    pages = cut_sheet_booklet if name == "cut sheet" else lesson_sheet_booklet
    return pages(material.the_plan, job, material.hides, units=units, paper=paper)


def write_sheet_folder(
    opened: OpenedPlan, folder: Path, *, paper: str, roll_width: float | None, units: LengthUnit
) -> list[Path]:
    """Write every sheet, picture and drawing of a plan into a folder; their paths.

    Raises InputError if the paper is not known or the folder cannot be written.
    """
    from nestplan.estimate.supplies import shopping_list
    from nestplan.sheets.sheet_folder import write_sheets

    return write_sheets(
        opened.plan,
        opened.job,
        opened.hides,
        folder,
        shopping=shopping_list(opened.job),
        paper=paper,
        roll_width=roll_width,
        units=units,
    )


def write_picture(opened: OpenedPlan, path: Path, *, look: str, units: LengthUnit) -> None:
    """Write a picture of a plan; the path ends in one of PICTURE_SUFFIXES.

    Raises InputError if there is no such look or the file cannot be written.
    """
    from nestplan.sheets.plan_pictures import write_plan_png, write_plan_svg

    write = write_plan_png if path.suffix.lower() == ".png" else write_plan_svg
    write(opened.plan, opened.job, opened.hides, path, units=units, look=look)


def _cut_sheet(given: Material, path: Path) -> None:
    from nestplan.sheets.cut_sheet import write_cut_sheet

    write_cut_sheet(given.the_plan, given.the_job, given.hides, path, units=given.units, paper=given.paper)


def _full_size(given: Material, path: Path) -> None:
    from nestplan.sheets.full_size import write_full_size

    write_full_size(given.the_job, path, units=given.units, paper=given.paper)


def _job_sheet(given: Material, path: Path) -> None:
    from nestplan.sheets.job_sheet import write_job_sheet

    write_job_sheet(
        given.the_job, given.shopping, path, plan=given.plan, units=given.units, paper=given.paper
    )


def _lesson_sheet(given: Material, path: Path) -> None:
    from nestplan.sheets.lesson_sheet import write_lesson_sheet

    write_lesson_sheet(given.the_plan, given.the_job, given.hides, path, units=given.units, paper=given.paper)


def _everything(given: Material, path: Path) -> None:
    opened = OpenedPlan(given.the_plan, given.the_job, given.hides)
    write_sheet_folder(opened, path, paper=given.paper, roll_width=None, units=given.units)


def _picture(given: Material, path: Path) -> None:
    write_picture(
        OpenedPlan(given.the_plan, given.the_job, given.hides), path, look="light", units=given.units
    )


def _plan_drawing(given: Material, path: Path) -> None:
    from nestplan.sheets.drawing_files import plan_lines, write_drawing_file

    hide = given.the_hide
    write_drawing_file(plan_lines(given.the_plan, given.the_job, hide), path, title=hide.name)


def _hide_drawing(given: Material, path: Path) -> None:
    from nestplan.sheets.drawing_files import hide_lines, write_drawing_file

    write_drawing_file(hide_lines(given.the_hide), path, title=given.the_hide.name)


def _piece_drawing(given: Material, path: Path) -> None:
    from nestplan.sheets.drawing_files import piece_lines, write_drawing_file

    write_drawing_file(piece_lines(given.the_job), path, title=given.the_job.name)


EXPORTS: dict[str, Export] = {
    "cut sheet": Export("Cut sheet (PDF)", (".pdf",), _cut_sheet),
    "full size": Export("Full-size sheets of the pieces (PDF)", (".pdf",), _full_size, "job"),
    "job sheet": Export("Job sheet (PDF)", (".pdf",), _job_sheet, "job"),
    "lesson sheet": Export("Lesson sheet (PDF)", (".pdf",), _lesson_sheet),
    "picture": Export("Picture of the plan (PNG)", (".png",), _picture),
    "drawn picture": Export("Picture of the plan (SVG)", (".svg",), _picture),
    "plan drawing": Export(
        "Cut lines on this hide, true size (DXF, SVG)", (".dxf", ".svg"), _plan_drawing, "plan on hide"
    ),
    "hide drawing": Export("This hide as a drawing (DXF, SVG)", (".dxf", ".svg"), _hide_drawing, "hide"),
    "piece drawing": Export("The pieces as a drawing (DXF, SVG)", (".dxf", ".svg"), _piece_drawing, "job"),
    "everything": Export("All sheets and drawings, into a folder", (), _everything),
}
"""The sheets and files by name."""

PRINTS = {
    "cut sheet": "Cut sheet",
    "full size": "Full-size sheets",
    "job sheet": "Job sheet",
    "lesson sheet": "Lesson sheet",
}
"""Those of EXPORTS that can be sent to a printer, with their words there."""
