"""Which hides together hold the whole job for the least money, asked in the step Choose.

The answer is that of `nestplan.estimate.combine`, worked out off the window's thread.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from nestplan.desk.background.comparing import HideComparison
from nestplan.desk.background.task import TaskControl
from nestplan.desk.controls.fields import Field, button, soft
from nestplan.desk.document.document import Document
from nestplan.desk.panels.question import QuestionPart
from nestplan.desk.sentences import count
from nestplan.desk.settings import Settings
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.tasks.contents import Contents

if TYPE_CHECKING:
    from nestplan.estimate.combine import Combination

__all__ = ["TogetherPart"]

_MOST_TRIES = 60


class TogetherPart(QuestionPart):
    """The cheapest hides that together do the job; kept in the comparison until a hide or the job changes."""

    def __init__(
        self, document: Document, comparison: HideComparison, settings: Settings, seconds: Field
    ) -> None:
        super().__init__(
            "Which together?",
            "Find them",
            "Plans combinations of hides by rising cost, until one holds the whole job",
        )
        self._document, self._comparison = document, comparison
        self._settings, self._seconds = settings, seconds
        self._asked: tuple[tuple[Hide, ...], Job | None] = ((), None)
        self.use = button("Use this plan", self._use, tip="Take the plan found as the plan")
        self.column.addWidget(soft("The hides that hold the whole job for the least money."))
        self.finish_layout()
        self.column.addWidget(self.use)
        self.use.hide()
        document.changed.connect(self._changed)
        settings.unit_changed.connect(lambda _: self._show())

    def ask(self) -> None:
        """Look for the cheapest combination of the open hides."""
        contents = self._document.contents
        if self.running:
            return
        if contents.job is None or not contents.leather:
            self.show_answer("There must be hides (step 1) and pieces (step 2).")
            return
        job, hides, seconds = contents.job, contents.leather, self._seconds.value
        self._comparison.combination, self._asked = None, (contents.hides, contents.job)
        self.use.hide()

        def search(control: TaskControl) -> object:
            from nestplan.estimate.combine import cheapest
            from nestplan.estimate.planner import EnginePlanner
            from nestplan.tasks.estimating import open_crew

            with open_crew(_MOST_TRIES, seconds_each=seconds) as workers:
                return cheapest(
                    job,
                    hides,
                    planner=EnginePlanner(seconds=seconds),
                    most_tries=_MOST_TRIES,
                    workers=workers,
                    on_done=lambda number, plan: control.report(plan),
                    cancelled=lambda: control.cancelled,
                )

        self.run(_MOST_TRIES, search, self._take)
        self.show_answer("Passing over what is surely too small …")

    def advance(self) -> None:
        """Count the combinations that were planned."""
        super().advance()
        planned = count(self.progress.value(), "combination")
        self.show_answer(f"{planned} planned, none the whole job so far …")

    def _take(self, found: Combination) -> None:
        contents = self._document.contents
        if (contents.hides, contents.job) == self._asked:
            self._comparison.combination = found
        self._show()

    def settle(self) -> None:
        """Leave the answer, or nothing."""
        self._show()

    def _changed(self, contents: Contents) -> None:
        if self._comparison.combination is not None and (contents.hides, contents.job) != self._asked:
            self._comparison.combination = None
            self._show()

    def _show(self) -> None:
        from nestplan.estimate.comparison_report import combination_words

        found = self._comparison.combination
        self.use.setVisible(found is not None)
        self.show_answer(combination_words(found, self._settings.unit) if found is not None else "")

    def _use(self) -> None:
        found = self._comparison.combination
        if found is not None:
            self._document.set_plan("Take the plan of the cheapest hides", found.plan)
