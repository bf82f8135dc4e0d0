"""Files written whole or not at all, and names for them that every system takes."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from nestplan.errors import InputError

__all__ = ["file_stem", "write_atomically"]

_LONGEST_STEM = 80
"""Letters of a file's name before its ending; systems allow 255 bytes, which are fewer letters in some scripts."""


def write_atomically(path: str | os.PathLike[str], content: bytes) -> None:
    """Write `content` to a temporary file beside `path`, then replace `path` by it.

    Raises InputError if the folder does not exist or may not be written; then nothing is left behind.
    """
    target = Path(path)
    try:
        handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.", suffix=".part")
    except OSError as error:
        raise InputError(
            f"The file cannot be written: {error.strerror}.",
            file=str(target),
            mend="Choose a folder that exists and may be written to.",
        ) from error
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        mask = os.umask(0)
        os.umask(mask)
        os.chmod(temporary, 0o666 & ~mask)
        os.replace(temporary, target)
    except OSError as error:
        with contextlib.suppress(OSError):
            os.unlink(temporary)
        raise InputError(
            f"The file cannot be written: {error.strerror}.",
            file=str(target),
            mend="Check the disk and the folder.",
        ) from error
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(temporary)
        raise


def file_stem(name: str, *, unnamed: str = "unnamed", also: str = "") -> str:
    """A name as part of a file's name: small letters and digits, those of `also`, single dashes for all else.

    `unnamed` where nothing is left of the name.
    """
    plain = "".join(letter if letter.isalnum() or letter in also else "-" for letter in name.lower())
    return "-".join(part for part in plain.split("-") if part)[:_LONGEST_STEM] or unnamed
