"""What can be printed or handed on from what lies open, and the one call that writes each; sheets of a plan's file.

Which sheets and files there are is said by the catalogue, `nestplan.sheets.catalogue`.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from nestplan.errors import InputError
from nestplan.model.hide import Hide
from nestplan.sheets.catalogue import SHEETS, everything_to_export, write_sheets
from nestplan.sheets.sheet_input import SheetInput
from nestplan.tasks.checking import figures_of
from nestplan.tasks.contents import Contents
from nestplan.tasks.opening import OpenedPlan

if TYPE_CHECKING:
    from nestplan.drawing.pages import Booklet
    from nestplan.sheets.unit_formatting import LengthUnit

__all__ = [
    "PICTURE_SUFFIXES",
    "export",
    "left_from_before",
    "pages_to_print",
    "sheet_input",
    "write_picture",
    "write_sheet_folder",
]

PICTURE_SUFFIXES = (".png", ".svg")
"""Endings of the pictures of a plan that can be written."""


def sheet_input(
    contents: Contents, hide: Hide | None = None, *, units: LengthUnit = "mm", paper: str = "a4"
) -> SheetInput:
    """What lies open, with the plan's figures counted where they are not, as what sheets are made from."""
    from nestplan.estimate.supplies import shopping_list

    plan, job = contents.plan, contents.job
    if plan is not None and job is not None:
        plan = msgspec.structs.replace(plan, figures=figures_of(plan, job, contents.hides))
    shopping = None if job is None else partial(shopping_list, job)
    return SheetInput(plan, job, contents.hides, hide, shopping, units, paper)


def export(key: str, given: SheetInput, path: Path) -> None:
    """Write one of what the catalogue has for export to `path`; what it needs must be there.

    Raises InputError if it cannot be written.
    """
    try:
        everything_to_export()[key].write(given, path)
    except OSError as error:
        raise InputError(
            f"The file cannot be written: {error.strerror}.", file=str(path), mend="Choose another folder."
        ) from error


def pages_to_print(key: str, given: SheetInput) -> Booklet:
    """The pages of one of the catalogue's sheets; what it needs must be there."""
    return SHEETS[key].booklet(given)


def write_sheet_folder(
    opened: OpenedPlan,
    folder: Path,
    *,
    paper: str,
    roll_width: float | None,
    units: LengthUnit,
    class_size: int = 1,
) -> list[Path]:
    """Write every sheet, picture and drawing of a plan into a folder; their paths.

    Raises InputError if the paper is not known or the folder cannot be written.
    """
    from nestplan.estimate.supplies import shopping_list

    given = SheetInput(
        opened.plan,
        opened.job,
        tuple(opened.hides),
        shopping=partial(shopping_list, opened.job),
        units=units,
        paper=paper,
        roll_width=roll_width,
        class_size=class_size,
    )
    return write_sheets(given, folder)


def left_from_before(folder: Path, written: Sequence[Path]) -> tuple[Path, ...]:
    """Files like those of a plan's sheets that lie among them and were not `written` with them: of another plan, most
    likely."""
    endings = {path.suffix for path in written}
    folders = {path.parent for path in written if path.parent != folder}
    there = (path for inner in sorted(folders) for path in sorted(inner.iterdir()))
    return tuple(path for path in there if path.suffix in endings and path not in written)


def write_picture(opened: OpenedPlan, path: Path, *, look: str, units: LengthUnit) -> None:
    """Write a picture of a plan; the path ends in one of PICTURE_SUFFIXES.

    Raises InputError if there is no such look or the file cannot be written.
    """
    from nestplan.sheets.plan_pictures import write_plan_png, write_plan_svg

    write = write_plan_png if path.suffix.lower() == ".png" else write_plan_svg
    write(opened.plan, opened.job, opened.hides, path, units=units, look=look)
