"""The comparison of the hides as the window keeps it: asked for, its answers one by one, and in an order.

The answers are those of `nestplan.estimate.compare`, worked out off the window's thread.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from nestplan.desk.background.task import BackgroundTask, TaskControl
from nestplan.desk.document.document import Document
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.tasks.contents import Contents

if TYPE_CHECKING:
    from nestplan.estimate.combine import Combination
    from nestplan.estimate.compare import HideAnswer, Ranking

__all__ = ["HideComparison"]


class HideComparison(QObject):
    """What each hide gives of the job by itself, kept until that hide or the job changes.

    `changed` tells of another answer, order, begin or end. `combination` is the cheapest combination of hides
    that was found, if any.
    """

    changed = Signal()
    failed = Signal(object)

    def __init__(self, document: Document, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self._task: BackgroundTask | None = None
        self._hides: tuple[Hide, ...] = ()
        self._job: Job | None = None
        self.answers: dict[str, HideAnswer] = {}
        self.ranking: Ranking = "sets"
        self.combination: Combination | None = None
        document.changed.connect(self._drop_outdated)

    @property
    def running(self) -> bool:
        """Whether hides are being compared."""
        return self._task is not None and self._task.running

    def start(self, seconds: float) -> None:
        """Lay the job on every hide by itself, searching so long on each (s)."""
        contents = self._document.contents
        job, hides = contents.job, contents.leather
        if self.running or job is None or not hides:
            self.changed.emit()
            return
        self.answers = {}
        self._hides, self._job = contents.hides, job

        def compare_hides(control: TaskControl) -> object:
            from nestplan.estimate.compare import compare
            from nestplan.estimate.planner import EnginePlanner
            from nestplan.tasks.estimating import open_crew

            with open_crew(len(hides), seconds_each=seconds) as workers:
                return compare(
                    job,
                    hides,
                    planner=EnginePlanner(seconds=seconds),
                    workers=workers,
                    on_done=lambda number, answer: control.report(answer),
                    cancelled=lambda: control.cancelled,
                )

        self._task = BackgroundTask(compare_hides, parent=self)
        self._task.reported.connect(self._add)
        self._task.done.connect(lambda _: self.changed.emit())
        self._task.failed.connect(self.failed)
        self._task.ended.connect(self.changed)
        self._task.start()
        self.changed.emit()

    def stop(self) -> None:
        """Keep the answers so far."""
        if self._task is not None:
            self._task.cancel()

    def rank_by(self, ranking: Ranking) -> None:
        """Put the answers into another order."""
        self.ranking = ranking
        self.changed.emit()

    def ranked(self) -> tuple[HideAnswer, ...]:
        """The answers there are, best first."""
        from nestplan.estimate.compare import rank

        return rank(tuple(self.answers.values()), self.ranking)

    def answer_for(self, hide: Hide | None) -> HideAnswer | None:
        """What is known of a hide."""
        return self.answers.get(hide.name) if hide is not None else None

    def in_order(self) -> list[Hide]:
        """The hides that can be cut: the answered ones best first, then the others."""
        order = list(self._document.contents.leather)
        if self.answers:
            ranked = [answer.hide for answer in self.ranked()]
            order.sort(key=lambda hide: ranked.index(hide.name) if hide.name in ranked else len(ranked))
        return order

    def close(self) -> None:
        """Stop comparing and wait for the end."""
        if self._task is not None:
            self._task.finish()

    def _add(self, answer: HideAnswer) -> None:
        self.answers[answer.hide] = answer
        self.changed.emit()

    def _drop_outdated(self, contents: Contents) -> None:
        if (contents.hides, contents.job) != (self._hides, self._job) and self.answers:
            self.answers = {
                name: answer for name, answer in self.answers.items() if self._holds(name, contents)
            }
        self.changed.emit()

    def _holds(self, name: str, contents: Contents) -> bool:
        """Whether the answer about a hide still is one about the hide and job as they are now."""
        before = next((hide for hide in self._hides if hide.name == name), None)
        return contents.job is self._job and before is not None and contents.hide(name) is before
