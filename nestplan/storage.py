"""Files read only where they are plain and not too large, written whole or not at all, and names for them."""

from __future__ import annotations

import contextlib
import os
import stat
import tempfile
from pathlib import Path

from nestplan.errors import InputError

__all__ = ["file_stem", "read_regular_file", "write_atomically"]

_LONGEST_STEM = 80
"""Letters of a file's name before its ending; systems allow 255 bytes, which are fewer letters in some scripts."""


def read_regular_file(
    path: str | os.PathLike[str], *, most_bytes: int, too_large: str = "Give a smaller one."
) -> bytes:
    """What is in a file, if it is a regular one (no folder, pipe or device) of at most `most_bytes`.

    Raises InputError with what it is instead, or why it cannot be read; `too_large` says how to mend that it is.
    """
    name = os.fspath(path)
    try:
        # Opening a pipe would wait for somebody to write to it.
        handle = os.open(name, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        try:
            return _read_open(handle, name, most_bytes, too_large)
        finally:
            os.close(handle)
    except ValueError as error:
        if isinstance(error, InputError):
            raise
        raise InputError(
            "A file's name cannot hold the letter NUL.",
            file=name.replace("\0", "␀"),
            mend="Correct the name.",
        ) from error
    except IsADirectoryError as error:
        raise InputError("This is a folder, not a file.", file=name, mend="Give the file itself.") from error
    except OSError as error:
        raise InputError(
            f"The file cannot be read: {error.strerror}.", file=name, mend="Check the name and the folder."
        ) from error


def _read_open(handle: int, name: str, most_bytes: int, too_large: str) -> bytes:
    found = os.fstat(handle)
    if stat.S_ISDIR(found.st_mode):
        raise InputError("This is a folder, not a file.", file=name, mend="Give the file itself.")
    if not stat.S_ISREG(found.st_mode):
        raise InputError("This is no regular file.", file=name, mend="Give the file itself.")
    content = b""
    if found.st_size <= most_bytes:
        # It may grow while it is read: one byte more than is allowed tells.
        with os.fdopen(handle, "rb", closefd=False) as stream:
            content = stream.read(found.st_size + 1)
            if len(content) > found.st_size:
                content += stream.read(most_bytes + 1 - len(content))
    size = max(found.st_size, len(content))
    if size > most_bytes:
        raise InputError(
            f"The file is {size / 1e6:.0f} MB; nestplan reads up to {most_bytes / 1e6:.0f} MB.",
            file=name,
            mend=too_large,
        )
    return content


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
