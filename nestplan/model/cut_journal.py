"""Changing the rack after a cut, and undoing it: files written in one go or not at all, with a journal.

A cut marks its hides as used, adds offcuts and a line to the log. Before the first file is touched, the journal holds
what every file was and what it will be; so a cut that broke off half-way, or that was a mistake, can be taken back byte
for byte. An undo is journalled in the same way. Leather may be missing in between but never stands there twice: hides
are marked as used before their offcuts are written, and offcuts are deleted before their hide is put back.

What broke off is put right when the rack is next read: see `settle_rack`. A folder outside the rack that a change
touches gets a mark with the way to the journal while the change lasts; a journal may change only files of its own
folder and, in folders with such a mark or that the caller names, only what a cut makes of a hide.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

import msgspec

from nestplan.errors import InputError
from nestplan.model.files import content_hash
from nestplan.model.hide import Hide
from nestplan.model.job_log import JOB_LOG_NAME
from nestplan.model.rack_lock import LOCK_NAME, rack_lock, rack_locks
from nestplan.model.values import Name, Record, decode_value
from nestplan.storage import (
    delete_file,
    read_regular_file,
    real_path,
    rights_of,
    sweep_parts,
    write_atomically,
)

__all__ = [
    "JOURNAL_NAME",
    "LOCK_NAME",
    "MARK_NAME",
    "FileChange",
    "JournalEntry",
    "RackRepair",
    "commit_cut",
    "rack_lock",
    "rack_locks",
    "read_journal",
    "roll_back_unfinished_cuts",
    "settle_rack",
    "undo_cut",
]

JOURNAL_NAME = ".nestplan-cuts.json"
"""Name of the journal in the rack's folder."""

MARK_NAME = ".nestplan-cut-begun"
"""Name of the file that tells another folder which rack's journal has begun to change it."""

_MOST_BYTES = 256 * 1024 * 1024
_MOST_MARK_BYTES = 4096

_KEPT = 50
"""Cuts that the journal keeps. Older ones can no longer be undone; the files they wrote stay."""

_OURS = (".json", JOB_LOG_NAME)
"""Endings of the files a cut writes."""

_PATIENCE = 5.0
"""Seconds to wait for another nestplan that is just changing the rack."""


class FileChange(Record, frozen=True, kw_only=True):
    """One file of a cut, by its path from the rack's folder: its text before (None: it was not there) and the
    SHA-256 of its text after."""

    file: Annotated[str, msgspec.Meta(min_length=1, max_length=4096)]
    before: str | None
    after: str


class JournalEntry(Record, frozen=True, kw_only=True):
    """One cut in the journal. `begun`: its files may not all be written yet; `undoing`: nor all put back."""

    id: Name
    date: str
    plan: str
    state: Literal["begun", "done", "undoing", "undone"]
    changes: tuple[FileChange, ...]


class _Journal(Record, frozen=True, kw_only=True):
    nestplan: int = 1
    kind: Literal["cuts"] = "cuts"
    cuts: tuple[JournalEntry, ...] = ()


@dataclass(frozen=True)
class RackRepair:
    """What was put right in a rack: a cut that had broken off was taken back, or an undo of one was finished."""

    folder: Path
    plan: str
    date: str
    was: Literal["cut", "undo"]


def read_journal(folder: str | Path) -> tuple[JournalEntry, ...]:
    """The cuts of a rack, oldest first; none if it has no journal.

    Raises InputError if it is damaged, is a link, or names files that no cut writes.
    """
    path = Path(folder) / JOURNAL_NAME
    mend = "Move it away; earlier cuts can then no longer be undone."
    if path.is_symlink():
        raise InputError("The journal of cuts is a link to another file.", file=str(path), mend=mend)
    try:
        if not path.exists():
            return ()
        content = read_regular_file(
            path,
            most_bytes=_MOST_BYTES,
            too_large=mend,
        )
        content.decode()
        cuts = msgspec.json.decode(content, type=_Journal).cuts
    except (OSError, UnicodeDecodeError, RecursionError, msgspec.DecodeError) as error:
        raise InputError(
            f"The journal of cuts cannot be read ({error}).", file=str(path), mend=mend
        ) from error
    for cut in cuts:
        for change in cut.changes:
            if not change.file.endswith(_OURS) or "\0" in change.file:
                raise InputError(
                    f"The journal of cuts names '{change.file}', which no cut writes.",
                    file=str(path),
                    mend="Move the journal away; earlier cuts can then no longer be undone.",
                )
    return cuts


def settle_rack(folder: str | Path) -> tuple[RackRepair, ...]:
    """Put right what a cut or an undo left half done in a folder; what that was. To be called before its hides are
    read.

    Waits a little for another nestplan that is changing the rack.

    Raises InputError if the rack cannot be put right: it is being changed, or a file of the cut was changed since.
    """
    folder = Path(folder)
    repairs = _settle_own(folder)
    rack = _marked_rack(folder)
    if rack is not None:
        repairs += _settle_own(rack)
        if not any(_is_unfinished(entry) for entry in read_journal(rack)):
            delete_file(folder / MARK_NAME)
    return repairs


