"""A line of words above the table that tells what went wrong or what was done, with what to do about it.

It never stops the work: it stays until it is closed or the next one comes.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QSizePolicy, QToolButton, QWidget

from nestplan.desk.messages import Message
from nestplan.desk.plain_text import plain_label

__all__ = ["Notice"]


class Notice(QFrame):
    """The line; hidden while there is nothing to say."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("notice")
        self.words = plain_label()
        self.words.setWordWrap(True)
        self.words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.words.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(10, 6, 6, 6)
        self._row.addWidget(self.words, 1)
        self._buttons: list[QPushButton] = []
        self._alarm = False
        close = QToolButton()
        close.setText("×")
        close.setToolTip("Close this message")
        close.setAutoRaise(True)
        close.clicked.connect(self.clear)
        self._row.addWidget(close, 0, Qt.AlignmentFlag.AlignTop)
        self.hide()

    def show_message(self, message: Message) -> None:
        """Show a message; each of its offers is a button that does it and closes the line."""
        self._drop_offers()
        self.words.setText(message.words)
        self._alarm = message.alarm
        self.setProperty("tone", "alarm" if message.alarm else "word")
        self.style().unpolish(self)
        self.style().polish(self)
        for text, action in message.offers.items():
            made = QPushButton(text)
            made.clicked.connect(lambda _=False, action=action: self._take(action))
            self._row.insertWidget(self._row.count() - 1, made)
            self._buttons.append(made)
        self.show()

    @property
    def offers(self) -> list[QPushButton]:
        """The buttons that are offered now."""
        return list(self._buttons)

    def clear(self) -> None:
        """Say nothing."""
        self._drop_offers()
        self.hide()

    def clear_unless_asking(self) -> None:
        """Go on to something else: words that ask for nothing are taken away."""
        if not self._buttons and not self._alarm:
            self.hide()

    def _take(self, action: Callable[[], object]) -> None:
        self.clear()
        action()

    def _drop_offers(self) -> None:
        for made in self._buttons:
            self._row.removeWidget(made)
            made.hide()
            made.deleteLater()
        self._buttons.clear()
