"""Words that lie over the lower edge of the table: what was done, with Undo, or what went wrong, with what to do.

They push nothing aside and stop no work. What asks for nothing passes by itself; what asks stays until it is
answered, closed, or the next words come.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject, Qt, QTimer
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QSizePolicy, QToolButton, QWidget

from nestplan.desk.messages import UNDO, Message
from nestplan.desk.plain_text import plain_label

__all__ = ["Notice"]

_ENOUGH = 420
"""Pixels beside the key to the colours that are enough for words."""
_WIDEST = 720
"""Pixels."""
_MARGIN = 14
"""Pixels between the words and the edges of what they lie over."""
_LEAST_TIME, _TIME_PER_LETTER = 6_000, 60
"""How long words that ask for nothing stay, ms: this long, and so much longer for each letter."""


class Notice(QFrame):
    """The words over `parent`; hidden while there is nothing to say."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._below = parent
        self.beside: QWidget | None = None
        """What it does not lie on where there is room beside it."""
        self.setObjectName("notice")
        self.words = plain_label()
        self.words.setWordWrap(True)
        self.words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.words.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(12, 8, 8, 8)
        self._row.addWidget(self.words, 1)
        self._buttons: list[QPushButton] = []
        self._asks = self.offers_undo = False
        close = QToolButton()
        close.setText("×")
        close.setToolTip("Close this message")
        close.setAccessibleName("Close this message")
        close.setMinimumSize(26, 26)
        close.setAutoRaise(True)
        close.clicked.connect(self.clear)
        self._row.addWidget(close, 0, Qt.AlignmentFlag.AlignTop)
        self._passing = QTimer(self)
        self._passing.setSingleShot(True)
        self._passing.timeout.connect(self._pass)
        parent.installEventFilter(self)
        self.hide()

    def show_message(self, message: Message) -> None:
        """Show a message; each of its offers is a button that does it and closes the words."""
        self._drop_offers()
        self.words.setText(message.words)
        self.offers_undo = UNDO in message.offers
        self._asks = message.alarm or bool(message.offers.keys() - {UNDO})
        self.setProperty("tone", "alarm" if message.alarm else "word")
        self.style().unpolish(self)
        self.style().polish(self)
        for text, action in message.offers.items():
            made = QPushButton(text)
            made.setMinimumHeight(26)
            made.clicked.connect(lambda _=False, action=action: self._take(action))
            self._row.insertWidget(self._row.count() - 1, made, 0, Qt.AlignmentFlag.AlignTop)
            self._buttons.append(made)
        self._passing.stop()
        if not self._asks:
            self._passing.start(_LEAST_TIME + _TIME_PER_LETTER * len(message.words))
        self.show()
        self._place()

    @property
    def offers(self) -> list[QPushButton]:
        """The buttons that are offered now."""
        return list(self._buttons)

    def clear(self) -> None:
        """Say nothing."""
        self._drop_offers()
        self._passing.stop()
        self._asks = self.offers_undo = False
        self.hide()

    def clear_unless_asking(self) -> None:
        """Go on to something else: words that ask for nothing are taken away."""
        if not self._asks:
            self.clear()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Resize and not self.isHidden():
            self._place()
        return super().eventFilter(watched, event)

    def _place(self) -> None:
        """Lie in the middle of the lower edge, as wide as the words need and as there is room."""
        below, left = self._below, self._left()
        room = max(below.width() - left - 2 * _MARGIN, 160)
        beside = sum(made.sizeHint().width() + self._row.spacing() for made in self._buttons) + 70
        needed = self.words.fontMetrics().horizontalAdvance(self.words.text()) + beside
        width = min(room, _WIDEST, needed)
        height = max(self._row.heightForWidth(width), self._row.minimumSize().height())
        height = min(height, below.height() - 2 * _MARGIN)
        self.setGeometry(
            (left + below.width() - width) // 2, below.height() - height - _MARGIN, width, height
        )
        self.raise_()

    def _left(self) -> int:
        """Where the room begins: right of what it lies beside, if that leaves enough."""
        if self.beside is None or not self.beside.isVisible():
            return 0
        edge = self.beside.mapTo(self._below, self.beside.rect().topRight()).x()
        return edge if self._below.width() - edge >= _ENOUGH else 0

    def _pass(self) -> None:
        if self.underMouse():
            self._passing.start(_LEAST_TIME)
        else:
            self.clear()

    def _take(self, action: Callable[[], object]) -> None:
        self.clear()
        action()

    def _drop_offers(self) -> None:
        for made in self._buttons:
            self._row.removeWidget(made)
            made.hide()
            made.deleteLater()
        self._buttons.clear()
