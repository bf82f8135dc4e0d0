"""The key to what is seen on the table: each colour, pattern and line with its meaning, over the lower left corner."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QLineF, QObject, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QBrush, QColor, QHideEvent, QPainter, QPaintEvent, QShowEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QWidget

from nestplan.desk.plain_text import plain_label
from nestplan.desk.table.canvas import Table
from nestplan.desk.theme import current_theme, pen

__all__ = ["Legend", "LegendEntry"]

_ROOM = QSize(600, 460)
"""A table smaller than this (pixels) has no room for the key, unless it is asked for."""
_MARGIN = 10
"""Pixels between the key and the edges of the table."""


@dataclass(frozen=True)
class LegendEntry:
    """A meaning, and how it looks: filled with a colour or pattern, a letter on it, or only a line."""

    words: str
    color: str
    pattern: Qt.BrushStyle = Qt.BrushStyle.SolidPattern
    line: Qt.PenStyle | None = None
    letter: str = ""


class _Sample(QWidget):
    """How one entry looks."""

    def __init__(self, entry: LegendEntry) -> None:
        super().__init__()
        self._entry = entry
        self.setFixedSize(26, 15)

    def paintEvent(self, event: QPaintEvent) -> None:
        entry, theme = self._entry, current_theme()
        painter = QPainter(self)
        if entry.line is not None:
            painter.setPen(pen(entry.color, 2.0, entry.line))
            painter.drawLine(QLineF(1, 7.5, 25, 7.5))
        else:
            painter.setPen(pen(entry.color if entry.letter else theme.piece_ink, 1.0))
            painter.setBrush(QBrush(QColor(entry.color), entry.pattern))
            painter.drawRect(QRectF(1.5, 1.5, 23, 12))
        if entry.letter:
            painter.fillRect(QRectF(8, 2, 10, 11), QColor(theme.raised))
            painter.setPen(QColor(entry.color))
            font = painter.font()
            font.setPixelSize(11)
            font.setBold(True)
            painter.setFont(font)
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, entry.letter)
        painter.end()


class Legend(QFrame):
    """The key over `table`, as high as its entries. `wanted` is what was asked for; None: where there is room."""

    shown = Signal(bool)

    def __init__(self, table: Table) -> None:
        super().__init__(table)
        self.setObjectName("legend")
        self.setAccessibleName("Key to the colours")
        self._table = table
        self.wanted: bool | None = None
        self._entries: tuple[LegendEntry, ...] = ()
        self._widgets: list[QWidget] = []
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(10, 8, 12, 8)
        self._grid.setHorizontalSpacing(8)
        self._grid.setVerticalSpacing(3)
        table.installEventFilter(self)

    def show_entries(self, entries: Sequence[LegendEntry]) -> None:
        """Show other entries."""
        if tuple(entries) == self._entries:
            return
        self._entries = tuple(entries)
        for widget in self._widgets:
            self._grid.removeWidget(widget)
            widget.hide()
            widget.deleteLater()
        self._widgets = []
        for row, entry in enumerate(entries):
            words = plain_label(entry.words)
            words.setMinimumWidth(words.sizeHint().width() + 4)
            self._widgets += [_Sample(entry), words]
            self._grid.addWidget(self._widgets[-2], row, 0)
            self._grid.addWidget(words, row, 1)
        for widget in self._widgets:
            widget.show()
        self._grid.activate()
        self._place()
        self.arrange()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Resize:
            self._place()
            self.arrange()
        return super().eventFilter(watched, event)

    def arrange(self) -> None:
        """Show it or put it away, by what was asked for and the room there is; without entries it is not shown."""
        large = self._table.width() >= _ROOM.width() and self._table.height() >= _ROOM.height()
        visible = bool(self._entries) and (large if self.wanted is None else self.wanted)
        self._table.covered = self._grid.sizeHint().height() + 2 * _MARGIN if visible else 0
        self.setVisible(visible)

    def showEvent(self, event: QShowEvent) -> None:
        self._place()
        self.shown.emit(True)

    def hideEvent(self, event: QHideEvent) -> None:
        self.shown.emit(False)

    def _place(self) -> None:
        size = self._grid.sizeHint()
        self.setGeometry(_MARGIN, self._table.height() - size.height() - _MARGIN, size.width(), size.height())
