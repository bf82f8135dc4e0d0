"""The side panel of the step Choose: what each hide gives of the job, and other questions before one decides."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QCloseEvent, QShowEvent
from PySide6.QtWidgets import QProgressBar, QVBoxLayout, QWidget

from nestplan.desk.background.comparing import HideComparison
from nestplan.desk.controls.fields import Choice, button, form, heading, number_field, row_of, scrolled, soft
from nestplan.desk.document.document import Document
from nestplan.desk.panels.estimates import BuyPart, CountPart
from nestplan.desk.panels.together import TogetherPart
from nestplan.desk.settings import Settings

__all__ = ["ChoosePanel"]

_RANKINGS = {
    "sets": "most whole sets",
    "cost": "least money a set",
    "yield": "least waste",
    "offcut": "largest offcut left",
    "area": "least leather to pay for",
}


class ChoosePanel(QWidget):
    """Asks for the comparison, in which order it is shown, and for estimates; `failed` carries an error."""

    failed = Signal(object)
    report_wanted = Signal()

    def __init__(self, document: Document, comparison: HideComparison, settings: Settings) -> None:
        super().__init__()
        self._document, self._comparison = document, comparison
        self.by = Choice(_RANKINGS, tip="What matters most to you")
        self.by.edited.connect(comparison.rank_by)
        self.seconds = number_field(0.2, 600, whole=False, tip="How long to search on each hide")
        self.seconds.set_value(3.0)
        self.start = button(
            "Compare the hides", self.compare, main=True, tip="Plan the job on each hide by itself"
        )
        self.stop = button("Stop", comparison.stop, tip="Keep the answers so far")
        self.progress = QProgressBar()
        self.progress.setTextVisible(False)
        self.progress.setFixedHeight(8)
        self.words = soft()
        self.use = button("Use this plan", self._use, tip="Take the plan of the selected hide as the plan")
        self.paper = button(
            "Save report …", self.report_wanted.emit, tip="Table and page of pictures, as PDF, PNG and CSV"
        )
        self.together = TogetherPart(document, comparison, settings, self.seconds)
        self.count = CountPart(document, settings, self.seconds)
        self.buy = BuyPart(document, settings)
        self._questions = (self.together, self.count, self.buy)
        self._lay_out()
        comparison.changed.connect(self._changed)
        comparison.failed.connect(self.failed)
        for question in self._questions:
            question.failed.connect(self.failed)
        document.hide_shown.connect(lambda _: self._show_use())
        settings.unit_changed.connect(lambda _: self._changed())

    def _lay_out(self) -> None:
        column = QVBoxLayout()
        column.addWidget(heading("Which hide?"))
        column.addWidget(soft("Each hide is asked how much of the job it gives by itself."))
        column.addLayout(form(("Sort by", self.by), ("Seconds a hide", self.seconds)))
        column.addWidget(self.start)
        column.addWidget(self.progress)
        column.addWidget(self.stop)
        column.addLayout(row_of(self.use, self.paper))
        column.addWidget(self.words)  # below the buttons: they stay where they are when it wraps
        for question in self._questions:
            column.addWidget(question)
        column.addStretch(1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scrolled(column))

    @property
    def running(self) -> bool:
        """Whether hides are being compared."""
        return self._comparison.running

    def compare(self) -> None:
        """Lay the job on every hide by itself."""
        self.seconds.editingFinished.emit()
        self._comparison.start(self.seconds.value)

    def showEvent(self, event: QShowEvent) -> None:
        self.refresh()
        super().showEvent(event)

    def _changed(self) -> None:
        if self.isVisible():
            self.refresh()

    def refresh(self) -> None:
        """Show how far the comparison is."""
        contents, answers, busy = (
            self._document.contents,
            self._comparison.answers,
            self._comparison.running,
        )
        ready = contents.job is not None and bool(contents.leather)
        self.start.setEnabled(ready and not busy)
        self.stop.setVisible(busy)
        self.paper.setEnabled(bool(answers) and not busy)
        self.progress.setVisible(busy)
        self.progress.setRange(0, max(len(contents.leather), 1))
        self.progress.setValue(len(answers))
        if not ready:
            self.words.setText("To compare there must be hides (step 1) and pieces (step 2).")
        elif busy:
            self.words.setText(f"{len(answers)} of {len(contents.leather)} hides answered …")
        else:
            self.words.setText(self._words_below())
        self._show_use()

    def _words_below(self) -> str:
        """What is to be known of the pictures."""
        words = "All pictures are to one scale."
        answers = self._comparison.answers.values()
        if len({answer.layers for answer in answers if answer.layers}) > 1:
            words += " A hide counts for the layers it can serve: sets of one layer are not whole articles."
        return words

    def _show_use(self) -> None:
        answer = self._comparison.answer_for(self._document.hide)
        self.use.setEnabled(answer is not None and answer.plan is not None)

    def _use(self) -> None:
        hide = self._document.hide
        answer = self._comparison.answer_for(hide)
        if hide is not None and answer is not None and answer.plan is not None:
            self._document.set_plan(f"Take the plan for {hide.name}", answer.plan)

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop the questions that are being answered, and wait for their end."""
        for question in self._questions:
            question.close_task()
        super().closeEvent(event)
