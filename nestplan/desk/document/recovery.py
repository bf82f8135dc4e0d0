"""The work kept safe while it is unsaved, and given back after the program was killed or the power failed.

Every change is written to one file within three seconds, whole or not at all, by a thread of its own, so that
the window never waits. The file goes when the program ends in order; one whose program is gone is offered at
the next start.
"""

from __future__ import annotations

import contextlib
import os
import threading
import time
from collections.abc import Callable
from pathlib import Path
from uuid import uuid4

import msgspec
from PySide6.QtCore import QLockFile, QObject, QTimer

from nestplan.desk.document.document import Document
from nestplan.errors import NestplanError
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Plan
from nestplan.model.values import decode_value, encode_value
from nestplan.storage import read_regular_file, write_atomically
from nestplan.tasks.contents import Contents, HidePhoto

__all__ = ["RecoveredWork", "Recovery", "read_recovered"]

_WAIT_MS = 1500
"""ms from a change to its writing, and the least time between two writings."""


_MOST_BYTES = 256 * 1024 * 1024
"""Work of more is not read back."""


class _PhotoEntry(msgspec.Struct):
    hide: str
    file: str
    matrix: tuple[float, ...]


class _Bundle(msgspec.Struct, kw_only=True):
    saved: float
    files: dict[str, str] = {}
    fingerprints: dict[str, str] = {}
    hides: tuple[Hide, ...] = ()
    job: Job | None = None
    plan: Plan | None = None
    photos: tuple[_PhotoEntry, ...] = ()
    planning: bool = False
    draft: Plan | None = None


class RecoveredWork(msgspec.Struct):
    """Work of a program that is gone: when it was last written, what is in it, and where.

    `draft` is what a search had found by then, beside the plan that lay there before.
    """

    path: str
    saved: float
    contents: Contents
    files: dict[str, str]
    fingerprints: dict[str, str]
    planning: bool
    draft: Plan | None

    @property
    def words(self) -> str:
        """What is in it, in words."""
        parts = [f"{len(self.contents.hides)} hide{'' if len(self.contents.hides) == 1 else 's'}"]
        if self.contents.job is not None:
            parts.append(f"the job {self.contents.job.name}")
        plan = self.draft or self.contents.plan
        if plan is not None:
            parts.append(f"a plan with {len(plan.placements)} pieces laid")
        when = time.strftime("%H:%M:%S on %d %B %Y", time.localtime(self.saved))
        running = " A plan was being made." if self.planning else ""
        return f"{', '.join(parts)}, as it stood at {when}.{running}"


class Recovery(QObject):
    """Writes the document's work to a file in `folder` soon after each change."""

    def __init__(self, document: Document, folder: Path, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self._folder = folder
        folder.mkdir(parents=True, exist_ok=True)
        self.path = folder / f"{os.getpid()}-{uuid4().hex[:8]}.work"
        self._lock = QLockFile(str(self.path) + ".lock")
        self._lock.setStaleLockTime(0)
        self._lock.lock()
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_WAIT_MS)
        self._timer.timeout.connect(self._write_soon)
        self._thread: threading.Thread | None = None
        self.fault: NestplanError | None = None
        self.live: Callable[[], Plan | None] = lambda: None
        self.planning = False
        self._replaced: list[str] = []
        document.changed.connect(self.note)

    def note(self, _work: object = None) -> None:
        """Something changed: it is written within three seconds."""
        if not self._timer.isActive():
            self._timer.start()

    def _write_soon(self) -> None:
        if self._thread is not None and self._thread.is_alive():
            self._timer.start()
            return
        if self.planning:
            self._timer.start()  # a running plan gets better without a change of the work
        contents = self._document.contents
        if contents == Contents():
            return
        bundle = _Bundle(
            saved=time.time(),
            files=dict(self._document.files),
            fingerprints=dict(self._document.fingerprints),
            hides=contents.hides,
            job=contents.job,
            plan=contents.plan,
            photos=tuple(_PhotoEntry(name, photo.file, photo.matrix) for name, photo in contents.photos),
            planning=self.planning,
            draft=self.live() if self.planning else None,
        )
        self._thread = threading.Thread(
            target=self._write, args=(bundle,), name="nestplan-recovery", daemon=True
        )
        self._thread.start()

    def _write(self, bundle: _Bundle) -> None:
        try:
            write_atomically(self.path, msgspec.json.encode(bundle, enc_hook=encode_value))
        except NestplanError as error:
            self.fault = error
            return
        self.fault = None
        while self._replaced:
            _remove(self._replaced.pop())

    def found(self) -> tuple[RecoveredWork, ...]:
        """Work left behind by programs that are gone, the newest first.

        A file that cannot be read, or was written by another version, stays for a person to look at.
        """
        left = []
        for path in self._folder.glob("*.work"):
            if path == self.path or not self._is_left(path):
                continue
            found = read_recovered(path)
            if found is not None:
                left.append(found)
        return tuple(sorted(left, key=lambda found: -found.saved))

    def _is_left(self, path: Path) -> bool:
        lock = QLockFile(str(path) + ".lock")
        lock.setStaleLockTime(0)
        if not lock.tryLock(0):
            return False
        lock.unlock()
        return True

    def forget(self, found: RecoveredWork) -> None:
        """Throw found work away."""
        _remove(found.path)

    def replace(self, found: RecoveredWork) -> None:
        """Found work lies open here now: its file goes once the next one of this window is written."""
        self._replaced.append(found.path)
        self.note()

    def close(self) -> None:
        """End in order: wait for the last writing and take the file away."""
        self._timer.stop()
        if self._thread is not None:
            self._thread.join(5.0)
        for path in (str(self.path), *self._replaced):
            _remove(path)
        self._lock.unlock()


def read_recovered(path: Path) -> RecoveredWork | None:
    """The work in a file; None if it cannot be read, whatever is wrong with it."""
    try:
        bundle = msgspec.json.decode(
            read_regular_file(path, most_bytes=_MOST_BYTES), type=_Bundle, dec_hook=decode_value
        )
        photos = tuple((entry.hide, HidePhoto(entry.file, entry.matrix)) for entry in bundle.photos)
        found = RecoveredWork(
            str(path),
            bundle.saved,
            Contents(bundle.hides, bundle.job, bundle.plan, photos),
            bundle.files,
            bundle.fingerprints,
            bundle.planning,
            bundle.draft,
        )
        return found if found.words else None
    except (
        OSError,
        ValueError,
        TypeError,
        KeyError,
        OverflowError,
        RecursionError,
        NestplanError,
        msgspec.DecodeError,
    ):
        return None


def _remove(path: str) -> None:
    for name in (path, path + ".lock"):
        with contextlib.suppress(OSError):
            os.unlink(name)
