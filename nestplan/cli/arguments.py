"""What several commands take alike: hides and folders of them, lengths, units, and places to write to.

Not here: what a single command asks for, and questions put to the user (asking).
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nestplan.sheets.unit_formatting import LengthUnit

__all__ = ["hide_files", "length_of", "length_unit", "need_folder", "refuse_existing"]


def hide_files(paths: Iterable[Path]) -> list[Path]:
    """The hide files of files and folders; of a folder (a rack) those that are not used up.

    Errors: InputError for a folder without hides and for a file given twice.
    """
    from nestplan.errors import InputError
    from nestplan.model.files import read_hide

    files: list[Path] = []
    for path in paths:
        if not path.is_dir():
            files.append(path)
            continue
        found = [each for each in sorted(path.glob("*.hide.json")) if not read_hide(each).used]
        if not found:
            raise InputError(
                "There is no hide in this folder, or all are used up.",
                file=str(path),
                mend="Give a folder of .hide.json files, or the files themselves.",
            )
        files += found
    seen: set[Path] = set()
    for file in files:
        if file.resolve() in seen:
            raise InputError("This hide is given twice.", file=str(file), mend="Give each hide once.")
        seen.add(file.resolve())
    return files


def length_of(text: str) -> float:
    """The length (mm) that a text says; a bare number is mm. Errors: UnitError."""
    from nestplan.geometry.units import read_length

    try:
        return read_length(float(text))
    except ValueError:
        return read_length(text)


def length_unit(asked: str | None, own: LengthUnit = "mm") -> LengthUnit:
    """The unit asked for with `--units`, or `own` where none is. Errors: InputError for another unit."""
    from nestplan.errors import InputError

    if asked is None:
        return own
    if asked == "mm":
        return "mm"
    if asked == "in":
        return "in"
    raise InputError(f"There is no unit '{asked}' here.", place="--units", mend="Use mm or in.")


def need_folder(out: Path, *, what: str = "another folder with --out") -> None:
    """Nothing, if files can be written in `out` or it can be made: asked before long work, made after it.
    `what` is to be chosen instead.

    Errors: InputError where a file is in the way or the folder above may not be written to.
    """
    from nestplan.errors import InputError

    above = out
    while not above.exists() and above != above.parent:
        above = above.parent
    if not above.is_dir():
        raise InputError(
            "There is a file of this name; a folder is needed.",
            file=str(above),
            mend=f"Choose {what}.",
        )
    if not os.access(above, os.W_OK | os.X_OK):
        raise InputError("The folder may not be written to.", file=str(above), mend=f"Choose {what}.")


def refuse_existing(path: Path, replace: bool, *, endings: Sequence[str] = ()) -> None:
    """Nothing, if `path` may be written. Errors: InputError where it is there already and `replace` is not
    said, or where it has none of the `endings`."""
    from nestplan.errors import InputError

    if endings and not path.name.lower().endswith(tuple(endings)):
        raise InputError(
            f"The file's name does not end in {' or '.join(endings)}.",
            file=str(path),
            mend="Change the ending.",
        )
    if path.is_dir():
        raise InputError("This is a folder, not a file.", file=str(path), mend="Give the file's name too.")
    if path.exists() and not replace:
        raise InputError(
            "The file is there already.", mend="Choose another name, or add --replace.", file=str(path)
        )
