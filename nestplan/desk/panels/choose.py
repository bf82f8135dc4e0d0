"""The step Choose: what each hide gives of the job, side by side as pictures with their figures, to be sorted.

The answers are those of `nestplan.estimate.compare`, worked out off the window's thread.
"""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QProgressBar, QScrollArea, QVBoxLayout, QWidget

from nestplan.desk.background.task import BackgroundTask, TaskControl
from nestplan.desk.controls.fields import Choice, button, form, heading, number_field, row_of, scrolled, soft
from nestplan.desk.document.document import Document
from nestplan.desk.panels.asking import crew
from nestplan.desk.panels.estimates import BuyPart, CountPart
from nestplan.desk.panels.together import TogetherPart
from nestplan.desk.settings import Settings
from nestplan.desk.table.thumbs import common_scale, thumbnail
from nestplan.model.hide import Hide

__all__ = ["Board", "ChoosePanel"]

_RANKINGS = {
    "sets": "most whole sets",
    "cost": "least money a set",
    "yield": "least waste",
    "offcut": "largest offcut left",
    "area": "least leather to pay for",
}
_PICTURE = QSize(264, 176)


class Card(QFrame):
    """One hide: its picture, its name and its figures."""

    clicked = Signal(str)

    def __init__(self, name: str) -> None:
        super().__init__()
        self.name = name
        self.setObjectName("card")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.picture = QLabel()
        self.picture.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.picture.setFixedSize(_PICTURE)
        self.title = QLabel()
        self.title.setProperty("role", "section")
        self.words = QLabel()
        self.words.setWordWrap(True)
        self.words.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.words.setMinimumHeight(self.words.fontMetrics().lineSpacing() * 6)
        column = QVBoxLayout(self)
        column.addWidget(self.picture)
        column.addWidget(self.title)
        column.addWidget(self.words, 1)
        self.setFixedWidth(_PICTURE.width() + 24)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self.clicked.emit(self.name)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Space):
            self.clicked.emit(self.name)
        else:
            super().keyPressEvent(event)


