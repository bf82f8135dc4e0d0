"""Files read only where they are plain, written whole or not at all, names for them, and what a killed process left.

A file is written beside its place under a name of its own and then moved there; file and folder are synced, so that
it is whole after a power cut too. Names of such parts say which process makes them: those of a process that is gone
are deleted by the next one that writes in the folder.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import shutil
import stat
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from nestplan.errors import InputError

__all__ = [
    "delete_file",
    "file_stem",
    "move_into_place",
    "process_is_gone",
    "read_regular_file",
    "real_path",
    "require_regular_file",
    "rights_of",
    "staging_folder",
    "sweep_parts",
    "this_host",
    "write_atomically",
]

_LONGEST_STEM = 80
"""Letters of a file's name before its ending."""

_LONGEST_STEM_BYTES = 160
"""Bytes of a file's name before its ending: systems allow 255 in all, which are fewer letters in some scripts."""

_RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)", re.IGNORECASE)
"""Names that some systems keep for devices."""

_PART = re.compile(r"\..*\.(?P<pid>\d+)-(?P<host>[0-9a-f]{8})-\w+\.part")
"""Names of unfinished files and folders: what they are to become, the process, a mark of its machine, chance."""

_OLD_PART = re.compile(r"\..+\.\w{8}\.part")
"""Names of unfinished files as they were before they told their process."""

_OLD_SECONDS = 24 * 3600.0
"""Age from which an unfinished file of another machine is believed to be left behind."""


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
        raise _nul_in_name(name) from error
    except IsADirectoryError as error:
        raise InputError("This is a folder, not a file.", file=name, mend="Give the file itself.") from error
    except OSError as error:
        raise InputError(
            f"The file cannot be read: {error.strerror}.", file=name, mend="Check the name and the folder."
        ) from error


def require_regular_file(path: str | os.PathLike[str]) -> None:
    """Raise InputError if there is no such file, or it is a folder, a pipe or a device: such may never end."""
    name = os.fspath(path)
    try:
        found = os.stat(name)
    except ValueError as error:
        raise _nul_in_name(name) from error
    except OSError as error:
        raise InputError(
            f"The file cannot be read: {error.strerror}.", file=name, mend="Check the name and the folder."
        ) from error
    _require_regular(found.st_mode, name)


def _require_regular(mode: int, name: str) -> None:
    if stat.S_ISDIR(mode):
        raise InputError("This is a folder, not a file.", file=name, mend="Give the file itself.")
    if not stat.S_ISREG(mode):
        raise InputError("This is no regular file.", file=name, mend="Give the file itself.")


def _nul_in_name(name: str) -> InputError:
    return InputError(
        "A file's name cannot hold the letter NUL.", file=name.replace("\0", "␀"), mend="Correct the name."
    )


def _read_open(handle: int, name: str, most_bytes: int, too_large: str) -> bytes:
    found = os.fstat(handle)
    _require_regular(found.st_mode, name)
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


def write_atomically(path: str | os.PathLike[str], content: bytes, *, most_rights: int = 0o777) -> None:
    """Write `content` to a temporary file beside `path`, then replace `path` by it; both synced to the disk.

    A link is followed, and the rights of a file that is replaced are kept, as far as `most_rights` allow.

    Raises InputError if the folder does not exist or may not be written; then nothing is left behind.
    """
    import tempfile

    target = Path(os.path.realpath(path))
    sweep_parts(target.parent)
    try:
        handle, temporary = tempfile.mkstemp(
            dir=target.parent, prefix=_part_prefix(target.name), suffix=".part"
        )
    except OSError as error:
        raise InputError(
            f"The file cannot be written: {error.strerror}.",
            file=str(path),
            mend="Choose a folder that exists and may be written to.",
        ) from error
    try:
        try:
            _write_all(handle, content)
            os.fsync(handle)
        finally:
            os.close(handle)
        os.chmod(temporary, rights_of(target) & most_rights)
        os.replace(temporary, target)
    except OSError as error:
        with contextlib.suppress(OSError):
            os.unlink(temporary)
        raise InputError(
            f"The file cannot be written: {error.strerror}.",
            file=str(path),
            mend="Check the disk and the folder.",
        ) from error
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(temporary)
        raise
    _sync_folder(target.parent)


def delete_file(path: Path) -> None:
    """Delete a file, if it is there, so that it is gone after a power cut too.

    Raises InputError if it cannot be deleted.
    """
    try:
        os.unlink(path)
    except FileNotFoundError:
        return
    except OSError as error:
        raise InputError(
            f"The file cannot be deleted: {error.strerror}.",
            file=str(path),
            mend="Check the folder and your rights to it.",
        ) from error
    _sync_folder(path.parent)


