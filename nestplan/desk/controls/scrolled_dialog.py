"""A dialog that fits on any screen: its contents scroll where the screen is low, its buttons stay in sight."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QDialog, QLayout, QScrollArea, QVBoxLayout, QWidget

__all__ = ["FRAME", "ScrolledDialog"]

FRAME = QSize(8, 36)
"""Pixels that a desktop's frame may take beside and above a dialog."""


class ScrolledDialog(QDialog):
    """Asks for something; `set_contents` gives it what it shows."""

    def set_contents(self, contents: QLayout, foot: QWidget | None = None) -> None:
        """Show `contents`, which may scroll, and `foot` below it."""
        inner = QWidget()
        inner.setObjectName("column")
        inner.setLayout(contents)
        self._inner, self._foot = inner, foot
        area = QScrollArea()
        area.setWidget(inner)
        area.setWidgetResizable(True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(area, 1)
        if foot is not None:
            foot.setContentsMargins(12, 0, 12, 12)
            column.addWidget(foot)

    def showEvent(self, event: QShowEvent) -> None:
        if not self.testAttribute(Qt.WidgetAttribute.WA_Resized):
            self.resize(self.sizeHint())  # by itself a dialog takes no more than two thirds of the screen
        super().showEvent(event)

    def sizeHint(self) -> QSize:
        """All of it, as far as the screen has room."""
        whole = self._inner.sizeHint().expandedTo(QSize(self.minimumWidth(), 0))
        if self._inner.hasHeightForWidth():
            least = self._inner.minimumSizeHint().height()
            whole.setHeight(max(self._inner.heightForWidth(whole.width()), least))
        if self._foot is not None:
            whole.setHeight(whole.height() + self._foot.sizeHint().height() + 12)
        return (whole + QSize(4, 4)).boundedTo(self.screen().availableSize() - FRAME)

    def minimumSizeHint(self) -> QSize:
        return QSize(min(self._inner.minimumSizeHint().width() + 20, self.sizeHint().width()), 160)