class Board(QScrollArea):
    """The cards, in the order that was chosen; `chosen` tells which hide was clicked."""

    chosen = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._inner = QWidget()
        self._grid = QGridLayout(self._inner)
        self._grid.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        self._grid.setSpacing(14)
        self._grid.setContentsMargins(18, 18, 18, 18)
        self.setWidget(self._inner)
        self.cards: list[Card] = []

    def set_cards(self, cards: list[Card]) -> None:
        """Show other cards."""
        for card in self.cards:
            card.hide()
            card.deleteLater()
        self.cards = cards
        for card in cards:
            card.clicked.connect(self.chosen)
        self._arrange()

    def resizeEvent(self, event: object) -> None:
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        across = max(1, (self.viewport().width() - 36) // (_PICTURE.width() + 38))
        for number, card in enumerate(self.cards):
            self._grid.addWidget(card, number // across, number % across, Qt.AlignmentFlag.AlignTop)


class ChoosePanel(QWidget):
    """Asks for the comparison and keeps its answers until a hide or the job changes."""

    failed = Signal(object)
    paper_wanted = Signal()

    def __init__(self, document: Document, board: Board, settings: Settings) -> None:
        super().__init__()
        self._document, self._board, self._settings = document, board, settings
        self.answers: dict[str, object] = {}
        self._for: tuple[object, object] = (None, None)
        self._task: BackgroundTask | None = None
        self.by = Choice(_RANKINGS, tip="What matters most to you")
        self.by.given.connect(lambda _: self.refresh())
        self.seconds = number_field(0.2, 600, whole=False, tip="How long to search on each hide")
        self.seconds.set_value(3.0)
        self.start = button(
            "Compare the hides", self.compare, main=True, tip="Lay the job on each hide by itself"
        )
        self.stop = button("Stop", self._stop, tip="Keep the answers so far")
        self.progress = QProgressBar()
        self.progress.setTextVisible(False)
        self.progress.setFixedHeight(8)
        self.words = soft()
        self.use = button("Lay this plan", self._use, tip="Take the plan of the picked hide as the plan")
        column = QVBoxLayout()
        column.addWidget(heading("Which hide?"))
        column.addWidget(soft("Each hide is asked how much of the job it gives by itself."))
        column.addLayout(form(("Sort by", self.by), ("Seconds a hide", self.seconds)))
        column.addWidget(self.start)
        column.addWidget(self.progress)
        column.addWidget(self.stop)
        column.addWidget(self.words)
        self.paper = button(
            "Write it down …", self.paper_wanted.emit, tip="Table and page of pictures, as PDF, PNG and CSV"
        )
        column.addLayout(row_of(self.use, self.paper))
        self.together = TogetherPart(document, settings, self.seconds)
        self.count = CountPart(document, settings, self.seconds)
        self.buy = BuyPart(document, settings)
        for part in (self.together, self.count, self.buy):
            part.failed.connect(self.failed)
            column.addWidget(part)
        column.addStretch(1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scrolled(column))
        document.changed.connect(self._changed)
        document.hide_shown.connect(lambda _: self._mark())
        settings.unit_changed.connect(lambda _: self.refresh())
        board.chosen.connect(document.show_hide)

    @property
    def running(self) -> bool:
        """Whether hides are being compared."""
        return self._task is not None and self._task.running

    def _changed(self, contents: object) -> None:
        if (contents.hides, contents.job) != self._for and self.answers:
            self.answers = {name: a for name, a in self.answers.items() if self._same(name, contents)}
        if self._board.isVisible():
            self.refresh()

    def _same(self, name: str, contents: object) -> bool:
        hides, job = self._for
        before = next((hide for hide in hides or () if hide.name == name), None)
        return contents.job is job and before is not None and contents.hide(name) is before

    def compare(self) -> None:
        """Lay the job on every hide by itself."""
        contents = self._document.contents
        if self.running or contents.job is None or not contents.leather:
            self.refresh()
            return
        self.seconds.editingFinished.emit()
        self.answers = {}
        self._for = (contents.hides, contents.job)
        self.progress.setRange(0, len(contents.leather))
        self.progress.setValue(0)
        seconds = self.seconds.value

        def run(control: TaskControl) -> object:
            from nestplan.estimate.compare import compare
            from nestplan.estimate.planner import EnginePlanner
            from nestplan.estimate.workers import open_workers

            with open_workers(crew(len(contents.leather), seconds)) as workers:
                return compare(
                    contents.job,
                    contents.leather,
                    planner=EnginePlanner(seconds=seconds),
                    workers=workers,
                    on_done=lambda number, answer: control.tell(answer),
                    cancelled=lambda: control.cancelled,
                )

        self._task = BackgroundTask(run, parent=self)
        self._task.told.connect(self._told)
        self._task.done.connect(lambda _: self.refresh())
        self._task.failed.connect(self.failed)
        self._task.ended.connect(self.refresh)
        self._task.start()
        self.refresh()

    def _told(self, answer: object) -> None:
        self.answers[answer.hide] = answer
        self.progress.setValue(len(self.answers))
        self.refresh()

    def ranked(self) -> tuple[object, ...]:
        """The answers there are, best first."""
        from nestplan.estimate.compare import rank

        return rank(tuple(self.answers.values()), self.by.value)

    def _stop(self) -> None:
        if self._task is not None:
            self._task.cancel()

    def refresh(self) -> None:
        """Show the cards as the answers are now."""
        contents = self._document.contents
        order = list(contents.leather)
        if self.answers:
            ranked = [answer.hide for answer in self.ranked()]
            order.sort(key=lambda hide: ranked.index(hide.name) if hide.name in ranked else len(ranked))
        scale = common_scale(contents.leather, _PICTURE)
        cards = []
        for hide in order:
            card = Card(hide.name)
            answer = self.answers.get(hide.name)
            plan = answer.plan if answer is not None else None
            card.picture.setPixmap(thumbnail(hide, plan, contents.job, _PICTURE, scale=scale))
            card.title.setText(hide.name)
            card.words.setText(self._words(hide, answer))
            card.setAccessibleName(hide.name)
            card.setAccessibleDescription(card.words.text())
            cards.append(card)
        self._board.set_cards(cards)
        busy = self.running
        self.start.setEnabled(contents.job is not None and bool(contents.leather) and not busy)
        self.stop.setVisible(busy)
        self.paper.setEnabled(bool(self.answers) and not busy)
        self.progress.setVisible(busy)
        if contents.job is None or not contents.leather:
            self.words.setText("To compare there must be hides (step 1) and pieces (step 2).")
        elif busy:
            self.words.setText(f"{len(self.answers)} of {len(contents.leather)} hides answered …")
        else:
            self.words.setText(self._below() if cards else "")
        self._mark()

    def _below(self) -> str:
        """What is to be known of the pictures."""
        words = "All pictures are to one scale."
        if len({answer.layers for answer in self.answers.values() if answer.layers}) > 1:
            words += " A hide counts for the layers it can serve: sets of one layer are not whole articles."
        return words

    def _mark(self) -> None:
        hide = self._document.hide
        answer = self.answers.get(hide.name) if hide else None
        self.use.setEnabled(answer is not None and answer.plan is not None)
        for card in self._board.cards:
            card.setProperty("picked", "true" if hide is not None and card.name == hide.name else "false")
            card.style().unpolish(card)
            card.style().polish(card)

    def _words(self, hide: Hide, answer: object) -> str:
        facts = [hide.leather, self._settings.area(hide.gross_area)]
        if hide.price is not None:
            facts.append(f"{hide.price:.2f} {hide.currency}".strip())
        head = ", ".join(facts)
        if answer is None:
            return head
        if answer.plan is None:
            return f"{head}\nNo layer of this job may be cut from it."
        lines = [
            head,
            f"{answer.whole} of {answer.asked} sets, {answer.placed} pieces ({', '.join(answer.layers)})",
            f"{answer.net_yield:.0%} becomes pieces; largest offcut {self._settings.area(answer.offcut)}",
        ]
        if answer.cost_per_set is not None and answer.whole:
            lines.append(f"{answer.cost_per_set:.2f} {answer.currency} a set".rstrip())
        return "\n".join(lines)

    def _use(self) -> None:
        hide = self._document.hide
        answer = self.answers.get(hide.name) if hide else None
        if answer is not None and answer.plan is not None:
            self._document.set_plan(f"Take the plan for {hide.name}", answer.plan)

    def close_task(self) -> None:
        """Stop comparing and wait for the end."""
        if self._task is not None:
            self._task.finish()
        self.together.close_task()
        self.count.close_task()
        self.buy.close_task()
