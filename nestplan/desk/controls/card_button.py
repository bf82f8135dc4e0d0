"""A large button with a picture or an icon, a title, and words that explain."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QLabel, QPushButton, QSizePolicy, QVBoxLayout

from nestplan.desk.plain_text import plain_label

__all__ = ["CardButton"]

_PADDING = 12
"""Pixels round what stands in a card."""


class CardButton(QPushButton):
    """The card. As high as its words need at its width."""

    def __init__(self, title: str, words: str, picture: QPixmap | None = None, *, main: bool = False) -> None:
        super().__init__()
        self.setProperty("card", "main" if main else "plain")
        self.setAccessibleName(title)
        self.setAccessibleDescription(words)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(_PADDING, _PADDING, _PADDING, _PADDING)
        self._column.setSpacing(6)
        if picture is not None:
            shown = plain_label()
            shown.setPixmap(picture)
            shown.setAlignment(Qt.AlignmentFlag.AlignCenter)
            self._add(shown)
        self.title = plain_label(title)
        self.title.setWordWrap(True)
        self.title.setProperty("role", "card")
        self.words = plain_label(words)
        self.words.setWordWrap(True)
        self.words.setProperty("role", "soft")
        self._add(self.title)
        self._add(self.words)
        self._column.addStretch(1)
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def _add(self, label: QLabel) -> None:
        label.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self._column.addWidget(label)

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        return self._column.totalHeightForWidth(width)

    def sizeHint(self) -> QSize:
        return QSize(self._column.totalSizeHint().width(), self.heightForWidth(max(self.width(), 180)))

    def minimumSizeHint(self) -> QSize:
        return QSize(self._column.totalMinimumSize().width(), 48)
