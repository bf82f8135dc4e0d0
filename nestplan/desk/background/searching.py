"""The search for a plan as a task of the window: started, watched, paused, stopped with its best or discarded."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence

from PySide6.QtCore import QObject, Signal

from nestplan.desk.background.search_history import SearchHistory, most_by_area
from nestplan.desk.background.task import BackgroundTask, TaskControl
from nestplan.model.goals import GOALS
from nestplan.model.plan import Placement, Plan
from nestplan.nesting.progress import Observer, Progress
from nestplan.tasks.contents import Contents
from nestplan.tasks.planning import SearchRequest, draft_plan, hides_to_cut, search_plan

__all__ = ["Search"]

_SHOW_EVERY = 0.4
"""Seconds between two drafts shown."""


class _Watcher(Observer):
    """Hands progress and drafts on; drafts no more often than the eye can follow."""

    def __init__(self, control: TaskControl) -> None:
        self._control = control
        self._shown = 0.0

    def on_candidate(self, placements: Callable[[], Sequence[Placement]]) -> None:
        if time.monotonic() - self._shown >= _SHOW_EVERY:
            self._control.report(tuple(placements()))
            self._shown = time.monotonic()

    def on_progress(self, progress: Progress) -> None:
        self._control.report(progress)

    on_start = on_stage = on_best = on_end = on_progress


class Search(QObject):
    """One search. `progressed` carries Progress, `drafted` what lies where so far (placements), `found` the
    plan; `discarded` comes where it is not wanted."""

    progressed = Signal(object)
    drafted = Signal(object)
    found = Signal(object)
    discarded = Signal()
    failed = Signal(object)

    def __init__(self, contents: Contents, request: SearchRequest, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.request = request
        self._contents = contents
        self._wanted = threading.Event()
        self._wanted.set()
        self.progress: Progress | None = None
        self.draft: tuple[Placement, ...] = ()
        self.history = SearchHistory(self._most())
        self._task = BackgroundTask(self._run, parent=self)
        self._task.reported.connect(self._progress)
        self._task.done.connect(self._done)
        self._task.failed.connect(self.failed)

    def _most(self) -> tuple[int, float] | None:
        """What the leather allows at most, where the search may go beyond what is asked."""
        contents, request = self._contents, self.request
        if contents.job is None or not GOALS[request.goal].may_exceed_asked:
            return None
        return most_by_area(contents.job, hides_to_cut(contents.hides, request.keep, request.hides))

    def start(self) -> Search:
        """Begin; gives itself."""
        self._task.start()
        return self

    @property
    def running(self) -> bool:
        """Whether it still works (or waits)."""
        return self._task.running

    @property
    def was_stopped(self) -> bool:
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

    def stop(self) -> None:
        """Stop soon and take the best plan so far."""
        self._task.cancel()

    def discard(self) -> None:
        """Stop soon and leave the old plan as it was."""
        self._wanted.clear()
        self._task.cancel()

    def close(self) -> None:
        """Give up and wait for the end."""
        self._wanted.clear()
        self._task.finish()

    def _run(self, control: TaskControl) -> Plan:
        contents, request = self._contents, self.request
        assert contents.job is not None
        hides = hides_to_cut(contents.hides, request.keep, request.hides)
        return search_plan(contents.job, hides, request, stop=control, observer=_Watcher(control))

    def draft_plan(self) -> Plan | None:
        """What lies where so far as a plan, to be kept in case the program is ended; None before there is any."""
        job = self._contents.job
        if not self.draft or job is None:
            return None
        request = self.request
        return draft_plan(job, self._contents.hides, self.draft, seed=request.seed, keep=request.keep)

    def _progress(self, told: Progress | tuple[Placement, ...]) -> None:
        if isinstance(told, tuple):
            self.draft = told
            self.history.note_candidate(told)
            self.drafted.emit(told)
        else:
            self.progress = told
            self.history.note_progress(told, self.worked)
            self.progressed.emit(told)

    def _done(self, plan: Plan | None) -> None:
        if self._wanted.is_set() and plan is not None:
            self.found.emit(plan)
        else:
            self.discarded.emit()
