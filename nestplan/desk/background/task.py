"""Long work off the window's thread: started, paused, cancelled, its progress and outcome told by signals.

A task is any function that takes a `TaskControl`.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, Signal

from nestplan.desk.background.freed_memory import give_back_memory
from nestplan.errors import Cancelled

__all__ = ["BackgroundTask", "TaskControl"]


class TaskControl:
    """What the working thread asks and tells: stop? wait? here is how far I am.

    It is a stopping rule too: called with the search's progress it waits while paused, and says whether to
    stop. `waited` is the time spent in pauses, s, `worked` the rest.
    """

    def __init__(self, report: Callable[[object], None]) -> None:
        self._report = report
        self._go = threading.Event()
        self._go.set()
        self._stop = threading.Event()
        self._started = time.monotonic()
        self._paused_at: float | None = None
        self._paused_for = 0.0

    def __call__(self, progress: object) -> bool:
        self.wait()
        return self._stop.is_set()

    @property
    def waited(self) -> float:
        """Seconds spent in pauses so far."""
        since = self._paused_at
        return self._paused_for + (time.monotonic() - since if since is not None else 0.0)

    @property
    def worked(self) -> float:
        """Seconds of work so far, pauses left out."""
        return time.monotonic() - self._started - self.waited

    @property
    def paused(self) -> bool:
        """Whether the work waits."""
        return not self._go.is_set()

    @property
    def cancelled(self) -> bool:
        """Whether the work was asked to stop."""
        return self._stop.is_set()

    def wait(self) -> None:
        """Return at once, or when the pause is over."""
        self._go.wait()

    def report(self, message: object) -> None:
        """Say how far the work is."""
        self._report(message)

    def pause(self) -> None:
        """Let the work wait at its next stop."""
        if self._paused_at is None:
            self._paused_at = time.monotonic()
        self._go.clear()

    def resume(self) -> None:
        """Go on."""
        if self._paused_at is not None:
            self._paused_for += time.monotonic() - self._paused_at
            self._paused_at = None
        self._go.set()

    def cancel(self) -> None:
        """Ask the work to stop soon and give what it has."""
        self._stop.set()
        self.resume()


class BackgroundTask(QObject):
    """One piece of long work in a thread. Signals reach the window's thread one after the other.

    Once its outcome is told, it leaves its parent, and what it worked on leaves the memory; whoever kept it may still
    ask whether it is `running`.
    """

    reported = Signal(object)
    done = Signal(object)
    failed = Signal(object)  # NestplanError, or the exception itself where it is a bug
    ended = Signal()
    _outcome = Signal(str, object)
    """What comes out, carried from the thread of the work to the window's: the name of a signal, its value."""

    def __init__(self, work: Callable[[TaskControl], Any], *, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._work = work
        self._begun = self._over = False
        self.control = TaskControl(self.reported.emit)
        self._outcome.connect(self._deliver)
        self._thread = threading.Thread(target=self._run, name="nestplan-task", daemon=True)

    def start(self) -> BackgroundTask:
        """Begin; returns itself."""
        self._begun = True
        self._thread.start()
        return self

    @property
    def running(self) -> bool:
        """Whether the work goes on, or its outcome has yet to be told: who finds it ended finds its outcome too."""
        return self._begun and not self._over

    def cancel(self) -> None:
        """Ask the work to stop soon."""
        self.control.cancel()

    def finish(self, seconds: float = 30.0) -> bool:
        """Cancel, then wait for the thread to end. Whether it did."""
        self.cancel()
        if self._thread.is_alive():
            self._thread.join(seconds)
        self._over = True
        return not self._thread.is_alive()

    def _run(self) -> None:
        try:
            outcome = self._work(self.control)
        except Cancelled as stopped:
            self._emit("done", stopped.best)
        except (
            Exception
        ) as error:  # a NestplanError is worded for the user, anything else is a bug to be told
            self._emit("failed", error)
        else:
            self._emit("done", outcome)
        give_back_memory()

    def _emit(self, name: str, value: object) -> None:
        try:
            self._outcome.emit(name, value)
        except RuntimeError:
            # The window was closed and its objects are gone: nobody is left to be told.
            return

    def _deliver(self, name: str, value: object) -> None:
        if not self._over:  # else it was finished by force: nobody waits any more
            self._over = True
            (self.done if name == "done" else self.failed).emit(value)
            self.ended.emit()
        self.deleteLater()
