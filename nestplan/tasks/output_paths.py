"""Where results may be written: folders made, names kept free, paths as a plan's file holds them."""

from __future__ import annotations

import os
from collections.abc import Collection, Sequence
from pathlib import Path

from nestplan.errors import InputError
from nestplan.storage import real_path

__all__ = ["free_name", "free_path", "make_folder", "path_from", "require_folder", "require_new_file"]


def require_folder(folder: Path, *, instead: str) -> None:
    """Nothing, if files can be written in `folder` or it can be made; to be asked before long work.

    `instead` says what is to be chosen otherwise, as in `another folder`.

    Raises InputError if a file is in the way or the folder above may not be written to.
    """
    above = folder
    while not above.exists() and above != above.parent:
        above = above.parent
    if not above.is_dir():
        raise InputError(
            "There is a file of this name; a folder is needed.",
            file=str(above),
            mend=f"Choose {instead}.",
        )
    if not os.access(above, os.W_OK | os.X_OK):
        raise InputError("The folder may not be written to.", file=str(above), mend=f"Choose {instead}.")


def make_folder(folder: Path, *, instead: str) -> None:
    """Make `folder`, and those above it, where it is not there.

    Raises InputError if it cannot be made; `instead` says what is to be chosen then.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"The folder cannot be made: {error.strerror}.", file=str(folder), mend=f"Choose {instead}."
        ) from error


def require_new_file(path: Path, *, replace: bool, instead: str, endings: Sequence[str] = ()) -> None:
    """Nothing, if `path` may be written: it is not there, or `replace` says that it may be written over.

    `instead` says what the user can do where it is there already.

    Raises InputError if it may not be written, is a folder, or has none of the `endings`.
    """
    if endings and not path.name.lower().endswith(tuple(endings)):
        raise InputError(
            f"The file's name does not end in {' or '.join(endings)}.",
            file=str(path),
            mend="Change the ending.",
        )
    if path.is_dir():
        raise InputError("This is a folder, not a file.", file=str(path), mend="Give the file's name too.")
    if path.exists() and not replace:
        raise InputError("The file is there already.", mend=instead, file=str(path))


def free_path(folder: Path, stem: str, ending: str, taken: Collection[Path]) -> Path:
    """`stem` with `ending` in `folder`, or `stem-2`, `stem-3` … where that is there or among `taken`."""
    path, number = folder / f"{stem}{ending}", 2
    while path in taken or path.exists():
        path, number = folder / f"{stem}-{number}{ending}", number + 1
    return path


def free_name(wish: str, taken: Collection[str]) -> str:
    """`wish`, or `wish 2`, `wish 3` … where it is taken."""
    name, number = wish, 2
    while name in taken:
        name, number = f"{wish} {number}", number + 1
    return name


def path_from(folder: Path, file: Path) -> str:
    """The path of `file` from `folder`, with forward slashes; the whole path where it lies on another drive."""
    try:
        return Path(os.path.relpath(real_path(file), real_path(folder))).as_posix()
    except ValueError:
        return real_path(file).as_posix()
