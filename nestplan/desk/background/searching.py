"""The search for a plan as a task of the window: started, watched, paused, kept or given up.

It calls the same front door as the command line. Not here: what the plan then does in the document.
"""

from __future__ import annotations

import threading
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import msgspec
from PySide6.QtCore import QObject, Signal

from nestplan.desk.background.task import BackgroundTask, TaskControl
from nestplan.desk.document.document import Contents
from nestplan.desk.document.plan_edits import empty_plan
from nestplan.model.plan import Placement, Plan
from nestplan.nesting.progress import Observer, Progress

__all__ = ["Search", "SearchRequest"]

#: Seconds between two drafts shown.
_SHOW_EVERY = 0.4


@dataclass(frozen=True)
class SearchRequest:
    """What is asked of the search: its goal, how long it may work (s), its seed, and what stays where it is."""

    goal: str = "complete"
    seconds: float = 60.0
    seed: int = 0
    keep: tuple[Placement, ...] = ()
    hides: tuple[str, ...] = ()


class _Watcher(Observer):
    """Hands progress and drafts on; drafts no more often than the eye can follow."""

    def __init__(self, control: TaskControl) -> None:
        self._control = control
        self._shown = 0.0

    def on_draft(self, lying: Callable[[], Sequence[Placement]]) -> None:
        if time.monotonic() - self._shown >= _SHOW_EVERY:
            self._control.tell(tuple(lying()))
            self._shown = time.monotonic()

    def on_progress(self, progress: Progress) -> None:
        self._control.tell(progress)

    on_start = on_stage = on_best = on_end = on_progress


class Search(QObject):
    """One search. `progressed` carries Progress, `drafted` what lies where so far (placements), `found` the
    plan; `given_up` comes where it is not wanted."""

    progressed = Signal(object)
    drafted = Signal(object)
    found = Signal(object)
    given_up = Signal()
    failed = Signal(object)

    def __init__(self, contents: Contents, request: SearchRequest, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.request = request
        self._contents = contents
        self._wanted = threading.Event()
        self._wanted.set()
        self.progress: Progress | None = None
        self.draft: tuple[Placement, ...] = ()
        self._task = BackgroundTask(self._run, parent=self)
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
    def stopped(self) -> bool:
        """Whether it was asked to stop before its time."""
        return self._task.control.cancelled

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

    def _run(self, control: TaskControl) -> Plan:
        from nestplan.nesting.nest import nest
        from nestplan.yields import with_measured_offcuts

        assert self._contents.job is not None
        request = self.request
        held = {placement.hide for placement in request.keep}
        ready = [hide for hide in self._contents.hides if not hide.used or hide.name in held]
        hides = tuple(hide for hide in ready if not request.hides or hide.name in request.hides)
        plan = nest(
            self._contents.job,
            hides,
            goal=request.goal,
            seconds=request.seconds,
            seed=request.seed,
            keep=request.keep,
            stop=control,
            observer=_Watcher(control),
        )
        return with_measured_offcuts(plan, self._contents.job, hides)

    def draft_plan(self) -> Plan | None:
        """What lies where so far as a plan, to be kept in case the program is ended; None before there is any."""
        if not self.draft or self._contents.job is None:
            return None
        count: Counter[tuple[str, str]] = Counter()
        placements = []
        for placement in self.draft:
            count[placement.name, placement.layer] += 1
            copy = count[placement.name, placement.layer]
            placements.append(msgspec.structs.replace(placement, copy=copy))
        return msgspec.structs.replace(
            empty_plan(self._contents.job, self._contents.hides),
            placements=tuple(placements),
            seed=self.request.seed,
        )

    def _progress(self, told: Progress | tuple[Placement, ...]) -> None:
        if isinstance(told, tuple):
            self.draft = told
            self.drafted.emit(told)
        else:
            self.progress = told
            self.progressed.emit(told)

    def _done(self, plan: Plan | None) -> None:
        if self._wanted.is_set() and plan is not None:
            self.found.emit(plan)
        else:
            self.given_up.emit()
