"""The picture a projector throws on the table: lines of the step at hand, and the handles that fit it there.

Bright lines on black. Its keys are those of the hand at the table. What is drawn where is `projecting`.
"""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QEvent, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFont,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
    QResizeEvent,
)
from PySide6.QtWidgets import QWidget

from nestplan.desk.output.projecting import Projection
from nestplan.sheets.projector import ProjectedRole

__all__ = ["ProjectorView"]

_PENS: dict[ProjectedRole, tuple[str, float, Qt.PenStyle]] = {
    "hide": ("#9a9a9a", 1.0, Qt.PenStyle.DashDotLine),
    "cut already": ("#5a5a5a", 1.0, Qt.PenStyle.DotLine),
    "later": ("#8f7f5f", 1.0, Qt.PenStyle.SolidLine),
    "finished now": ("#56b4e9", 1.5, Qt.PenStyle.DashLine),
    "marked now": ("#f0e442", 1.5, Qt.PenStyle.DotLine),
    "inside now": ("#ffffff", 2.0, Qt.PenStyle.SolidLine),
    "cut now": ("#ffffff", 3.0, Qt.PenStyle.SolidLine),
}
"""Colour, width and stroke of each kind of line: the stroke alone tells them apart too."""
_ARROWS = {
    Qt.Key.Key_Left: (-1, 0), Qt.Key.Key_Right: (1, 0), Qt.Key.Key_Up: (0, -1), Qt.Key.Key_Down: (0, 1)
}  # fmt: skip


class ProjectorView(QWidget):
    """A window for the projector's screen. `changed` tells that a handle or the step moved, `cut` that the
    pieces of the step are cut."""

    changed = Signal()
    cut = Signal()

    def __init__(self, projection: Projection, parent: QWidget | None = None) -> None:
        super().__init__(parent, Qt.WindowType.Window)
        self.projection = projection
        self.setWindowTitle("Projector view")
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self._held = False
        self._from: tuple[float, float] | None = None  # where the whole hide is held

    def resizeEvent(self, event: QResizeEvent) -> None:
        """The corners keep their share of the picture when it turns out to be of another size."""
        self.projection.resize(self.width(), self.height())
        super().resizeEvent(event)

    def paintEvent(self, _event: QPaintEvent) -> None:
        projection = self.projection
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), Qt.GlobalColor.black)
        for line in projection.lines():
            color, width, stroke = _PENS[line.role]
            painter.setPen(QPen(QColor(color), width, stroke))
            painter.drawPolygon(_polygon(line.pixels))
        square = projection.square_pixels()
        if square is not None:
            painter.setPen(QPen(QColor("#f0e442"), 1.5))
            painter.drawPolygon(_polygon(square))
        if projection.phase == "corners":
            painter.setPen(QPen(QColor("#9a9a9a"), 1.0))
            painter.drawPolygon(_polygon(projection.corners))
        self._draw_handles(painter)
        self._draw_words(painter)
        painter.end()

    def _draw_handles(self, painter: QPainter) -> None:
        names = "1234" if self.projection.phase == "corners" else "AB"
        font = QFont()
        font.setPixelSize(22)
        painter.setFont(font)
        for number, (x, y) in enumerate(self.projection.handles()):
            chosen = number == self.projection.chosen
            painter.setPen(QPen(QColor("#ffffff" if chosen else "#9a9a9a"), 2.0 if chosen else 1.0))
            for dx, dy in ((18, 0), (0, 18)):
                painter.drawLine(QPointF(x - dx, y - dy), QPointF(x + dx, y + dy))
            if chosen:
                painter.drawEllipse(QPointF(x, y), 14, 14)
            painter.drawText(QPointF(x + 18, y - 18), names[number])

    def _draw_words(self, painter: QPainter) -> None:
        """What to do now, in a corner where it does not lie over a line that the knife follows now."""
        font = QFont()
        font.setPixelSize(24)
        painter.setFont(font)
        painter.setPen(QColor("#d8d8d8"))
        words, align = self.projection.words(), Qt.AlignmentFlag
        room = QRectF(self.rect()).adjusted(24, 16, -24, -16)
        cuts = [_polygon(line.pixels) for line in self.projection.lines() if line.role == "cut now"]
        for corner in (
            align.AlignBottom | align.AlignLeft,
            align.AlignTop | align.AlignLeft,
            align.AlignTop | align.AlignRight,
            align.AlignBottom | align.AlignRight,
        ):
            box = painter.boundingRect(room, corner | Qt.TextFlag.TextWordWrap, words)
            if not any(cut.intersects(QPolygonF(box)) for cut in cuts):
                break
        painter.drawText(room, corner | Qt.TextFlag.TextWordWrap, words)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        at = (event.position().x(), event.position().y())
        self._held = self.projection.grasp(at)
        self._from = None if self._held else at
        self._tell()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        at = (event.position().x(), event.position().y())
        if self._held:
            self.projection.move(at)
            self._tell()
        elif self._from is not None:
            self.projection.shift(self._from, at)
            self._from = at
            self._tell()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self._held, self._from = False, None

    def event(self, event: QEvent) -> bool:
        """Tab belongs to the handles here, not to the focus."""
        pressed = event.type() == QEvent.Type.KeyPress
        if pressed and isinstance(event, QKeyEvent) and event.key() in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab):
            self.projection.next_handle(1 if event.key() == Qt.Key.Key_Tab else -1)
            self._tell()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        projection, key = self.projection, Qt.Key(event.key())
        far = 10 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1
        if key in _ARROWS and len(projection.handles()):
            dx, dy = _ARROWS[key]
            projection.nudge(far * dx, far * dy)
        elif key in (Qt.Key.Key_Right, Qt.Key.Key_Down, Qt.Key.Key_Space, Qt.Key.Key_PageDown):
            projection.step(1)
        elif key in (Qt.Key.Key_Left, Qt.Key.Key_Up, Qt.Key.Key_Backspace, Qt.Key.Key_PageUp):
            projection.step(-1)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and projection.phase == "cut":
            self.cut.emit()
        elif key == Qt.Key.Key_C:
            projection.go("corners")
        elif key == Qt.Key.Key_H:
            projection.go("hide")
        elif key == Qt.Key.Key_P:
            projection.go("cut")
        elif key == Qt.Key.Key_Escape:
            self.close()
            return
        else:
            super().keyPressEvent(event)
            return
        self._tell()

    def _tell(self) -> None:
        self.update()
        self.changed.emit()


def _polygon(ring: np.ndarray) -> QPolygonF:
    return QPolygonF([QPointF(float(x), float(y)) for x, y in ring])
