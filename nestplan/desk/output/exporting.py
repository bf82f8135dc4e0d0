"""Sheets and files written and printed from what lies on the table, and what is said where something is lacking."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from nestplan.errors import InputError
from nestplan.model.hide import Hide
from nestplan.tasks import exporting
from nestplan.tasks.contents import Contents
from nestplan.tasks.estimating import write_comparison
from nestplan.tasks.exporting import EXPORTS, PRINTS, Needs, lacking, material_of, pages_to_print

if TYPE_CHECKING:
    from nestplan.drawing.pages import Booklet
    from nestplan.estimate.combine import Combination
    from nestplan.estimate.compare import HideAnswer
    from nestplan.sheets.measures import LengthUnit

__all__ = ["booklet", "export", "export_comparison"]


def booklet(name: str, contents: Contents, unit: LengthUnit, paper: str) -> Booklet:
    """The pages of one of PRINTS.

    Raises InputError if there is nothing to print it from.
    """
    _require(PRINTS[name], EXPORTS[name].needs, contents, None)
    return pages_to_print(name, material_of(contents, units=unit, paper=paper))


def export(
    name: str, contents: Contents, hide: Hide | None, path: Path, unit: LengthUnit, paper: str = "a4"
) -> None:
    """Write one of EXPORTS to `path`.

    Raises InputError if what it needs is missing or it cannot be written.
    """
    kind = EXPORTS[name]
    _require(kind.words, kind.needs, contents, hide)
    exporting.export(name, material_of(contents, hide, units=unit, paper=paper), path)


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


def _require(words: str, needs: Needs, contents: Contents, hide: Hide | None) -> None:
    if lacking(needs, contents, hide):
        need = {"hide": "a hide on the table", "job": "a job (step 2)"}.get(needs, "a plan (step 4)")
        raise InputError(f"{words} needs {need}.", mend="Make it first.")
