"""Files written whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from nestplan.errors import InputError

__all__ = ["write_atomically"]


def write_atomically(path: str | os.PathLike[str], content: bytes) -> None:
    """Write `content` to a temporary file beside `path`, then replace `path` by it.

    Errors: InputError if the folder does not exist or may not be written; then nothing is left behind.
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