def _settle_own(folder: Path) -> tuple[RackRepair, ...]:
    unfinished = [entry for entry in read_journal(folder) if _is_unfinished(entry)]
    if not unfinished:
        return ()
    # A journal from elsewhere may name any folder: those that have our mark are locked too.
    outer = {each for entry in unfinished for each in _outer_folders(folder, entry)}
    with rack_locks(
        [folder, *(each for each in outer if _marked_rack(each) == real_path(folder))], patience=_PATIENCE
    ):
        sweep_parts(folder)
        return tuple(
            RackRepair(folder, entry.plan, entry.date, "cut" if entry.state == "begun" else "undo")
            for entry in roll_back_unfinished_cuts(folder)
        )


def _is_unfinished(entry: JournalEntry) -> bool:
    return entry.state in ("begun", "undoing")


def commit_cut(
    folder: str | Path, *, cut_id: str, date: str, plan: str, files: Sequence[tuple[Path, str]]
) -> JournalEntry:
    """Write all `files` (path, text) as one cut that can be undone. The rack's lock must be held.

    The journal is written first. If a file then cannot be written, those already written are put back and the
    error is raised. A cut that broke off earlier is put back before.

    Raises InputError if this plan has been cut already or a file cannot be written.
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
    rights = _fewest_rights(folder, cut)
    _write(folder, (*kept, cut), rights)
    done = msgspec.structs.replace(cut, state="done")
    try:
        _mark(folder, cut)
        for path, text in files:
            write_atomically(path, text.encode(), most_rights=0o777 if path.exists() else rights)
        _write(folder, (*kept, done))
    except BaseException:
        # Where this fails too, the journal still says that the cut had begun, and the next reading puts it right.
        with contextlib.suppress(InputError):
            _restore(folder, cut)
            _write(folder, kept)
            _unmark(folder, cut)
        raise
    _unmark(folder, cut)
    return done


def undo_cut(folder: str | Path, cut_id: str, *, also: Collection[Path] = ()) -> JournalEntry:
    """Put back every file of a cut as it was, byte for byte, and delete those it made. The lock must be held.

    `also` are folders outside the rack whose files may be changed: those of hides that the user has named.

    Raises InputError if there is no such cut, a file was changed since (then nothing is touched), or a file cannot
    be put back or deleted (then the cut stands as before).
    """
    folder = Path(folder)
    finished = roll_back_unfinished_cuts(folder)
    cuts = read_journal(folder)
    for entry in finished:
        if entry.id == cut_id and entry.state == "undoing":
            return msgspec.structs.replace(entry, state="undone")
    cut = next((each for each in reversed(cuts) if each.id == cut_id and each.state == "done"), None)
    if cut is None:
        raise InputError(
            "The rack's journal knows no such cut, or it was undone already.",
            mend="Give the plan that was cut and the folder of its hides.",
            file=str(folder),
        )
    allowed = [real_path(path) for path in also]
    for change in cut.changes:
        path = _path_of(folder, cut, change, allowed)
        now = _file_hash(path)
        if now != change.after:
            # An offcut that is not there may lie elsewhere: putting its hide back would double the leather.
            what = "was changed" if now else "was taken away"
            raise InputError(
                f"The file {what} after the cut, so the cut cannot be undone.",
                mend="Undo later cuts first, or put the file right by hand.",
                file=str(path),
            )
    texts = {change.file: _bytes_of(folder / change.file) for change in cut.changes}
    undoing, undone = (msgspec.structs.replace(cut, state=state) for state in ("undoing", "undone"))
    _write(folder, tuple(undoing if each is cut else each for each in cuts))
    try:
        _mark(folder, cut)
        _restore(folder, cut, allowed)
    except InputError:
        with contextlib.suppress(InputError):
            _redo(folder, cut, texts)
            _write(folder, cuts)
            _unmark(folder, cut)
        raise
    _write(folder, tuple(undone if each is cut else each for each in cuts))
    _unmark(folder, cut)
    return undone


def roll_back_unfinished_cuts(folder: Path) -> tuple[JournalEntry, ...]:
    """Put back the files of cuts and of undos that broke off half-way; their entries as they were. The lock must be
    held.

    Raises InputError if a file is neither as it was before nor as the cut wrote it (then nothing is touched), or
    cannot be put back.
    """
    cuts = read_journal(folder)
    broken = tuple(cut for cut in cuts if _is_unfinished(cut))
    for cut in broken:
        for change in cut.changes:
            if _file_hash(folder / change.file) not in (change.after, _hash_before(change)):
                raise InputError(
                    "A cut that broke off cannot be taken back, since this file was changed after it.",
                    mend=f"Put the file as it was, or move {JOURNAL_NAME} away and put the hides right by hand.",
                    file=str(folder / change.file),
                )
    for cut in reversed(broken):
        _restore(folder, cut)
    if broken:
        _write(
            folder,
            tuple(
                msgspec.structs.replace(cut, state="undone") if cut.state == "undoing" else cut
                for cut in cuts
                if cut.state != "begun"
            ),
        )
        for cut in broken:
            _unmark(folder, cut)
    return broken


def _restore(folder: Path, cut: JournalEntry, allowed: Collection[Path] = ()) -> None:
    """Delete what a cut made, then put its hides and the log back; only where they are as the cut wrote them."""
    changes = [(change, _file_hash(folder / change.file)) for change in cut.changes]
    written = [change for change, now in changes if now == change.after and now != _hash_before(change)]
    paths = {change.file: _path_of(folder, cut, change, allowed) for change in written}
    for change in written:
        if change.before is None:
            delete_file(paths[change.file])
    for change in written:
        if change.before is not None:
            write_atomically(paths[change.file], change.before.encode())


def _redo(folder: Path, cut: JournalEntry, texts: dict[str, bytes | None]) -> None:
    """Write again what an undo that failed has put back or deleted: hides first, then their offcuts."""
    for change in sorted(cut.changes, key=lambda change: change.before is None):
        text = texts[change.file]
        if text is not None and _file_hash(folder / change.file) != change.after:
            write_atomically(folder / change.file, text, most_rights=_fewest_rights(folder, cut))


def _path_of(folder: Path, cut: JournalEntry, change: FileChange, allowed: Collection[Path]) -> Path:
    """Where a change of the journal is to be made.

    Raises InputError if that is outside the rack, in a folder that neither the caller allows nor has a mark of ours,
    or is more than a cut of a hide there: a journal from elsewhere must not make us write what it likes.
    """
    path = real_path(folder / change.file)
    home = real_path(folder)
    if path.is_relative_to(home):
        return path
    if (path.parent in allowed or _marked_rack(path.parent) == home) and _is_of_a_cut(path, cut, change):
        return path
    raise InputError(
        f"The journal of cuts names '{change.file}', which lies outside the rack.",
        file=str(folder / JOURNAL_NAME),
        mend="Give the plan that was cut and its hides, or move the journal away.",
    )


def _is_of_a_cut(path: Path, cut: JournalEntry, change: FileChange) -> bool:
    """Whether taking a change back does no more than to make the hide in a file whole, or to delete an offcut that
    this very cut made."""
    now = _hide_in(_bytes_of(path))
    if now is None:
        return _bytes_of(path) is None
    if change.before is None:
        return now.origin is not None and now.origin.plan_hash == cut.id
    before = _hide_in(change.before.encode())
    return before is not None and content_hash(before) == content_hash(now)


def _hide_in(text: bytes | None) -> Hide | None:
    try:
        return None if text is None else msgspec.json.decode(text, type=Hide, dec_hook=decode_value)
    except (msgspec.DecodeError, InputError, RecursionError):
        return None


def _outer_folders(folder: Path, cut: JournalEntry) -> list[Path]:
    """The folders besides the rack's own that a cut changes."""
    home = real_path(folder)
    return sorted({real_path(folder / change.file).parent for change in cut.changes} - {home})


