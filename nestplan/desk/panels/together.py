"""Which hides together hold the whole job for the least money, asked in the step Choose.

The answer is that of `nestplan.estimate.combine`, worked out off the window's thread.
"""

from __future__ import annotations

from nestplan.desk.background.task import TaskControl
from nestplan.desk.controls.fields import Field, button, soft
from nestplan.desk.document.document import Document
from nestplan.desk.panels.asking import AskPart, crew
from nestplan.desk.sentences import count
from nestplan.desk.settings import Settings

__all__ = ["TogetherPart"]

_MOST_TRIES = 60


class TogetherPart(AskPart):
    """The cheapest hides that together do the job; `found` until a hide or the job changes."""

    def __init__(self, document: Document, settings: Settings, seconds: Field) -> None:
        super().__init__(
            "Which together?",
            "Find them",
            "Plans combinations of hides by rising cost, until one holds the whole job",
        )
        self._document, self._settings, self._seconds = document, settings, seconds
        self.found: object | None = None
        self._for: tuple[object, object] = (None, None)
        self.use = button("Lay this plan", self._use, tip="Take the plan found as the plan")
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
            self.tell("There must be hides (step 1) and pieces (step 2).")
            return
        job, hides, seconds = contents.job, contents.leather, self._seconds.value
        self.found, self._for = None, (contents.hides, contents.job)
        self.use.hide()

        def search(control: TaskControl) -> object:
            from nestplan.estimate.combine import cheapest
            from nestplan.estimate.planner import EnginePlanner
            from nestplan.estimate.workers import open_workers

            with open_workers(crew(_MOST_TRIES, seconds)) as workers:
                return cheapest(
                    job,
                    hides,
                    planner=EnginePlanner(seconds=seconds),
                    most_tries=_MOST_TRIES,
                    workers=workers,
                    on_done=lambda number, plan: control.tell(plan),
                    cancelled=lambda: control.cancelled,
                )

        self.run(_MOST_TRIES, search, self._take)
        self.tell("Passing over what is surely too small …")

    def advance(self) -> None:
        """Count the combinations that were planned."""
        super().advance()
        planned = count(self.progress.value(), "combination")
        self.tell(f"{planned} planned, none the whole job so far …")

    def _take(self, found: object) -> None:
        contents = self._document.contents
        if (contents.hides, contents.job) == self._for:
            self.found = found
        self._show()

    def settle(self) -> None:
        """Leave the answer, or nothing."""
        self._show()

    def _changed(self, contents: object) -> None:
        if self.found is not None and (contents.hides, contents.job) != self._for:
            self.found = None
            self._show()

    def _show(self) -> None:
        from nestplan.estimate.comparison_report import combination_words

        self.use.setVisible(self.found is not None)
        if self.found is None:
            self.tell("")
        else:
            self.tell(combination_words(self.found, self._settings.unit))

    def _use(self) -> None:
        if self.found is not None:
            self._document.set_plan("Take the plan of the cheapest hides", self.found.plan)
