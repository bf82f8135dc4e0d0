"""The hides side by side as cards, each with its picture and what it gives of the job, in the chosen order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QScrollArea, QVBoxLayout, QWidget

from nestplan.desk.background.comparing import HideComparison
from nestplan.desk.controls.figures import Figure, FigureLabel
from nestplan.desk.controls.tiles import TileLayout
from nestplan.desk.document.document import Document
from nestplan.desk.plain_text import plain_label
from nestplan.desk.settings import Settings
from nestplan.desk.table.thumbnails import common_scale, thumbnail
from nestplan.model.hide import Hide

if TYPE_CHECKING:
    from nestplan.estimate.compare import HideAnswer

__all__ = ["Board"]

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
        self.picture = plain_label()
        self.picture.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.picture.setFixedSize(_PICTURE)
        self.title = plain_label()
        self.title.setProperty("role", "section")
        self.title.setIndent(0)
        self.sets, self.money, self.offcut = FigureLabel(), FigureLabel(), FigureLabel()
        self.figures = QWidget()
        self.figures.setLayout(TileLayout((self.sets, self.money, self.offcut), most=3, spacing=8))
        self.words = plain_label()
        self.words.setProperty("role", "soft")
        self.words.setWordWrap(True)
        self.words.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.words.setMinimumHeight(self.words.fontMetrics().lineSpacing() * 3)
        column = QVBoxLayout(self)
        column.addWidget(self.picture)
        column.addWidget(self.title)
        column.addWidget(self.figures)
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
    """The cards; a click on one puts that hide on the table."""

    def __init__(self, document: Document, comparison: HideComparison, settings: Settings) -> None:
        super().__init__()
        self._document, self._comparison, self._settings = document, comparison, settings
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._inner = QWidget()
        self._grid = QGridLayout(self._inner)
        self._grid.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        self._grid.setSpacing(14)
        self._grid.setContentsMargins(18, 18, 18, 18)
        self.setWidget(self._inner)
        self.cards: list[Card] = []
        comparison.changed.connect(self._changed)
        document.hide_shown.connect(lambda _: self._mark())
        settings.unit_changed.connect(lambda _: self._changed())

    def refresh(self) -> None:
        """Show the cards as the answers are now."""
        contents = self._document.contents
        scale = common_scale(contents.leather, _PICTURE)
        for card in self.cards:
            card.hide()
            card.deleteLater()
        self.cards = []
        for hide in self._comparison.in_order():
            card = Card(hide.name)
            answer = self._comparison.answer_for(hide)
            plan = answer.plan if answer is not None else None
            card.picture.setPixmap(thumbnail(hide, plan, contents.job, _PICTURE, scale=scale))
            card.title.setText(hide.name)
            card.words.setText(self._words(hide, answer))
            self._show_figures(card, answer)
            card.setAccessibleName(hide.name)
            figures = [made.accessibleName() for made in (card.sets, card.money, card.offcut)]
            card.setAccessibleDescription(". ".join([*filter(None, figures), card.words.text()]))
            card.clicked.connect(self._document.show_hide)
            self.cards.append(card)
        self._arrange()
        self._mark()

    def showEvent(self, event: QShowEvent) -> None:
        self.refresh()
        super().showEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def _changed(self) -> None:
        if self.isVisible():
            self.refresh()

    def _arrange(self) -> None:
        across = max(1, (self.viewport().width() - 36) // (_PICTURE.width() + 38))
        for number, card in enumerate(self.cards):
            self._grid.addWidget(card, number // across, number % across, Qt.AlignmentFlag.AlignTop)

    def _mark(self) -> None:
        hide = self._document.hide
        for card in self.cards:
            card.setProperty("selected", "true" if hide is not None and card.name == hide.name else "false")
            card.style().unpolish(card)
            card.style().polish(card)

    def _show_figures(self, card: Card, answer: HideAnswer | None) -> None:
        """How many sets a hide gives, what one costs, and the largest offcut left."""
        laid = answer is not None and answer.plan is not None
        card.figures.setVisible(laid)
        if answer is None or not laid:
            return
        card.sets.show_figure(Figure(f"{answer.whole} of {answer.asked}", "sets"))
        cost = answer.cost_per_set if answer.whole else None
        money = None if cost is None else Figure(self._settings.money(cost, answer.currency), "a set")
        card.money.show_figure(money)
        card.offcut.show_figure(Figure(self._settings.short_area(answer.offcut), "largest offcut"))

    def _words(self, hide: Hide, answer: HideAnswer | None) -> str:
        facts = [hide.leather, self._settings.short_area(hide.gross_area)]
        if hide.price is not None:
            facts.append(self._settings.money(hide.price, hide.currency))
        head = ", ".join(facts)
        if answer is None:
            return head
        if answer.plan is None:
            return f"{head}\nNo layer of this job may be cut from it."
        layers = ", ".join(answer.layers)
        used = ""
        if answer.leather_cost_per_set is not None and answer.whole:
            used = (
                f"\nLeather used: {self._settings.money(answer.leather_cost_per_set, answer.currency)} a set"
            )
        return f"{head}\n{answer.placed} pieces ({layers}), {answer.net_yield:.0%} in finished pieces{used}"
