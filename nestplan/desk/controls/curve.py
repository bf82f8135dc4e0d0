"""A curve of steps against time: what has been reached, how long ago, and what is the most there can be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPalette, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

__all__ = ["Curve", "CurveLevel", "CurveLine"]

_LEFT, _RIGHT, _TOP, _BOTTOM = 6, 6, 16, 16
"""Pixels round the field of the curve, for its words."""


@dataclass(frozen=True)
class CurveLine:
    """One line: its points (seconds, value) from left to right, the value at the top, and how it is drawn."""

    points: Sequence[tuple[float, float]]
    top: float
    color: str
    style: Qt.PenStyle = Qt.PenStyle.SolidLine


@dataclass(frozen=True)
class CurveLevel:
    """A level line with its words: how high it lies, as a part of the whole height."""

    height: float
    words: str


class Curve(QWidget):
    """The lines over `seconds` of time, words at the upper edge for the top of the scale, at the lower for time."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.setAccessibleName(name)
        self.lines: Sequence[CurveLine] = ()
        self.seconds = 1.0
        self._now = 0.0
        self._top_words = ""
        self.levels: Sequence[CurveLevel] = ()
        self.setFixedHeight(96)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        return QSize(200, 96)

    def show_lines(
        self,
        lines: Sequence[CurveLine],
        *,
        now: float,
        seconds: float,
        top: str,
        levels: Sequence[CurveLevel] = (),
    ) -> None:
        """Show the lines up to `now`, on a scale of so many seconds; `top` says what the upper edge is."""
        self.lines, self._now, self.seconds, self._top_words = lines, now, max(seconds, now, 0.1), top
        self.levels = [level for level in levels if 0.0 < level.height < 1.0]
        said = "; ".join([top, *(level.words for level in self.levels)])
        self.setAccessibleDescription(f"{said}; after {now:.0f} s")
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        soft = self.palette().color(QPalette.ColorRole.PlaceholderText)
        field = QRectF(self.rect()).adjusted(_LEFT, _TOP, -_RIGHT, -_BOTTOM)
        painter.fillRect(field, self.palette().color(QPalette.ColorRole.Base))
        font = painter.font()
        font.setPixelSize(11)
        painter.setFont(font)
        painter.setPen(QPen(soft, 1.0, Qt.PenStyle.DashLine))
        painter.drawLine(QLineF(field.topLeft(), field.topRight()))
        painter.setPen(QPen(soft, 1.0))
        painter.drawLine(QLineF(field.bottomLeft(), field.bottomRight()))
        above, below = (
            QRectF(field.left(), 0, field.width(), _TOP),
            QRectF(field.bottomLeft(), self.rect().bottomRight()),
        )
        painter.drawText(above, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, self._top_words)
        painter.drawText(below, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, "0 s")
        painter.drawText(
            below, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, f"{self.seconds:.0f} s"
        )
        for level in self.levels:
            self._draw_level(painter, level, field)
        for line in self.lines:
            painter.setPen(QPen(QColor(line.color), 2.0, line.style))
            painter.drawPolyline(self._steps(line, field))
        at = field.left() + field.width() * self._now / self.seconds
        painter.setPen(QPen(soft, 1.0, Qt.PenStyle.DotLine))
        painter.drawLine(QLineF(at, field.top(), at, field.bottom()))
        painter.end()

    def _draw_level(self, painter: QPainter, level: CurveLevel, field: QRectF) -> None:
        """The line and, at its left end and on the side where there is more room, its words."""
        y = field.bottom() - level.height * field.height()
        painter.setPen(QPen(painter.pen().color(), 1.0, Qt.PenStyle.DotLine))
        painter.drawLine(QLineF(field.left(), y, field.right(), y))
        above = level.height < 0.5
        box = QRectF(field.left() + 2, y - 15 if above else y + 1, field.width(), 14)
        painter.drawText(box, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, level.words)

    def _steps(self, line: CurveLine, field: QRectF) -> QPolygonF:
        """The line as steps: each value holds until the next one is reached, the last one until now."""
        points = QPolygonF()
        height = 0.0
        for seconds, value in (*line.points, (self._now, line.points[-1][1] if line.points else 0.0)):
            x = field.left() + field.width() * min(seconds, self.seconds) / self.seconds
            points.append(QPointF(x, field.bottom() - height))
            height = field.height() * min(value / line.top, 1.0) if line.top > 0 else 0.0
            points.append(QPointF(x, field.bottom() - height))
        return points
