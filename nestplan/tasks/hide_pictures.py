"""The picture that lies under a hide, kept in a file of its own beside the hide's."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Mapping
from pathlib import Path

import msgspec

from nestplan.errors import InputError
from nestplan.intake.photo.picture_file import opened_picture
from nestplan.storage import delete_file, read_regular_file, write_atomically
from nestplan.tasks.contents import HidePhoto

__all__ = [
    "drop_picture",
    "keep_picture",
    "pass_picture_on",
    "picture_file",
    "pictures_beside",
    "read_picture",
]

_QUALITY = 90
"""Of the JPEG: at a millimetre or less a pixel, leather shows no trace of it."""


_MOST_BYTES = 512 * 1024 * 1024
"""A picture of more is none that a camera makes."""


class _Label(msgspec.Struct, frozen=True):
    """What the picture's comment says: where it lies under the hide, and which picture it was made from."""

    nestplan: int
    kind: str
    matrix: tuple[float, ...]
    source: str = ""


def picture_file(hide_file: Path) -> Path:
    """The file beside a hide's file in which its picture is kept."""
    return hide_file.with_name(f"{hide_file.name.removesuffix('.json')}.picture.jpg")


def read_picture(hide_file: Path) -> HidePhoto | None:
    """The picture kept beside a hide's file; None if there is none, or it is no picture of a hide."""
    path = picture_file(hide_file)
    label = _label_of(path)
    return None if label is None else HidePhoto(str(path), label.matrix)


def pictures_beside(files: Mapping[str, str]) -> tuple[tuple[str, HidePhoto], ...]:
    """The pictures kept beside hides' files, by the hide's name; `files` may hold a job (`""`) and a `plan` too."""
    found = ((name, read_picture(Path(file))) for name, file in files.items() if name not in ("", "plan"))
    return tuple((name, photo) for name, photo in found if photo is not None)


def keep_picture(hide_file: Path, photo: HidePhoto) -> None:
    """Keep a hide's picture beside the hide's file; a picture that is kept there already is not written again.

    Raises InputError if the picture cannot be read, or another file has its name, or it cannot be written.
    """
    path, source = picture_file(hide_file), Path(photo.file)
    if path.exists() and source.exists() and path.samefile(source):
        return
    try:
        content = read_regular_file(source, most_bytes=_MOST_BYTES)
    except InputError as error:
        raise _unreadable(source) from error
    label = _Label(1, "hide picture", photo.matrix, hashlib.sha256(content).hexdigest())
    known = _label_of(path)
    if known == label:
        return
    if known is None and path.exists():
        raise InputError(
            "A file that is no picture of this hide has the name of its picture.",
            file=str(path),
            mend="Move or rename that file, then save again.",
        )
    picture = io.BytesIO()
    try:
        with opened_picture(source) as image:
            image.convert("RGB").save(picture, "JPEG", quality=_QUALITY, comment=msgspec.json.encode(label))
    except InputError as error:
        raise _unreadable(source) from error
    write_atomically(path, picture.getvalue())


def pass_picture_on(hide_file: Path, offcut_file: Path) -> bool:
    """Keep a hide's picture beside the file of an offcut of it too (both have the same coordinates). Whether it was.

    A hide without a picture, or one that cannot be written, is no fault of the cut: the offcut does without it.
    """
    if _label_of(picture_file(hide_file)) is None or picture_file(offcut_file).exists():
        return False
    try:
        write_atomically(picture_file(offcut_file), picture_file(hide_file).read_bytes())
    except (OSError, InputError):
        return False
    return True


def drop_picture(hide_file: Path) -> None:
    """Delete the picture beside a hide's file that is gone itself; a file that is no such picture stays."""
    path = picture_file(hide_file)
    if not hide_file.exists() and _label_of(path) is not None:
        delete_file(path)


def _unreadable(source: Path) -> InputError:
    return InputError(
        "The picture under this hide cannot be read.",
        file=str(source),
        mend="Put the picture back where it was, or take the hide from its photograph again.",
    )


def _label_of(path: Path) -> _Label | None:
    try:
        with opened_picture(path, formats=("JPEG",)) as image:
            label = msgspec.json.decode(image.info.get("comment", b""), type=_Label)
    except InputError:
        return None
    return label if label.kind == "hide picture" and len(label.matrix) == 9 else None
