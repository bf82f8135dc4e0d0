"""Changing the rack after a cut, and undoing it: files written in one go or not at all, with a journal.

A cut marks its hides as used, adds offcuts and a line to the log. Before the first file is touched, the
journal holds what every file was and what it will be; so a cut that broke off half-way, or that was a
mistake, can be taken back byte for byte. What the new hides look like is told in `stock`.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Literal

import msgspec

from nestplan.errors import InputError
from nestplan.model.job_log import JOB_LOG_NAME
from nestplan.model.values import Name, Record
from nestplan.storage import write_atomically

__all__ = [
    "JOURNAL_NAME",
    "LOCK_NAME",
    "FileChange",
    "JournalEntry",
    "commit_cut",
    "rack_lock",
    "read_journal",
    "roll_back_unfinished_cuts",
    "undo_cut",
]

JOURNAL_NAME = ".nestplan-cuts.json"
LOCK_NAME = ".nestplan-cuts.lock"
_STALE = 60.0
"""Seconds after which a lock was left by a program that broke off; committing a cut takes a few."""
_MOST_BYTES = 256 * 1024 * 1024
_KEPT = 50
"""Cuts that can be undone; the files that older ones wrote stay."""
_OURS = (".hide.json", JOB_LOG_NAME)
"""Endings of the files that a cut writes: a journal from elsewhere cannot make us write other files."""


class FileChange(Record, frozen=True, kw_only=True):
    """One file of a cut, by its path from the rack's folder: its text before (None: it was not there) and the
    SHA-256 of its text after."""

    file: Name
    before: str | None
    after: str


class JournalEntry(Record, frozen=True, kw_only=True):
    """One cut in the journal. `begun`: its files may not all be written yet."""

    id: Name
    date: str
    plan: str
    state: Literal["begun", "done", "undone"]
    changes: tuple[FileChange, ...]


class _Journal(Record, frozen=True, kw_only=True):
    nestplan: int = 1
    kind: Literal["cuts"] = "cuts"
    cuts: tuple[JournalEntry, ...] = ()


def read_journal(folder: str | Path) -> tuple[JournalEntry, ...]:
    """The cuts of a rack, oldest first; none if it has no journal. Raises InputError if it is damaged."""
    path = Path(folder) / JOURNAL_NAME
    try:
        if not path.exists():
            return ()
        if path.stat().st_size > _MOST_BYTES:
            raise InputError("The journal of cuts is too large.", file=str(path), mend="Move it away.")
        cuts = msgspec.json.decode(path.read_bytes(), type=_Journal).cuts
    except (OSError, msgspec.DecodeError) as error:
        raise InputError(
            f"The journal of cuts cannot be read ({error}).",
            file=str(path),
            mend="Move it away; earlier cuts can then no longer be undone.",
        ) from error
    for cut in cuts:
        for change in cut.changes:
            if not change.file.endswith(_OURS):
                raise InputError(
                    f"The journal of cuts names '{change.file}', which no cut writes.",
                    file=str(path),
                    mend="Move the journal away; earlier cuts can then no longer be undone.",
                )
    return cuts


@contextlib.contextmanager
def rack_lock(folder: str | Path) -> Iterator[None]:
    """Keeps a second nestplan from changing the same rack meanwhile. Hold it from reading the hides to writing.

    Raises InputError if another one holds it; a lock older than a minute was left by one that broke off.
    """
    path = Path(folder) / LOCK_NAME
    try:
        with contextlib.suppress(FileNotFoundError):
            if time.time() - path.stat().st_mtime > _STALE:
                path.unlink()
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
    except FileExistsError as error:
        raise InputError(
            "Another nestplan is changing this rack.", mend="Try again in a minute.", file=str(folder)
        ) from error
    except OSError as error:
        raise InputError(
            f"The rack's folder cannot be written to ({error.strerror}).",
            mend="Check the folder and your rights to it.",
            file=str(folder),
        ) from error
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            path.unlink()


def commit_cut(
    folder: str | Path, *, cut_id: str, date: str, plan: str, files: Sequence[tuple[Path, str]]
) -> JournalEntry:
    """Write all `files` (path, text) as one cut that can be undone.

    The journal is written first. If a file then cannot be written, those already written are put back and the
    error is raised. A cut that broke off earlier is put back before. Raises InputError.
    """
    folder = Path(folder)
    roll_back_unfinished_cuts(folder)
    cuts = read_journal(folder)
    if any(cut.id == cut_id and cut.state == "done" for cut in cuts):
        raise InputError("This plan has been cut already.", mend="Undo the cut first.", file=str(folder))
    changes = tuple(
        FileChange(file=_from_folder(folder, path), before=_text_of(path), after=_hash(text))
        for path, text in files
    )
    cut = JournalEntry(id=cut_id, date=date, plan=plan, state="begun", changes=changes)
    kept = tuple(old for old in cuts if old.id != cut_id)[-_KEPT:]
    _write(folder, (*kept, cut))
    done = msgspec.structs.replace(cut, state="done")
    try:
        for path, text in files:
            write_atomically(path, text.encode())
        _write(folder, (*kept, done))
    except BaseException:
        _restore(folder, cut)
        _write(folder, kept)
        raise
    return done


def undo_cut(folder: str | Path, cut_id: str) -> JournalEntry:
    """Put back every file of a cut as it was, byte for byte, and take away those it made.

    Raises InputError if there is no such cut, or a file was changed since (then nothing is touched).
    """
    folder = Path(folder)
    roll_back_unfinished_cuts(folder)
    cuts = read_journal(folder)
    cut = next((each for each in reversed(cuts) if each.id == cut_id and each.state == "done"), None)
    if cut is None:
        raise InputError(
            "The rack's journal knows no such cut, or it was undone already.",
            mend="Give the plan that was cut and the folder of its hides.",
            file=str(folder),
        )
    for change in cut.changes:
        path = folder / change.file
        # An undo that broke off has put some files back already.
        before = "" if change.before is None else _hash(change.before)
        if _file_hash(path) not in (change.after, before):
            raise InputError(
                "The file was changed after the cut, so the cut cannot be undone.",
                mend="Undo later cuts first, or put the file right by hand.",
                file=str(path),
            )
    undone = msgspec.structs.replace(cut, state="undone")
    _restore(folder, cut)
    _write(folder, tuple(undone if each is cut else each for each in cuts))
    return undone


def roll_back_unfinished_cuts(folder: Path) -> tuple[JournalEntry, ...]:
    """Undo cuts that broke off half-way; returns them. Files that someone else has changed stay as they
    are."""
    cuts = read_journal(folder)
    broken = tuple(cut for cut in cuts if cut.state == "begun")
    for cut in broken:
        _restore(folder, cut)
    if broken:
        _write(folder, tuple(cut for cut in cuts if cut.state != "begun"))
    return broken


def _restore(folder: Path, cut: JournalEntry) -> None:
    for change in cut.changes:
        path = folder / change.file
        if _file_hash(path) != change.after:
            continue
        if change.before is None:
            with contextlib.suppress(OSError):
                path.unlink()
        else:
            write_atomically(path, change.before.encode())


def _write(folder: Path, cuts: tuple[JournalEntry, ...]) -> None:
    text = msgspec.json.format(
        msgspec.json.encode({"nestplan": 1, "kind": "cuts", "cuts": msgspec.to_builtins(cuts)}), indent=1
    )
    write_atomically(folder / JOURNAL_NAME, text)


def _from_folder(folder: Path, path: Path) -> str:
    """The path as the journal holds it. Raises InputError if it lies on another drive."""
    try:
        return Path(os.path.relpath(path.resolve(), folder.resolve())).as_posix()
    except ValueError as error:
        raise InputError(
            "The hide lies on another drive than the rack.",
            mend="Give the folder of the hides.",
            file=str(path),
        ) from error


def _text_of(path: Path) -> str | None:
    try:
        return path.read_bytes().decode() if path.exists() else None
    except (OSError, UnicodeDecodeError) as error:
        raise InputError("The file cannot be read.", mend="Check the file.", file=str(path)) from error


def _file_hash(path: Path) -> str:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
