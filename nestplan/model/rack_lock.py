"""The lock of a rack: one nestplan at a time changes a folder of hides.

The system lets go of it when its process ends, however it ends. The file says which process of which machine has it,
for people to read and for file systems that know no locks.
"""

from __future__ import annotations

import contextlib
import itertools
import json
import os
import stat
import time
from collections.abc import Iterable, Iterator
from pathlib import Path

from nestplan.errors import InputError
from nestplan.storage import process_is_gone, real_path, this_host

try:
    import fcntl
except ImportError:  # not on this system: the file's own words decide
    fcntl = None  # type: ignore[assignment]

__all__ = ["LOCK_NAME", "rack_lock", "rack_locks"]

LOCK_NAME = ".nestplan-cuts.lock"
"""Name of the lock's file in the rack's folder."""

_STALE_SECONDS = 600.0
"""Age from which a lock of another machine is believed to be left behind; booking a cut takes a few seconds."""

_AGAIN_SECONDS = 0.05
"""Time between two tries for a lock that another process has."""

_MOST_BYTES = 4096


@contextlib.contextmanager
def rack_lock(folder: str | Path, *, patience: float = 0.0) -> Iterator[None]:
    """Keeps a second nestplan from changing the same rack meanwhile. Hold it from reading the hides to writing.

    Waits up to `patience` seconds for another one to finish.

    Raises InputError if another one still holds it, or the folder cannot be written to.
    """
    path = Path(folder) / LOCK_NAME
    handle = _take(path, time.monotonic() + patience)
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            if _is_there(path, handle):
                os.unlink(path)
        os.close(handle)


@contextlib.contextmanager
def rack_locks(folders: Iterable[str | Path], *, patience: float = 0.0) -> Iterator[None]:
    """The locks of several racks, as `rack_lock`: all hides that one change touches, wherever they lie.

    Raises InputError if another one still holds one of them, or a folder cannot be written to.
    """
    with contextlib.ExitStack() as locks:
        # In one order for everybody, so that no two wait for each other.
        for folder in sorted({real_path(folder) for folder in folders}):
            locks.enter_context(rack_lock(folder, patience=patience))
        yield


def _take(path: Path, deadline: float) -> int:
    """The lock's open file, once it is ours; tried twice at least, for one left behind may be in the way first."""
    for tries in itertools.count(1):
        try:
            handle = _try(path)
        except OSError as error:
            raise InputError(
                f"The rack's folder cannot be written to ({error.strerror}).",
                mend="Check the folder and your rights to it.",
                file=str(path.parent),
            ) from error
        if handle is not None:
            return handle
        if tries > 1 and time.monotonic() >= deadline:
            raise InputError(
                f"Another nestplan is changing this rack{_holder(path)}.",
                mend="Try again in a minute.",
                file=str(path.parent),
            )
        time.sleep(_AGAIN_SECONDS)
    raise AssertionError


def _try(path: Path) -> int | None:
    """The lock's open file if it could be had at once, None if another process has it. Raises OSError."""
    with contextlib.suppress(FileNotFoundError):
        # A link or a folder of that name is no lock of ours, and would be in the way for good.
        if not stat.S_ISREG(os.lstat(path).st_mode):
            _put_aside(path)
    no_link = getattr(os, "O_NOFOLLOW", 0)
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT | no_link, 0o666)
    except PermissionError:
        # Another user's: whether a living process has it can be seen without writing to it.
        seen = os.open(path, os.O_RDONLY | no_link)
        try:
            if _is_ours(path, seen):
                os.unlink(path)
        finally:
            os.close(seen)
        return None
    try:
        if _is_ours(path, handle):
            os.ftruncate(handle, 0)
            os.write(handle, json.dumps({"process": os.getpid(), "host": this_host()}).encode())
            return handle
    except BaseException:
        os.close(handle)
        raise
    os.close(handle)
    return None


def _is_ours(path: Path, handle: int) -> bool:
    """Whether the open file is the lock that lies there, and no living process has it."""
    if fcntl is not None:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError:
            pass  # a file system without locks: the file's own words decide
    return _is_there(path, handle) and not _is_held(handle, os.fstat(handle).st_mtime)


def _is_there(path: Path, handle: int) -> bool:
    """Whether the open file is the one that lies there."""
    try:
        there = os.lstat(path)
    except FileNotFoundError:
        return False
    mine = os.fstat(handle)
    return (there.st_ino, there.st_dev) == (mine.st_ino, mine.st_dev)


def _is_held(handle: int, written: float) -> bool:
    """Whether the lock's words name a process that may be at work: one of this machine that lives, or a recent one
    of another machine."""
    try:
        words = json.loads(os.pread(handle, _MOST_BYTES, 0) if hasattr(os, "pread") else b"{}")
        process, host = int(words["process"]), str(words["host"])
    except (ValueError, KeyError, TypeError, OverflowError, RecursionError):
        return False
    if host != this_host():
        return time.time() - written < _STALE_SECONDS
    # Where the system keeps locks, having this one proves that no living process of this machine has it.
    return fcntl is None and not process_is_gone(process)


def _holder(path: Path) -> str:
    """Who has the lock, in words; nothing where it does not say."""
    try:
        words = json.loads(path.read_bytes()[:_MOST_BYTES])
        return f" (process {int(words['process'])} on {str(words['host'])[:80]})"
    except (OSError, ValueError, KeyError, TypeError, OverflowError, RecursionError):
        return ""


def _put_aside(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        os.rmdir(path)
    else:
        os.unlink(path)
