"""What the window prints and exports: the catalogue's sheets and files of what lies open. No Qt."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from nestplan.errors import InputError
from nestplan.model.hide import Hide
from nestplan.sheets.catalogue import SHEETS, everything_to_export
from nestplan.sheets.sheet_input import Needs, SheetInput
from nestplan.tasks import exporting
from nestplan.tasks.contents import Contents
from nestplan.tasks.estimating import write_comparison

if TYPE_CHECKING:
    from nestplan.drawing.pages import Booklet
    from nestplan.estimate.combine import Combination
    from nestplan.estimate.compare import HideAnswer
    from nestplan.sheets.unit_formatting import LengthUnit

__all__ = ["booklet", "export", "export_comparison"]


def booklet(name: str, contents: Contents, unit: LengthUnit, paper: str) -> Booklet:
    """The pages of one of the catalogue's sheets.

    Raises InputError if there is nothing to print it from.
    """
    given = exporting.sheet_input(contents, units=unit, paper=paper)
    _require(SHEETS[name].title, SHEETS[name].needs, given)
    return exporting.pages_to_print(name, given)


def export(
    name: str, contents: Contents, hide: Hide | None, path: Path, unit: LengthUnit, paper: str = "a4"
) -> None:
    """Write one of what the catalogue has for export to `path`.

    Raises InputError if what it needs is missing or cannot be written.
    """
    given = exporting.sheet_input(contents, hide, units=unit, paper=paper)
    kind = everything_to_export()[name]
    _require(kind.words, kind.needs, given)
    exporting.export(name, given, path)


def export_comparison(
    answers: Sequence[HideAnswer],
    together: Combination | None,
    contents: Contents,
    folder: Path,
    by: str,
    unit: LengthUnit,
) -> None:
    """Write a comparison of the hides into a folder.

    Raises InputError if a file cannot be written.
    """
    assert contents.job is not None
    write_comparison(folder, contents.job, contents.hides, answers, together, by=by, units=unit)


def _require(words: str, needs: Needs, given: SheetInput) -> None:
    if given.lacks(needs):
        need = {"hide": "a hide on the table", "job": "a job (step 2)"}.get(needs, "a plan (step 4)")
        raise InputError(f"{words} needs {need}.", mend="Make it first.")
