"""The side panel of the step Plan: search, watch, keep; the figures; what has no place and why; the selected piece."""

from __future__ import annotations

from PySide6.QtWidgets import QCheckBox, QProgressBar, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import (
    Choice,
    button,
    form,
    heading,
    number_field,
    scrolled,
    soft,
)
from nestplan.desk.controls.tiles import TileLayout
from nestplan.desk.document.document import Document
from nestplan.desk.editing.plan_editor import PlanEditor
from nestplan.desk.editing.plan_search import PlanSearch
from nestplan.desk.panels.faults import FaultsPart
from nestplan.desk.panels.figures import FiguresPart
from nestplan.desk.panels.search_watch import SearchWatch
from nestplan.desk.panels.selected import SelectedPart
from nestplan.desk.panels.waiting import WaitingPart
from nestplan.desk.plain_text import plain_label
from nestplan.desk.sentences import count, plan_words, search_words
from nestplan.desk.settings import Settings
from nestplan.model.goals import GOALS
from nestplan.nesting.progress import Progress
from nestplan.tasks.checking import PlanCheck
from nestplan.tasks.planning import SearchRequest

__all__ = ["PlanPanel"]


class PlanPanel(QWidget):
    """Everything beside the table while a plan is made and changed."""

    def __init__(
        self, document: Document, editor: PlanEditor, search: PlanSearch, settings: Settings
    ) -> None:
        super().__init__()
        self._document, self._search, self._settings = document, search, settings
        self.goal = Choice({goal.name: goal.words for goal in GOALS}, tip="What a good plan is")
        self.minutes = number_field(0.02, 240, whole=False, tip="How long to search; you may stop it sooner")
        self.minutes.set_value(settings.minutes)
        self.minutes.edited.connect(lambda value: setattr(settings, "minutes", value))
        self.start = button(
            "Plan", self._start, main=True, icon="plan", tip="Search for a plan (Ctrl+Return)"
        )
        self.pause = button("Pause", self._pause, tip="Let the search wait, or go on")
        self.keep = button("Stop and keep", self._keep, tip="Stop and take the best plan so far")
        self.cancel = button("Cancel", self._give_up, tip="Stop and leave everything as it was")
        self.progress = QProgressBar()
        self.progress.setTextVisible(False)
        self.progress.setFixedHeight(8)
        self.watch = SearchWatch(settings)
        self.words = plain_label()
        self.words.setWordWrap(True)
        self.faults = FaultsPart()
        self.faults.shown.connect(editor.select_placements)
        self.figures = FiguresPart(settings)
        self.slide = QCheckBox("Slide to the nearest free place when let go")
        self.slide.setChecked(settings.slide)
        self.slide.setToolTip("A piece let go where it may not lie moves to where it may")
        self.slide.toggled.connect(lambda on: setattr(settings, "slide", on))
        self.selected = SelectedPart(document, editor, settings)
        self.waiting = WaitingPart(document, editor, search)
        self._title = heading("Plan")
        self._lay_out()
        search.changed.connect(self.refresh)
        search.progressed.connect(self._progress)
        editor.checked.connect(self._checked)
        document.plan_changed.connect(lambda _: self.refresh())
        document.job_changed.connect(lambda _: self.refresh())
        document.hides_changed.connect(lambda _: self.refresh())
        document.hide_shown.connect(lambda _: self._show_figures())
        settings.unit_changed.connect(lambda _: self._show_figures())
        self._latest: PlanCheck | None = None
        self.refresh()

    def _lay_out(self) -> None:
        column = QVBoxLayout()
        column.addWidget(self._title)
        self._form = QWidget()
        fields = form(("Goal", self.goal), ("Minutes", self.minutes))
        fields.setContentsMargins(0, 0, 0, 0)
        self._form.setLayout(fields)
        column.addWidget(self._form)
        column.addWidget(self.start)
        column.addLayout(TileLayout((self.pause, self.keep, self.cancel), spacing=2))
        column.addWidget(self.progress)
        column.addWidget(self.watch)
        column.addWidget(self.words)  # below the buttons: they stay where they are when it wraps
        column.addWidget(self.faults)
        column.addWidget(self.figures)
        column.addWidget(self.waiting)
        column.addWidget(self.selected)
        column.addWidget(self.slide)
        self._help = soft("What you lock stays where it is; the rest is laid around it.")
        column.addWidget(self._help)
        column.addStretch(1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scrolled(column))

    def refresh(self) -> None:
        """Show the search and the plan as they are now."""
        contents, job = self._document.contents, self._document.contents.job
        running = self._search.running
        kept = len(self._search.kept)
        self.start.setEnabled(job is not None and bool(contents.hides) and not running)
        self.start.setText(f"Place the rest around {count(kept, 'locked piece')}" if kept else "Plan")
        self._form.setEnabled(not running)
        for made in (self.pause, self.keep, self.cancel, self.progress, self.watch):
            made.setVisible(running)
        search = self._search.current
        if running and search is not None:
            self.pause.setText("Go on" if search.paused else "Pause")
            self.words.setText(search_words(search.progress))
            self.words.show()
        elif job is None or not contents.hides:
            missing = "a hide (step 1)" if not contents.hides else "pieces (step 2)"
            self.words.setText(f"For a plan there must be {missing}.")
            self.words.show()
        else:
            self.words.hide()
        self.waiting.refresh()
        if contents.plan is None:
            self._latest = None
        self._show_figures()

    def _start(self) -> None:
        self.minutes.editingFinished.emit()
        self.begin()

    def begin(self, seconds: float | None = None, seed: int | None = None) -> None:
        """Start the search with what the form says."""
        plan = self._document.contents.plan
        again = (plan.seed + 1 if plan else 0) if seed is None else seed
        self._search.start(
            SearchRequest(
                goal=self.goal.value,
                seconds=seconds if seconds is not None else 60.0 * self.minutes.value,
                seed=again,
                keep=self._search.kept,
                hides=self._document.planned_hides,
            )
        )

    def _pause(self) -> None:
        if self._search.current is not None:
            self._search.current.pause(not self._search.current.paused)
            self.refresh()

    def _keep(self) -> None:
        if self._search.current is not None:
            self._search.current.stop()
            self.words.setText("Stopping; the best plan so far is checked and kept …")

    def _give_up(self) -> None:
        if self._search.current is not None:
            self._search.current.discard()
            self.words.setText("Stopping …")

    def _progress(self, progress: Progress) -> None:
        search = self._search.current
        if search is None or not search.running:
            return
        self.words.setText(search_words(progress))
        self.progress.setRange(0, 1000)
        self.watch.show_history(search.history, search.worked, search.request.seconds or 0.0)
        share = min(search.worked / max(search.request.seconds or 0.0, 0.1), 1.0)
        self.progress.setValue(int(1000 * share))

    def _checked(self, checked: PlanCheck | None) -> None:
        self._latest = checked
        self._show_figures()

    def _mate_words(self) -> tuple[str, list[str]]:
        """How far apart left and right lie, and what to look at again of them."""
        from nestplan.sheets.mate_words import far_mate_warnings, mates_sentence
        from nestplan.sheets.unit_formatting import UnitFormatter

        contents, formatter = self._document.contents, UnitFormatter(self._settings.unit)
        if contents.plan is None or contents.job is None:
            return "", []
        sentence = mates_sentence(contents.plan, contents.job, formatter)
        return sentence, far_mate_warnings(contents.plan, contents.job, formatter)

    def _show_figures(self) -> None:
        contents = self._document.contents
        latest = self._latest if self._latest is not None and self._latest.plan is contents.plan else None
        figures = latest.figures if latest else (contents.plan.figures if contents.plan else None)
        faults = len(latest.faults) if latest else 0
        words = "looking for places"
        if not self._search.running:
            words = plan_words(contents.plan, contents.job, figures, faults)
        said_below = figures is not None and bool(figures.sets) and not faults and not self._search.running
        self._title.setText("Plan" if said_below else words[:1].upper() + words[1:])
        hide = self._document.hide
        self.figures.setVisible(figures is not None)
        if figures is not None:
            mates, far = self._mate_words()
            self.figures.show_figures(
                figures, hide.name if hide else "", faults=faults, mates=mates, warnings=far
            )
        self.faults.show_check(latest, contents.job)
