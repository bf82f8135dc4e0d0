"""Long work off the window's thread: started, paused, cancelled, its progress and outcome told by signals.

A task is any function that takes a `Control`. Not here: what the work is.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, Signal

from nestplan.errors import Cancelled, NestplanError

__all__ = ["Control", "Task"]


class Control:
    """What the working thread asks and tells: stop? wait? here is how far I am.

    It is a stopping rule too: called with the search's progress it waits while paused, and says whether to
    stop. `waited` is the time spent in pauses, s, `worked` the rest.
    """

    def __init__(self, tell: Callable[[object], None]) -> None:
        self._tell = tell
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

    def tell(self, message: object) -> None:
        """Say how far the work is."""
        self._tell(message)

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


class Task(QObject):
    """One piece of long work in a thread. Signals reach the window's thread one after the other."""

    told = Signal(object)
    done = Signal(object)
    failed = Signal(object)  # NestplanError, or the exception itself where it is a bug
    ended = Signal()

    def __init__(self, work: Callable[[Control], Any], *, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._work = work
        self._over = False
        self.control = Control(self.told.emit)
        # Connected first, so that it is over in the window's thread just when its outcome is told there: were it
        # over in its own thread already, somebody could find it ended and its outcome nowhere.
        self.done.connect(self._end)
        self.failed.connect(self._end)
        self._thread = threading.Thread(target=self._run, name="nestplan-task", daemon=True)

    def start(self) -> Task:
        """Begin; returns itself."""
        self._thread.start()
        return self

    @property
    def running(self) -> bool:
        """Whether the work still goes on; no more when its outcome is told, though its thread may linger."""
        return self._thread.is_alive() and not self._over

    def cancel(self) -> None:
        """Ask the work to stop soon."""
        self.control.cancel()

    def finish(self, seconds: float = 30.0) -> bool:
        """Cancel, then wait for the thread to end. Whether it did."""
        self.cancel()
        if self._thread.is_alive():
            self._thread.join(seconds)
        return not self._thread.is_alive()

    def _end(self, _outcome: object) -> None:
        self._over = True

    def _run(self) -> None:
        try:
            outcome = self._work(self.control)
        except Cancelled as stopped:
            self._emit(self.done, stopped.best)
        except NestplanError as error:
            self._emit(self.failed, error)
        except Exception as error:
            self._emit(self.failed, error)
        else:
            self._emit(self.done, outcome)
        self._emit(self.ended)

    def _emit(self, signal: Any, *values: object) -> None:
        try:
            signal.emit(*values)
        except RuntimeError:
            # The window was closed and its objects are gone: nobody is left to be told.
            return
