"""Widgets side by side in as many columns as there is room for, all of one width."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QWidget

__all__ = ["TileLayout"]


class TileLayout(QLayout):
    """Tiles at least `least` pixels wide (by default as wide as the widest needs), in at most `most` columns.

    They share out all the width; where `widest` is given none is wider than so many pixels.
    """

    def __init__(
        self,
        widgets: Iterable[QWidget] = (),
        *,
        least: int = 0,
        widest: int = 9999,
        most: int = 99,
        spacing: int = 4,
    ) -> None:
        super().__init__()
        self._entries: list[QLayoutItem] = []
        self._least, self._widest, self._most = least, widest, most
        self.setContentsMargins(0, 0, 0, 0)
        self.setSpacing(spacing)
        for widget in widgets:
            self.addWidget(widget)

    def addItem(self, item: QLayoutItem) -> None:
        self._entries.append(item)

    def count(self) -> int:
        return len(self._entries)

    def itemAt(self, index: int) -> QLayoutItem | None:  # type: ignore[override]  # Qt takes None
        return self._entries[index] if 0 <= index < len(self._entries) else None

    def takeAt(self, index: int) -> QLayoutItem | None:  # type: ignore[override]  # Qt takes None
        return self._entries.pop(index) if 0 <= index < len(self._entries) else None

    def expandingDirections(self) -> Qt.Orientation:
        return Qt.Orientation.Horizontal

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        return self._place(QRect(0, 0, width, 0), move=False)

    def setGeometry(self, box: QRect) -> None:
        super().setGeometry(box)
        self._place(box, move=True)

    def sizeHint(self) -> QSize:
        width = self._tile_width()
        columns = min(self._most, max(len(self._entries), 1))
        return QSize(columns * width + (columns - 1) * self.spacing(), self._row_height())

    def minimumSize(self) -> QSize:
        return QSize(self._tile_width(), self._row_height())

    def _tile_width(self) -> int:
        return max([self._least, *(entry.minimumSize().width() for entry in self._shown())])

    def _row_height(self) -> int:
        return max((entry.sizeHint().height() for entry in self._shown()), default=0)

    def _shown(self) -> list[QLayoutItem]:
        return [entry for entry in self._entries if not entry.isEmpty()]

    def _columns(self, width: int) -> int:
        """As many as there is room for, but rows as even as can be: eight for which there is room in fives stand in
        two rows of four."""
        number, gap = len(self._shown()), self.spacing()
        columns = max(1, min((width + gap) // max(self._tile_width() + gap, 1), self._most, number))
        return -(-number // -(-number // columns))

    def _place(self, box: QRect, *, move: bool) -> int:
        shown, gap = self._shown(), self.spacing()
        if not shown:
            return 0
        columns = self._columns(box.width())
        width = min((box.width() - gap * (columns - 1)) // columns, self._widest)
        height = max(_height(entry, width) for entry in shown)
        for number, entry in enumerate(shown if move else ()):
            row, column = divmod(number, columns)
            corner = box.topLeft() + QPoint(column * (width + gap), row * (height + gap))
            entry.setGeometry(QRect(corner, QSize(width, height)))
        rows = -(-len(shown) // columns)
        return rows * height + (rows - 1) * gap


def _height(entry: QLayoutItem, width: int) -> int:
    return entry.heightForWidth(width) if entry.hasHeightForWidth() else entry.sizeHint().height()
