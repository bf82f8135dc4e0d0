"""The catalogue of what can be printed and handed on: a record a sheet, a record a file, and the folder of all.

The folder of sheets, the command line's words and the window's menus of printing and exporting follow from it.
A new sheet is one file with a function that makes its pages, and one entry here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from nestplan.errors import InputError
from nestplan.model.registry import Registry
from nestplan.sheets.export_files import (
    FolderFile,
    hide_drawings_in_folder,
    pictures_in_folder,
    piece_drawings_in_folder,
    plan_drawings_in_folder,
    write_hide_drawing,
    write_picture,
    write_piece_drawing,
    write_plan_drawing,
)
from nestplan.sheets.sheet_input import Needs, SheetInput
from nestplan.storage import move_into_place, staging_folder

if TYPE_CHECKING:
    from nestplan.drawing.pages import Booklet

__all__ = [
    "EXPORTS",
    "SHEETS",
    "Export",
    "Sheet",
    "contents_words",
    "everything_to_export",
    "register_export",
    "register_sheet",
    "unregister_export",
    "unregister_sheet",
    "write_sheets",
]


@dataclass(frozen=True)
class Sheet:
    """A sheet that is printed: its names, the file it is written to, what it needs, and the function that lays it out.

    `words` name it in a sentence, `title` in a menu, `export_words` in the menu of files. `takes_roll`: it is laid
    out on a roll too; the others then lie on A4.
    """

    name: str
    words: str
    title: str
    export_words: str
    file_name: str
    booklet: Callable[[SheetInput], Booklet] = field(repr=False)
    needs: Needs = "plan"
    takes_roll: bool = False


@dataclass(frozen=True)
class Export:
    """A file that can be handed on: its words, its endings (the usual one first; none: a folder), and what it needs.

    `in_folder` gives the files it adds to the folder of sheets, which `folder_words` names there.
    """

    name: str
    words: str
    endings: tuple[str, ...]
    write: Callable[[SheetInput, Path], None] = field(repr=False)
    needs: Needs = "plan"
    folder_words: str = ""
    in_folder: Callable[[SheetInput], Iterable[FolderFile]] | None = field(default=None, repr=False)


def register_sheet(sheet: Sheet) -> None:
    """Add a sheet for this run of the program. Raises ValueError if its name is taken."""
    SHEETS.register(sheet)


def unregister_sheet(name: str) -> None:
    """Take a sheet out again. Raises KeyError if there is none of that name."""
    SHEETS.unregister(name)


def register_export(export: Export) -> None:
    """Add a file for this run of the program. Raises ValueError if its name is taken."""
    EXPORTS.register(export)


def unregister_export(name: str) -> None:
    """Take a file out again. Raises KeyError if there is none of that name."""
    EXPORTS.unregister(name)


def everything_to_export() -> dict[str, Export]:
    """All that can be handed on, by name: the sheets as PDF, the other files, and the folder with everything."""
    sheets = [
        Export(sheet.name, sheet.export_words, (".pdf",), _writer_of(sheet), sheet.needs) for sheet in SHEETS
    ]
    folder = Export("everything", "All sheets and drawings, into a folder", (), _write_folder)
    return {export.name: export for export in (*sheets, *EXPORTS, folder)}


def contents_words() -> str:
    """What the folder of sheets holds, in words, such as `cut sheet, job and lesson sheet, pictures`.

    Neighbours that share their last word share it in the sentence too.
    """
    words: list[str] = []
    names = [sheet.words for sheet in SHEETS]
    for last, sharing in groupby(names, key=lambda name: name.rpartition(" ")[2]):
        firsts = [name.removesuffix(last).strip() for name in sharing]
        words.append(f"{_listed([first for first in firsts if first])} {last}".strip())
    words += dict.fromkeys(export.folder_words for export in EXPORTS if export.folder_words)
    return ", ".join(words)


def _listed(words: Sequence[str]) -> str:
    """Words as a list in a sentence: `a`, `a and b`, `a, b and c`."""
    return " and ".join(part for part in (", ".join(words[:-1]), *words[-1:]) if part)


def write_sheets(given: SheetInput, folder: str | Path) -> list[Path]:
    """Write every sheet and file that what is given allows into one folder; returns their paths.

    The folder is made if it is not there; files of the same names are replaced. All are made beside their places
    first and then take them together, so that sheets of two plans never lie there as if they were of one.

    Raises InputError for an unknown paper or a folder that cannot be written.
    """
    out = Path(folder)
    _make(out)
    with staging_folder(out) as stage:
        names = _write_all(given, stage)
        for inner in {(out / name).parent for name in names}:
            _make(inner)
        if names:
            move_into_place(stage, out, names)
    return [out / name for name in names]


def _write_all(given: SheetInput, stage: Path) -> list[str]:
    """Write everything into a folder; the names, seen from it."""
    from nestplan.drawing.pdf import write_pdf

    names: list[str] = []
    # What takes a roll comes first: a wrong paper is refused there before anything is made.
    for sheet in sorted(SHEETS, key=lambda sheet: not sheet.takes_roll):
        if not given.lacks(sheet.needs):
            names.append(sheet.file_name)
            write_pdf(sheet.booklet(given), stage / names[-1])
    for export in EXPORTS:
        for file in export.in_folder(given) if export.in_folder is not None else ():
            names.append(str(file.path))
            _make((stage / names[-1]).parent)
            file.write(stage / names[-1])
    return names


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"The folder cannot be made: {error.strerror}.", file=str(folder), mend="Choose another folder."
        ) from error


def _writer_of(sheet: Sheet) -> Callable[[SheetInput, Path], None]:
    def write(given: SheetInput, path: Path) -> None:
        from nestplan.drawing.pdf import write_pdf

        write_pdf(sheet.booklet(given), path)

    return write


def _write_folder(given: SheetInput, folder: Path) -> None:
    write_sheets(given, folder)


def _cut_sheet(given: SheetInput) -> Booklet:
    from nestplan.sheets.cut_sheet import cut_sheet_booklet

    return cut_sheet_booklet(given.the_plan, given.the_job, given.hides, units=given.units, paper=given.paper)


def _full_size(given: SheetInput) -> Booklet:
    from nestplan.sheets.full_size import full_size_sheets

    return full_size_sheets(
        given.the_job, given.plan, paper=given.paper, roll_width=given.roll_width, units=given.units
    ).booklet


def _job_sheet(given: SheetInput) -> Booklet:
    from nestplan.sheets.job_sheet import job_sheet_booklet

    return job_sheet_booklet(
        given.the_job, given.the_shopping, plan=given.plan, units=given.units, paper=given.paper
    )


def _lesson_sheet(given: SheetInput) -> Booklet:
    from nestplan.sheets.lesson_sheet import lesson_sheet_booklet

    return lesson_sheet_booklet(
        given.the_plan,
        given.the_job,
        given.hides,
        units=given.units,
        paper=given.paper,
        class_size=given.class_size,
    )


SHEETS: Registry[Sheet] = Registry(
    Sheet("cut sheet", "cut sheet", "Cut sheet", "Cut sheet (PDF)", "cut-sheet.pdf", _cut_sheet),
    Sheet(
        "full size",
        "full-size sheets",
        "Full-size sheets",
        "Full-size sheets of the pieces (PDF)",
        "full-size.pdf",
        _full_size,
        "job",
        takes_roll=True,
    ),
    Sheet("job sheet", "job sheet", "Job sheet", "Job sheet (PDF)", "job-sheet.pdf", _job_sheet, "job"),
    Sheet(
        "lesson sheet",
        "lesson sheet",
        "Lesson sheet",
        "Lesson sheet (PDF)",
        "lesson-sheet.pdf",
        _lesson_sheet,
    ),
)
"""The sheets that are printed, in the order of the menus."""

EXPORTS: Registry[Export] = Registry(
    Export(
        "picture",
        "Picture of the plan (PNG)",
        (".png",),
        write_picture,
        folder_words="pictures",
        in_folder=pictures_in_folder,
    ),
    Export("drawn picture", "Picture of the plan (SVG)", (".svg",), write_picture),
    Export(
        "plan drawing",
        "Cut lines on this hide, true size (DXF, SVG)",
        (".dxf", ".svg"),
        write_plan_drawing,
        "plan on hide",
        folder_words="DXF and SVG",
        in_folder=plan_drawings_in_folder,
    ),
    Export(
        "hide drawing",
        "This hide as a drawing (DXF, SVG)",
        (".dxf", ".svg"),
        write_hide_drawing,
        "hide",
        folder_words="DXF and SVG",
        in_folder=hide_drawings_in_folder,
    ),
    Export(
        "piece drawing",
        "The pieces as a drawing (DXF, SVG)",
        (".dxf", ".svg"),
        write_piece_drawing,
        "job",
        folder_words="DXF and SVG",
        in_folder=piece_drawings_in_folder,
    ),
)
"""The files besides the sheets that can be handed on, in the order of the menu."""
