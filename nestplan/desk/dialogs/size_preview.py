"""All sizes of an article drawn over each other, piece by piece: each in its own line and colour, named in a legend."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from nestplan.desk.theme import current_theme
from nestplan.drawing import colors
from nestplan.model.job import Article
from nestplan.model.piece import Piece

__all__ = ["SizePreview"]

_LINES = (Qt.PenStyle.DashLine, Qt.PenStyle.DotLine, Qt.PenStyle.DashDotLine, Qt.PenStyle.DashDotDotLine)
_MARGIN = 14.0
_BETWEEN = 26.0
"""Screen pixels round all, and between two pieces."""


class SizePreview(QWidget):
    """Shows articles that are sizes of one another; the first is the drawn one, whose lines are whole."""

    def __init__(self) -> None:
        super().__init__()
        self.articles: tuple[Article, ...] = ()
        self.setMinimumSize(360, 300)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAccessibleName("All sizes over each other")

    def show_sizes(self, articles: Sequence[Article]) -> None:
        """Show these sizes."""
        self.articles = tuple(articles)
        names = ", ".join(article.size or article.name for article in articles)
        self.setAccessibleDescription(f"{len(articles)} sizes over each other: {names}")
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        theme = current_theme()
        painter.fillRect(self.rect(), QColor(theme.raised))
        if self.articles and self.articles[0].pieces:
            below = self._draw_legend(painter)
            room = QRectF(self.rect()).adjusted(_MARGIN, below, -_MARGIN, -_MARGIN)
            self._draw_pieces(painter, room)
        painter.end()

    def _pen(self, number: int) -> QPen:
        if number == 0:
            return QPen(QColor(current_theme().ink), 2.0)
        theme = current_theme()
        inks = (theme.accent, theme.alarm, theme.good, colors.PURPLE, theme.ink)
        return QPen(QColor(inks[(number - 1) % len(inks)]), 1.6, _LINES[(number - 1) % len(_LINES)])

    def _draw_legend(self, painter: QPainter) -> float:
        """Each size with its line, row by row; returns where the legend ends."""
        x, y, height = _MARGIN, _MARGIN, painter.fontMetrics().height() + 4.0
        for number, article in enumerate(self.articles):
            words = article.size or article.name
            width = 40.0 + painter.fontMetrics().horizontalAdvance(words)
            if x + width > self.width() - _MARGIN and x > _MARGIN:
                x, y = _MARGIN, y + height
            painter.setPen(self._pen(number))
            painter.drawLine(QPointF(x, y + height / 2), QPointF(x + 26.0, y + height / 2))
            painter.setPen(QColor(current_theme().ink))
            painter.drawText(QPointF(x + 32.0, y + height - 6.0), words)
            x += width + 18.0
        return y + height + 6.0

    def _draw_pieces(self, painter: QPainter, room: QRectF) -> None:
        """The pieces of all sizes, as many beside each other as make them largest, each over the others of its kind."""
        kinds = list(zip(*(article.pieces for article in self.articles), strict=False))
        sizes = np.array([np.max([np.ptp(piece.ring, axis=0) for piece in kind], axis=0) for kind in kinds])
        words = painter.fontMetrics().height() + 4.0
        columns = max(range(1, len(kinds) + 1), key=lambda count: _scale(sizes, room, count, words))
        scale = _scale(sizes, room, columns, words)
        rows = -(-len(kinds) // columns)
        cell = (room.width() / columns, room.height() / rows)
        for number, kind in enumerate(kinds):
            left = room.left() + (number % columns + 0.5) * cell[0]
            low = (
                room.top()
                + (number // columns + 0.5) * cell[1]
                + sizes[number, 1] * scale / 2.0
                - words / 2.0
            )
            self._draw_kind(painter, kind, QPointF(left, low), scale)

    def _draw_kind(self, painter: QPainter, kind: Sequence[Piece], foot: QPointF, scale: float) -> None:
        """One piece in all sizes, on the middle of its lower edge at `foot`."""
        for number, piece in reversed(list(enumerate(kind))):
            low, high = piece.ring.min(axis=0), piece.ring.max(axis=0)
            origin = np.array(((low[0] + high[0]) / 2.0, low[1]))
            painter.setPen(self._pen(number))
            for ring in (piece.ring, *piece.hole_rings):
                painter.drawPath(_path((ring - origin) * (scale, -scale) + (foot.x(), foot.y())))
            painter.setBrush(self._pen(number).color())
            for mark in piece.all_marks:
                x, y = (np.array(mark.at) - origin) * (scale, -scale) + (foot.x(), foot.y())
                painter.drawEllipse(QPointF(x, y), 1.2, 1.2)
            painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QColor(current_theme().soft))
        words = kind[0].name
        width = painter.fontMetrics().horizontalAdvance(words)
        painter.drawText(
            QPointF(foot.x() - width / 2.0, foot.y() + painter.fontMetrics().height() + 2.0), words
        )


def _scale(sizes: np.ndarray, room: QRectF, columns: int, words: float) -> float:
    """Pixels a mm with so many pieces beside each other."""
    rows = -(-len(sizes) // columns)
    wide = (room.width() / columns - _BETWEEN) / float(sizes[:, 0].max())
    high = (room.height() / rows - _BETWEEN - words) / float(sizes[:, 1].max())
    return max(min(wide, high), 0.01)


def _path(points: np.ndarray) -> QPainterPath:
    path = QPainterPath(QPointF(*points[0]))
    for point in points[1:]:
        path.lineTo(QPointF(*point))
    path.closeSubpath()
    return path
