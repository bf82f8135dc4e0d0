"""Rulers along the table's upper and left edge, in millimetres and centimetres or in inches.

They read the view's place and scale and paint ticks; nothing can be done with them.
"""

from __future__ import annotations

import math

from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QGridLayout, QLabel, QWidget

from nestplan.desk.table import coordinates
from nestplan.desk.table.canvas import Table
from nestplan.desk.theme import current_theme
from nestplan.geometry.units import MM_PER_INCH

__all__ = ["Ruler", "TableWithRulers", "tick_step"]

_WIDTH = 26


def tick_step(pixels_per_mm: float, unit: str) -> tuple[float, int]:
    """mm between numbered ticks, and into how many parts each is divided, so that numbers stand 60 pixels apart."""
    wanted = 60.0 / pixels_per_mm
    if unit == "in":
        steps = [MM_PER_INCH * n for n in (0.125, 0.25, 0.5, 1, 2, 3, 6, 12, 24, 36, 72, 144)]
        divisions = [2, 2, 4, 8, 8, 6, 6, 12, 8, 6, 6, 12]
    else:
        steps = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000]
        divisions = [2, 2, 5, 10, 4, 5, 10, 4, 5, 10, 4, 5]
    for step, parts in zip(steps, divisions, strict=True):
        if step >= wanted:
            return float(step), parts
    return float(steps[-1]), divisions[-1]


class Ruler(QWidget):
    """One ruler, lying or standing."""

    def __init__(self, table: Table, lying: bool) -> None:
        super().__init__()
        self._table, self._lying = table, lying
        self.unit = "mm"
        self._pointer: tuple[float, float] | None = None
        table.view_changed.connect(self.update)
        table.pointer_moved.connect(self._point)
        (self.setFixedHeight if lying else self.setFixedWidth)(_WIDTH)
        self.setAccessibleName("Ruler along the upper edge" if lying else "Ruler along the left edge")

    def sizeHint(self) -> QSize:
        return QSize(_WIDTH, _WIDTH)

    def _point(self, at: tuple[float, float] | None) -> None:
        self._pointer = at
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        theme = current_theme()
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(theme.raised))
        font = painter.font()
        font.setPixelSize(11)
        painter.setFont(font)
        length = self.width() if self._lying else self.height()
        first = coordinates.table_point(self._table.mapToScene(QPoint(0, 0)))
        last = coordinates.table_point(self._table.mapToScene(QPoint(self.width(), self.height())))
        low, high = (first[0], last[0]) if self._lying else (last[1], first[1])
        step, parts = tick_step(self._table.pixels_per_mm, self.unit)
        small = step / parts
        painter.setPen(QColor(theme.soft))
        for number in range(math.floor(low / small), math.ceil(high / small) + 1):
            value = number * small
            at = self._table.pixel_at((value, value))
            pixel = at.x() if self._lying else at.y()
            if not -50 <= pixel <= length + 50:
                continue
            numbered = number % parts == 0
            tick = 9 if numbered else 4
            if self._lying:
                painter.drawLine(pixel, _WIDTH - tick, pixel, _WIDTH)
            else:
                painter.drawLine(_WIDTH - tick, pixel, _WIDTH, pixel)
            if numbered:
                self._number(painter, pixel, self._words(value))
        if self._pointer is not None:
            at = self._table.pixel_at(self._pointer)
            painter.setPen(QColor(theme.accent))
            if self._lying:
                painter.drawLine(at.x(), 0, at.x(), _WIDTH)
            else:
                painter.drawLine(0, at.y(), _WIDTH, at.y())
        painter.setPen(QColor(theme.line))
        if self._lying:
            painter.drawLine(0, _WIDTH - 1, self.width(), _WIDTH - 1)
        else:
            painter.drawLine(_WIDTH - 1, 0, _WIDTH - 1, self.height())
        painter.end()

    def _words(self, value: float) -> str:
        if self.unit == "in":
            return f"{round(value / MM_PER_INCH, 3):g}"
        return f"{value:g}"

    def _number(self, painter: QPainter, pixel: int, words: str) -> None:
        start, end = (pixel + 3, self.width()) if self._lying else (self.height() - pixel + 3, self.height())
        if start < 0 or start + painter.fontMetrics().horizontalAdvance(words) > end:
            return  # half a number would be another number
        if self._lying:
            painter.drawText(QRect(pixel + 3, 0, 60, 16), Qt.AlignmentFlag.AlignLeft, words)
            return
        painter.save()
        painter.translate(2, pixel - 3)
        painter.rotate(-90)
        painter.drawText(QRect(0, 0, 60, 14), Qt.AlignmentFlag.AlignLeft, words)
        painter.restore()


class TableWithRulers(QWidget):
    """The table with a ruler on two sides and the unit in their corner."""

    def __init__(self, table: Table, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._upper, self._left = Ruler(table, True), Ruler(table, False)
        self._corner = QLabel("mm")
        self._corner.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._corner.setFixedSize(_WIDTH, _WIDTH)
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setSpacing(0)
        grid.addWidget(self._corner, 0, 0)
        grid.addWidget(self._upper, 0, 1)
        grid.addWidget(self._left, 1, 0)
        grid.addWidget(table, 1, 1)

    def set_unit(self, unit: str) -> None:
        """Show mm or inches (`mm`, `in`)."""
        self._corner.setText(unit)
        for ruler in (self._upper, self._left):
            ruler.unit = unit
            ruler.update()
