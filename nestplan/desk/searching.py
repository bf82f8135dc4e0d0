"""The search for a plan as a task of the window: started, watched, paused, kept or given up.

It calls the same front door as the command line. Not here: what the plan then does in the document.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass

from PySide6.QtCore import QObject, Signal

from nestplan.desk.document import Work
from nestplan.desk.worker import Control, Task
from nestplan.model.plan import Placement, Plan
from nestplan.nesting.observing import Observer, Progress

__all__ = ["Search", "Wish"]


@dataclass(frozen=True)
class Wish:
    """What is asked of the search: its goal, how long it may work (s), its seed, and what stays where it is."""

    goal: str = "complete"
    seconds: float = 60.0
    seed: int = 0
    keep: tuple[Placement, ...] = ()
    hides: tuple[str, ...] = ()


class _Watcher(Observer):
    """Hands progress on, and holds the best plan shown so far."""

    def __init__(self, control: Control) -> None:
        self._control = control

    def on_progress(self, progress: Progress) -> None:
        self._control.tell(progress)

    on_start = on_stage = on_best = on_end = on_progress


class Search(QObject):
    """One search. `progressed` carries Progress, `found` the plan; `given_up` comes where it is not wanted."""

    progressed = Signal(object)
    found = Signal(object)
    given_up = Signal()
    failed = Signal(object)

    def __init__(self, work: Work, wish: Wish, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.wish = wish
        self._work = work
        self._wanted = threading.Event()
        self._wanted.set()
        self.progress: Progress | None = None
        self._task = Task(self._run, parent=self)
        self._task.told.connect(self._progress)
        self._task.done.connect(self._done)
        self._task.failed.connect(self.failed)

    def start(self) -> Search:
        """Begin; gives itself."""
        self._task.start()
        return self

    @property
    def running(self) -> bool:
        """Whether it still works (or waits)."""
        return self._task.running

    @property
    def paused(self) -> bool:
        """Whether it waits."""
        return self._task.control.paused

    @property
    def worked(self) -> float:
        """Seconds worked, pauses left out."""
        return self._task.control.worked

    def pause(self, wait: bool) -> None:
        """Let it wait, or go on."""
        (self._task.control.pause if wait else self._task.control.resume)()

    def keep(self) -> None:
        """Stop soon and take the best plan so far."""
        self._task.cancel()

    def give_up(self) -> None:
        """Stop soon and leave the old plan as it was."""
        self._wanted.clear()
        self._task.cancel()

    def close(self) -> None:
        """Give up and wait for the end."""
        self._wanted.clear()
        self._task.finish()

    def _run(self, control: Control) -> Plan:
        from nestplan.nesting.nest import nest

        assert self._work.job is not None
        wish = self.wish
        hides = tuple(hide for hide in self._work.hides if not wish.hides or hide.name in wish.hides)
        return nest(
            self._work.job,
            hides,
            goal=wish.goal,
            seconds=wish.seconds,
            seed=wish.seed,
            keep=wish.keep,
            stop=control,
            observer=_Watcher(control),
        )

    def _progress(self, progress: Progress) -> None:
        self.progress = progress
        self.progressed.emit(progress)

    def _done(self, plan: Plan | None) -> None:
        if self._wanted.is_set() and plan is not None:
            self.found.emit(plan)
        else:
            self.given_up.emit()
