"""A stranger's picture file opened: its size judged before a pixel is decoded, its decoder's words kept quiet.

Whatever is wrong with it becomes one InputError.
"""

from __future__ import annotations

import contextlib
import logging
import os
import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from nestplan.errors import InputError
from nestplan.storage import require_regular_file

__all__ = ["MOST_PIXELS", "opened_picture"]

MOST_PIXELS = 120_000_000
"""Larger pictures are refused: at three bytes a pixel this is what a bench computer decodes without
trouble."""

_HEAD = 32
"""How many bytes of a file tell what it is."""
_OTHER_KINDS: dict[str, tuple[int, tuple[bytes, ...]]] = {
    "a PDF document": (0, (b"%PDF-",)),
    "a phone's HEIC picture": (4, (b"ftyphei", b"ftyphev", b"ftypmif1", b"ftypmsf1")),
    "an AVIF picture": (4, (b"ftypavi",)),
    "a GIF picture": (0, (b"GIF8",)),
}
"""What people give for a photograph: where in the file (bytes) which of these marks stands (ISO 32000 for PDF,
ISO/IEC 23008-12 for `ftyp`)."""
_FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "BMP")

# Pillow tells a log what it finds odd in a file; a user is told once, by us, that it is damaged.
logging.getLogger("PIL").addHandler(logging.NullHandler())


@contextlib.contextmanager
def opened_picture(path: str | os.PathLike[str], *, formats: Sequence[str] = _FORMATS) -> Iterator[Any]:
    """The picture in a file, for the length of a with block in which it is decoded.

    Raises InputError if the file is missing, no picture of these formats, damaged, or too large.
    """
    from PIL import Image, UnidentifiedImageError

    name = Path(path).name
    if not os.path.lexists(path):
        raise InputError("The photo was not found.", mend="Check the name and folder.", file=name)
    try:
        require_regular_file(path)
        with warnings.catch_warnings(), _decoders_unheard():
            # Size is judged below; Pillow's own warning is about the same thing.
            warnings.simplefilter("ignore")
            with Image.open(path, formats=formats) as picture:
                width, height = picture.size
                if width * height > MOST_PIXELS:
                    raise _too_large(name, width, height)
                yield picture
    except InputError as error:
        raise error.within(file=name) from error.__cause__
    except UnidentifiedImageError:
        raise _no_picture(Path(path)) from None
    except Image.DecompressionBombError:
        raise _too_large(name) from None
    except Exception as fault:
        # Pillow lets many kinds of error through on damaged bytes; all of them mean the same to the user.
        raise InputError(
            f"The picture is damaged or cut off ({fault}).",
            mend="Copy it from the camera again, or open it in a picture program and save it anew.",
            file=name,
        ) from None


def _no_picture(path: Path) -> InputError:
    """The error for a file that no decoder knows: it says what the file is if its first bytes tell."""
    with path.open("rb") as file:
        head = file.read(_HEAD)
    if not head:
        return InputError("The file is empty.", mend="Copy it from the camera again.", file=path.name)
    found = [kind for kind, (at, marks) in _OTHER_KINDS.items() if head[at:].startswith(marks)]
    return InputError(
        f"This is {found[0]}." if found else "This file is no picture that can be read.",
        mend="Give a JPEG, PNG, TIFF, WebP or BMP" + ("; save it as JPEG first." if found else "."),
        file=path.name,
    )


def _too_large(name: str, width: int = 0, height: int = 0) -> InputError:
    size = f" ({width} × {height} pixels)" if width else ""
    return InputError(
        f"The picture is too large{size}; at most {MOST_PIXELS // 1_000_000} million pixels are read.",
        mend="Save it at half its size; 8 to 16 million pixels are plenty.",
        file=name,
    )


@contextlib.contextmanager
def _decoders_unheard() -> Iterator[None]:
    """Lines that a decoder in C writes on the error stream (libtiff does) go nowhere meanwhile."""
    try:
        kept, nowhere = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    except OSError:
        # There is no error stream to write on.
        yield
        return
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)
