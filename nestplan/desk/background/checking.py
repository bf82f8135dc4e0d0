"""The plan on the table judged and counted again after each change, off the window's thread.

The audit and the figures are those of the command line; this file only asks them when the hand has come to
rest, and drops answers about a plan that is no longer there.
"""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QObject, QTimer, Signal

from nestplan.desk.background.task import BackgroundTask, TaskControl
from nestplan.desk.document.document import Contents, Document
from nestplan.model.audit import Fault
from nestplan.model.plan import Figures, Plan

__all__ = ["Checker", "PlanCheck", "figures_of"]

_REST_MS = 200


@dataclass(frozen=True)
class PlanCheck:
    """What was found about a plan: its faults and its figures (None where they could not be counted)."""

    plan: Plan
    faults: tuple[Fault, ...]
    figures: Figures | None


class Checker(QObject):
    """Tells `checked` about the document's plan soon after each change; `latest` is the last word."""

    checked = Signal(object)
    broke = Signal(object)

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

    def _note(self, _work: Contents) -> None:
        self._timer.start()

    @property
    def busy(self) -> bool:
        """Whether an answer is still to come."""
        return self._timer.isActive() or (self._task is not None and self._task.running)

    def _start(self) -> None:
        contents = self._document.contents
        if contents.plan is None or contents.job is None:
            self.latest = None
            self.checked.emit(None)
            return
        if self._task is not None and self._task.running:
            self._timer.start()
            return
        self._task = BackgroundTask(lambda control: check_work(contents, control), parent=self)
        self._task.done.connect(self._take)
        self._task.failed.connect(self.broke)
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


def check_work(contents: Contents, _control: TaskControl) -> PlanCheck:
    """The faults and figures of the plan in `contents`."""
    from nestplan.model.audit import check

    assert contents.plan is not None
    assert contents.job is not None
    faults = check(contents.plan, contents.job, contents.hides)
    return PlanCheck(contents.plan, faults, figures_of(contents.plan, contents))


def figures_of(plan: Plan, contents: Contents) -> Figures | None:
    """The figures of a plan; those it has, where nothing was changed since they were counted."""
    if plan.figures is not None:
        return plan.figures
    from nestplan.yields import figures_of as counted

    assert contents.job is not None
    return counted(plan, contents.job, contents.hides)
