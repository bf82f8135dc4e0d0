"""A picture that fills its widget as far as it goes, with whatever is drawn over it."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPixmap
from PySide6.QtWidgets import QWidget

from nestplan.desk.theme import current_theme

__all__ = ["PictureView"]


class PictureView(QWidget):
    """Shows `picture`, whose `extent` (width, height) is that of the file it was made from, pixels. What is drawn over
    it is its heirs'."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.picture = QPixmap()
        self.extent = (1, 1)
        self.setMinimumSize(260, 240)
        self.setAccessibleName(name)

    def box(self) -> QRectF:
        """Where the picture lies in the widget."""
        wide, high = self.extent
        scale = min(self.width() / wide, self.height() / high)
        left, top = (self.width() - wide * scale) / 2, (self.height() - high * scale) / 2
        return QRectF(left, top, wide * scale, high * scale)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.fillRect(self.rect(), QColor(current_theme().table))
        painter.drawPixmap(self.box(), self.picture, QRectF(self.picture.rect()))
        self.paint_over(painter)
        painter.end()

    def paint_over(self, painter: QPainter) -> None:
        """Draw what lies over the picture."""