def _mark(folder: Path, cut: JournalEntry) -> None:
    for outer in _outer_folders(folder, cut):
        write_atomically(outer / MARK_NAME, os.path.relpath(real_path(folder), outer).encode())


def _unmark(folder: Path, cut: JournalEntry) -> None:
    for outer in _outer_folders(folder, cut):
        if _marked_rack(outer) == real_path(folder):
            delete_file(outer / MARK_NAME)


def _marked_rack(folder: Path) -> Path | None:
    """The rack whose journal has begun to change a folder; None where it has no mark."""
    path = folder / MARK_NAME
    try:
        if path.is_symlink() or path.stat().st_size > _MOST_MARK_BYTES:
            return None
        rack = real_path(folder / path.read_bytes().decode())
        return rack if rack.is_dir() else None
    except (OSError, ValueError):
        return None


def _fewest_rights(folder: Path, cut: JournalEntry) -> int:
    """The rights that all files share which a cut changes: what it makes of them is for nobody else to read."""
    rights = 0o777
    for change in cut.changes:
        if change.before is not None:
            rights &= rights_of(folder / change.file)
    return rights


def _write(folder: Path, cuts: tuple[JournalEntry, ...], most_rights: int = 0o777) -> None:
    text = msgspec.json.format(
        msgspec.json.encode({"nestplan": 1, "kind": "cuts", "cuts": msgspec.to_builtins(cuts)}), indent=1
    )
    write_atomically(folder / JOURNAL_NAME, text, most_rights=most_rights)


def _from_folder(folder: Path, path: Path) -> str:
    """The path as the journal holds it. Raises InputError if it lies on another drive."""
    try:
        return Path(os.path.relpath(real_path(path), real_path(folder))).as_posix()
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


def _bytes_of(path: Path) -> bytes | None:
    try:
        return read_regular_file(path, most_bytes=_MOST_BYTES)
    except InputError:
        return None


def _file_hash(path: Path) -> str:
    """SHA-256 of a file; nothing where there is none."""
    content = _bytes_of(path)
    return "" if content is None else hashlib.sha256(content).hexdigest()


def _hash_before(change: FileChange) -> str:
    return "" if change.before is None else _hash(change.before)


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
