"""The search for a plan as the window keeps it: one at a time, its draft on the table, its plan put in the document."""

from __future__ import annotations

import functools

from PySide6.QtCore import QObject, Signal

from nestplan.desk.background.searching import Search
from nestplan.desk.document.document import Document
from nestplan.model.plan import Placement, Plan
from nestplan.tasks.planning import SearchRequest

__all__ = ["PlanSearch"]


class PlanSearch(QObject):
    """Starts a search and takes its plan. `changed` tells when one begins or ends, `progressed` how far it is,
    `drafted` when the draft is another one."""

    changed = Signal()
    progressed = Signal(object)
    drafted = Signal()
    finished = Signal(float)
    """A plan was found, after so many seconds of work."""
    notified = Signal(str)
    error_reported = Signal(object)

    def __init__(self, document: Document, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self.current: Search | None = None

    @property
    def running(self) -> bool:
        """Whether a search is at work (or waits)."""
        return self.current is not None and self.current.running

    @property
    def draft(self) -> tuple[Placement, ...]:
        """What lies where so far; nothing where no search is at work."""
        return self.current.draft if self.current is not None and self.current.running else ()

    @property
    def kept(self) -> tuple[Placement, ...]:
        """What stays where it is when the rest is planned again: what is locked or cut."""
        plan = self._document.contents.plan
        return tuple(p for p in plan.placements if p.locked or p.done) if plan else ()

    def start(self, request: SearchRequest) -> None:
        """Search for a plan, where there is something to plan and no other search is at work."""
        contents = self._document.contents
        if self.running or contents.job is None or not contents.hides:
            return
        if self.current is not None:
            self.current.deleteLater()  # with what it had found on its way
        self.current = Search(contents, request, self)
        self.current.progressed.connect(self.progressed)
        self.current.drafted.connect(lambda _: self.drafted.emit())
        self.current.found.connect(functools.partial(self._found, request))
        self.current.discarded.connect(self._ended)
        self.current.failed.connect(self._failed)
        self.current.start()
        self.changed.emit()

    def close(self) -> None:
        """Give up a running search and wait for its end."""
        if self.current is not None:
            self.current.close()

    def _found(self, request: SearchRequest, plan: Plan) -> None:
        if not plan.placements and self.current is not None and self.current.was_stopped:
            self._ended()
            self.notified.emit("Nothing had a place yet when you stopped the search; all is as it was.")
            return
        self._document.set_plan("Plan the rest" if request.keep else "Plan", plan)
        self._ended()
        if self.current is not None:
            self.finished.emit(self.current.worked)
        used = [placement.hide for placement in plan.placements]
        hide = self._document.hide
        if used and (hide is None or hide.name not in used):
            self._document.show_hide(used[0])

    def _failed(self, error: object) -> None:
        self._ended()
        self.error_reported.emit(error)

    def _ended(self) -> None:
        if self.current is not None:
            self.current.draft = ()
        self.drafted.emit()
        self.changed.emit()
