"""A question that takes a while: its button, its progress, its answer in words. What is asked, each part knows."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QProgressBar, QVBoxLayout, QWidget

from nestplan.desk.background.task import BackgroundTask, TaskControl
from nestplan.desk.controls.fields import button, section
from nestplan.desk.plain_text import plain_label

__all__ = ["QuestionPart"]


class QuestionPart(QWidget):
    """A question with its button, its progress and its answer in words; `failed` carries an error."""

    failed = Signal(object)

    def __init__(self, title: str, ask: str, tip: str) -> None:
        super().__init__()
        self._task: BackgroundTask | None = None
        self.start = button(ask, self.ask, tip=tip)
        self.stop = button("Stop", self._stop, tip="Stop working it out")
        self.progress = QProgressBar()
        self.progress.setTextVisible(False)
        self.progress.setFixedHeight(8)
        self.words = plain_label()
        self.words.setWordWrap(True)
        self.words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 6, 0, 0)
        self.column.addWidget(section(title))

    def finish_layout(self) -> None:
        """Put the button and the answer below what the kind of question added."""
        for widget in (self.start, self.progress, self.stop, self.words):
            self.column.addWidget(widget)
        self._show_busy()

    @property
    def running(self) -> bool:
        """Whether the answer is being worked out."""
        return self._task is not None and self._task.running

    def ask(self) -> None:
        """Ask; each kind of question says how."""
        raise NotImplementedError

    def run(self, tasks: int, work: Callable[[TaskControl], object], take: Callable[[Any], None]) -> None:
        """Work the answer out in so many tasks, then `take` it, if it is whole."""
        self.progress.setRange(0, max(tasks, 1))
        self.progress.setValue(0)
        self.words.setText("")
        self._task = BackgroundTask(work, parent=self)
        self._task.reported.connect(lambda _: self.advance())
        self._task.done.connect(lambda answer: take(answer) if _whole(answer) else None)
        self._task.failed.connect(self.failed)
        self._task.ended.connect(self._ended)
        self._task.start()
        self._show_busy()

    def advance(self) -> None:
        """One part of the question is answered."""
        self.progress.setValue(self.progress.value() + 1)

    def _stop(self) -> None:
        if self._task is not None:
            self._task.cancel()

    def _ended(self) -> None:
        self._show_busy()
        self.settle()

    def settle(self) -> None:
        """What is to be shown once the question is answered, stopped or has failed; each kind of question knows."""

    def _show_busy(self) -> None:
        busy = self.running
        self.progress.setVisible(busy)
        self.stop.setVisible(busy)
        self.words.setVisible(bool(self.words.text()))

    def show_answer(self, words: str) -> None:
        """Show an answer, or why there is none."""
        self.words.setText(words)
        self.words.setVisible(bool(words))

    def close_task(self) -> None:
        """Stop and wait for the end."""
        if self._task is not None:
            self._task.finish()


def _whole(answer: object) -> bool:
    """Whether a question was answered to its end (a stopped one gives a list of parts, or nothing)."""
    return answer is not None and not isinstance(answer, list)
