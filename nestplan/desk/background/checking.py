"""The plan on the table judged and counted again after each change, off the window's thread.

The audit and the figures are those of the command line; this file only asks them when the hand has come to
rest, and drops answers about a plan that is no longer there.
"""

from __future__ import annotations

from PySide6.QtCore import QObject, QTimer, Signal

from nestplan.desk.background.task import BackgroundTask
from nestplan.desk.document.document import Document
from nestplan.tasks.checking import PlanCheck, check_plan
from nestplan.tasks.contents import Contents

__all__ = ["PlanChecker"]

_REST_MS = 200


class PlanChecker(QObject):
    """Tells `checked` about the document's plan soon after each change; `latest` is the last word."""

    checked = Signal(object)
    failed = Signal(object)

    def __init__(self, document: Document, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self._task: BackgroundTask | None = None
        self.latest: PlanCheck | None = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_REST_MS)
        self._timer.timeout.connect(self._start)
        document.changed.connect(self._note)

    def _note(self, _contents: Contents) -> None:
        self._timer.start()

    @property
    def busy(self) -> bool:
        """Whether an answer is still to come."""
        return self._timer.isActive() or (self._task is not None and self._task.running)

    def _start(self) -> None:
        contents = self._document.contents
        plan, job = contents.plan, contents.job
        if plan is None or job is None:
            self.latest = None
            self.checked.emit(None)
            return
        if self._task is not None and self._task.running:
            self._timer.start()
            return
        self._task = BackgroundTask(lambda _control: check_plan(plan, job, contents.hides), parent=self)
        self._task.done.connect(self._take)
        self._task.failed.connect(self.failed)
        self._task.start()

    def _take(self, checked: PlanCheck) -> None:
        if checked is not None and checked.plan is self._document.contents.plan:
            self.latest = checked
            self.checked.emit(checked)

    def close(self) -> None:
        """Ask no more, and wait for the question that is out."""
        self._timer.stop()
        if self._task is not None:
            self._task.finish()
