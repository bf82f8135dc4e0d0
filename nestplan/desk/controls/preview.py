"""A picture of what the figures of a form make, drawn anew a moment after they change."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QSize, Qt, QTimer
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QSizePolicy, QVBoxLayout, QWidget

from nestplan.desk.plain_text import plain_label

__all__ = ["Preview"]

_PAUSE = 200
"""ms after the last change before the picture is drawn."""


class Preview(QWidget):
    """Asks `draw` for a picture of a size (None: the figures make nothing); `words` says what is shown."""

    def __init__(self, draw: Callable[[QSize], QPixmap | None], words: str) -> None:
        super().__init__()
        self._draw = draw
        self.picture = plain_label()
        self.picture.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.picture.setFixedHeight(150)
        self.picture.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.picture.setAccessibleName(words)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_PAUSE)
        self._timer.timeout.connect(self.refresh)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.picture)

    def touch(self) -> None:
        """Something has changed: draw soon."""
        self._timer.start()

    def refresh(self) -> None:
        """Draw now."""
        drawn = self._draw(QSize(max(self.width() - 4, 60), self.picture.height() - 4))
        if drawn is None:
            self.picture.clear()
        else:
            self.picture.setPixmap(drawn)
