"""The files besides the printed sheets that the catalogue hands on: pictures of a plan, and drawings at true size.

Each is written by itself to a path, or adds its files to the folder of sheets.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from nestplan.sheets.sheet_input import SheetInput
from nestplan.storage import file_stem

if TYPE_CHECKING:
    from nestplan.drawing.primitives import Picture
    from nestplan.model import Hide

__all__ = [
    "FolderFile",
    "hide_drawings_in_folder",
    "pictures_in_folder",
    "piece_drawings_in_folder",
    "plan_drawings_in_folder",
    "write_hide_drawing",
    "write_picture",
    "write_piece_drawing",
    "write_plan_drawing",
]


@dataclass(frozen=True)
class FolderFile:
    """A file in the folder of sheets: its path there, and what writes it to a path."""

    path: str
    write: Callable[[Path], None] = field(repr=False)


def write_picture(given: SheetInput, path: Path) -> None:
    from nestplan.sheets.plan_pictures import write_plan_png, write_plan_svg

    write = write_plan_png if path.suffix.lower() == ".png" else write_plan_svg
    write(given.the_plan, given.the_job, given.hides, path, units=given.units)


def pictures_in_folder(given: SheetInput) -> Iterator[FolderFile]:
    """The plan's picture as SVG and PNG, light and dark."""
    from nestplan.drawing.png import write_png
    from nestplan.drawing.svg import write_svg
    from nestplan.sheets.plan_pictures import plan_picture

    plan = given.the_plan
    for look in ("light", "dark"):
        page = plan_picture(plan, given.the_job, given.hides, units=given.units, look=look)
        yield FolderFile(f"plan-{look}.svg", partial(write_svg, page, title=plan.name))
        yield FolderFile(f"plan-{look}.png", partial(write_png, page))


def write_plan_drawing(given: SheetInput, path: Path) -> None:
    from nestplan.sheets.drawing_files import plan_lines, write_drawing_file

    hide = given.the_hide
    write_drawing_file(plan_lines(given.the_plan, given.the_job, hide), path, title=hide.name)


def plan_drawings_in_folder(given: SheetInput) -> Iterator[FolderFile]:
    from nestplan.sheets.drawing_files import plan_lines

    for hide, stem in _used_hides(given):
        yield from _drawing_in_folder(f"{stem}.plan", plan_lines(given.the_plan, given.the_job, hide))


def write_hide_drawing(given: SheetInput, path: Path) -> None:
    from nestplan.sheets.drawing_files import hide_lines, write_drawing_file

    write_drawing_file(hide_lines(given.the_hide), path, title=given.the_hide.name)


def hide_drawings_in_folder(given: SheetInput) -> Iterator[FolderFile]:
    from nestplan.sheets.drawing_files import hide_lines

    for hide, stem in _used_hides(given):
        yield from _drawing_in_folder(f"{stem}.hide", hide_lines(hide))


def write_piece_drawing(given: SheetInput, path: Path) -> None:
    from nestplan.sheets.drawing_files import piece_lines, write_drawing_file

    write_drawing_file(piece_lines(given.the_job), path, title=given.the_job.name)


def piece_drawings_in_folder(given: SheetInput) -> Iterator[FolderFile]:
    from nestplan.sheets.drawing_files import piece_lines

    yield from _drawing_in_folder("pieces", piece_lines(given.the_job))


def _drawing_in_folder(name: str, picture: Picture) -> Iterator[FolderFile]:
    """A drawing as DXF and as SVG; nothing where nothing is drawn."""
    from nestplan.sheets.drawing_files import write_drawing_file

    for ending in (".dxf", ".svg") if len(picture) else ():
        yield FolderFile(f"drawings/{name}{ending}", partial(write_drawing_file, picture, title=name))


def _used_hides(given: SheetInput) -> Iterator[tuple[Hide, str]]:
    """The hides that the plan uses, each with a different stem for its files, also where names differ only in signs."""
    used = {placed.hide for placed in given.the_plan.placements}
    stems: list[str] = []
    for hide in given.hides:
        stem, number = file_stem(hide.name), 2
        while stem in stems:
            stem, number = f"{file_stem(hide.name)}-{number}", number + 1
        stems.append(stem)
        if hide.name in used:
            yield hide, stem