@contextlib.contextmanager
def staging_folder(folder: Path) -> Iterator[Path]:
    """A new folder inside `folder` to write files in that are then moved into place together; gone afterwards.

    Raises InputError if it cannot be made.
    """
    import tempfile

    sweep_parts(folder)
    try:
        stage = tempfile.mkdtemp(dir=folder, prefix=_part_prefix("files"), suffix=".part")
    except OSError as error:
        raise InputError(
            f"The folder cannot be written to: {error.strerror}.",
            file=str(folder),
            mend="Choose a folder that exists and may be written to.",
        ) from error
    try:
        yield Path(stage)
    finally:
        shutil.rmtree(stage, ignore_errors=True)


def move_into_place(stage: Path, folder: Path, names: Sequence[str]) -> None:
    """Replace the files of these names in `folder` by those in `stage`.

    The first one is what the others are made from. The old others go before it changes, so that at no moment one
    of them stands beside a first one that it was not made from.

    Raises InputError if one cannot be replaced.
    """
    first, *others = ((stage / name, Path(os.path.realpath(folder / name))) for name in names)
    modes = [rights_of(target) for _, target in (first, *others)]
    for _, target in others:
        delete_file(target)
    for (source, target), mode in zip((first, *others), modes, strict=True):
        try:
            os.chmod(source, mode)
            _move(source, target)
        except OSError as error:
            raise InputError(
                f"The file cannot be written: {error.strerror}.",
                file=str(target),
                mend="Check the disk and the folder.",
            ) from error
        _sync_folder(target.parent)


def _move(source: Path, target: Path) -> None:
    try:
        os.replace(source, target)
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
        # The way to the target leads over a link to another disk.
        write_atomically(target, source.read_bytes())


def sweep_parts(folder: Path) -> None:
    """Delete unfinished files and folders in `folder` whose process is gone; those that cannot be deleted stay."""
    try:
        entries = [entry for entry in os.scandir(folder) if entry.name.endswith(".part")]
    except OSError:
        return
    for entry in entries:
        found = _PART.fullmatch(entry.name)
        if found is not None and found["host"] == _host_mark():
            left = process_is_gone(int(found["pid"])) or _is_old(entry)
        else:
            left = (found or _OLD_PART.fullmatch(entry.name)) is not None and _is_old(entry)
        if left:
            _delete_part(entry)


def _is_old(entry: os.DirEntry[str]) -> bool:
    try:
        return time.time() - entry.stat(follow_symlinks=False).st_mtime > _OLD_SECONDS
    except OSError:
        return False


def _delete_part(entry: os.DirEntry[str]) -> None:
    if entry.is_dir(follow_symlinks=False):
        shutil.rmtree(entry.path, ignore_errors=True)
        return
    with contextlib.suppress(OSError):
        os.unlink(entry.path)


def process_is_gone(pid: int) -> bool:
    """Whether no process of this machine has that number; no, where the system cannot be asked."""
    if os.name != "posix" or pid == os.getpid():
        return False
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return True
    except (OSError, OverflowError):
        return False
    return False


def this_host() -> str:
    """The name of this machine."""
    return os.uname().nodename if hasattr(os, "uname") else os.environ.get("COMPUTERNAME", "")


def _host_mark() -> str:
    # Loaded where it is needed: the first look at the commands must not wait for it.
    import hashlib

    return hashlib.sha256(this_host().encode()).hexdigest()[:8]


def _part_prefix(name: str) -> str:
    return f".{_cut_to_bytes(name, 100)}.{os.getpid()}-{_host_mark()}-"


def _write_all(handle: int, content: bytes) -> None:
    left = memoryview(content)
    while left:
        left = left[os.write(handle, left) :]


def rights_of(target: Path) -> int:
    """The rights of `target`, or the usual ones of a new file where it is not there."""
    try:
        return stat.S_IMODE(os.stat(target).st_mode)
    except OSError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask


def real_path(path: str | os.PathLike[str]) -> Path:
    """The path with its links followed, as far as they lead anywhere: of links that lead round in a ring the path as it
    is, which opening it then tells of."""
    return Path(os.path.realpath(path))


def _sync_folder(folder: Path) -> None:
    """Have the folder's list of names on the disk, where the system can do that."""
    if os.name != "posix":
        return
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def file_stem(name: str, *, unnamed: str = "unnamed", also: str = "") -> str:
    """A name as part of a file's name: small letters and digits, those of `also`, single dashes for all else.

    `unnamed` where nothing is left of the name. A name that some systems keep for devices gets a dash behind it.
    """
    plain = "".join(letter if letter.isalnum() or letter in also else "-" for letter in name.lower())
    stem = "-".join(part for part in plain.split("-") if part)[:_LONGEST_STEM]
    stem = _cut_to_bytes(stem, _LONGEST_STEM_BYTES) or unnamed
    return f"{stem}-" if _RESERVED.fullmatch(stem) else stem


def _cut_to_bytes(text: str, most: int) -> str:
    """The text without the letters at its end that do not fit into so many bytes."""
    return text.encode()[:most].decode(errors="ignore")
