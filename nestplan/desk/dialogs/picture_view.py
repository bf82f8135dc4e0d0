"""A picture that fills its widget, or is looked at from nearer, with whatever is drawn over it.

The wheel zooms to the pointer and the middle button moves the picture, as on the table; so do the keys + and −, 0 for
the whole of it, and the arrows with Ctrl.
"""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPixmap, QWheelEvent
from PySide6.QtWidgets import QWidget

from nestplan.desk.table.zooming import ARROWS, PAN_STEP, ZOOM_STEP, wheel_zoom
from nestplan.desk.theme import current_theme

__all__ = ["PictureView"]

_NEAREST = 24.0
"""How many times larger than as a whole the picture may be seen."""
_ROOM = 0.12
"""How much is shown beside a part of the picture on each side, as a share of it."""


class PictureView(QWidget):
    """Shows `picture`, whose `extent` (width, height) is that of the file it was made from, pixels; from near `detail`
    where it holds more pixels.

    What is drawn over it, and what a click does (`press`, `drag`, `release`), is its heirs'.
    """

    def __init__(self, name: str) -> None:
        super().__init__()
        self.picture = QPixmap()
        self.detail = QImage()
        self.extent = (1, 1)
        self._magnified = 1.0
        # What of the picture, in its widths and heights, is seen at the middle of the widget.
        self._middle = QPointF(0.5, 0.5)
        self._panned_from: QPointF | None = None
        self.setMinimumSize(260, 240)
        self.setAccessibleName(name)
        self.setToolTip(
            "The wheel zooms, the middle button moves the picture; keys: + and −, 0, Ctrl with arrows"
        )
        # What was typed in a field counts as soon as the picture is clicked.
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def show_picture(self, image: QImage, extent: tuple[int, int], *, most: int) -> None:
        """Show a picture, all of it; as a whole it is drawn from at most `most` pixels a side."""
        self.extent = extent
        whole = image
        if max(image.width(), image.height()) > most:
            whole = image.scaled(
                most, most, Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation
            )
            self.detail = image
        else:
            self.detail = QImage()
        self.picture = QPixmap.fromImage(whole)
        self.show_whole()

    def box(self) -> QRectF:
        """Where the picture lies in the widget; parts of it may lie outside."""
        wide, high = self.extent
        scale = min(self.width() / wide, self.height() / high) * self._magnified
        width, height = wide * scale, high * scale
        return QRectF(
            _start(self.width(), width, self._middle.x()),
            _start(self.height(), height, self._middle.y()),
            width,
            height,
        )

    def zoom(self, factor: float, at: QPointF | None = None) -> None:
        """Magnify by `factor`, keeping what is seen at a spot (by default the middle) where it is."""
        spot = at if at is not None else QPointF(self.width() / 2, self.height() / 2)
        before = self.box()
        fixed = QPointF(
            (spot.x() - before.x()) / before.width(),
            (spot.y() - before.y()) / before.height(),
        )
        self._magnified = min(max(self._magnified * factor, 1.0), _NEAREST)
        after = self.box()
        self._center_on(
            QPointF(
                fixed.x() + (self.width() / 2 - spot.x()) / after.width(),
                fixed.y() + (self.height() / 2 - spot.y()) / after.height(),
            )
        )

    def pan(self, dx: float, dy: float) -> None:
        """Move the picture by so many pixels of the screen."""
        box = self.box()
        self._center_on(self._middle - QPointF(dx / box.width(), dy / box.height()))

    def show_whole(self) -> None:
        """Show all of the picture."""
        self._magnified, self._middle = 1.0, QPointF(0.5, 0.5)
        self.update()

    def show_part(self, part: QRectF) -> None:
        """Show a part of the picture (pixels of the file) as large as it goes, with some room round it."""
        wide, high = self.extent
        scale = min(self.width() / wide, self.height() / high)
        room = 1.0 + 2.0 * _ROOM
        across = self.width() / (max(part.width(), 1.0) * scale * room)
        down = self.height() / (max(part.height(), 1.0) * scale * room)
        self._magnified = min(max(min(across, down), 1.0), _NEAREST)
        self._center_on(QPointF(part.center().x() / wide, part.center().y() / high))

    def _center_on(self, middle: QPointF) -> None:
        """Look at a place of the picture, as near to it as the picture's edges allow."""
        box = self.box()
        across, down = self.width() / 2 / box.width(), self.height() / 2 / box.height()
        self._middle = QPointF(_within(middle.x(), across), _within(middle.y(), down))
        self.update()

    def press(self, event: QMouseEvent) -> None:
        """What a button pressed on the picture does."""

    def drag(self, event: QMouseEvent) -> None:
        """What the pointer moved over the picture does, with or without a button."""

    def release(self, event: QMouseEvent) -> None:
        """What a button let go does."""

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.MiddleButton:
            self._panned_from = event.position()
        else:
            self.press(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._panned_from is None:
            self.drag(event)
        else:
            moved = event.position() - self._panned_from
            self._panned_from = event.position()
            self.pan(moved.x(), moved.y())

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.MiddleButton:
            self._panned_from = None
        else:
            self.release(event)

    def wheelEvent(self, event: QWheelEvent) -> None:
        self.zoom(wheel_zoom(event), event.position())
        event.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        if key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom(ZOOM_STEP)
        elif key == Qt.Key.Key_Minus:
            self.zoom(1 / ZOOM_STEP)
        elif key == Qt.Key.Key_0:
            self.show_whole()
        elif key in ARROWS and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            across, down = ARROWS[Qt.Key(key)]
            self.pan(-PAN_STEP * across, -PAN_STEP * down)
        else:
            super().keyPressEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.fillRect(self.rect(), QColor(current_theme().table))
        self._paint_picture(painter)
        self.paint_over(painter)
        painter.end()

    def _paint_picture(self, painter: QPainter) -> None:
        box = self.box()
        seen = box.intersected(QRectF(self.rect()))
        near = box.width() * self.devicePixelRatioF() > self.picture.width() and not self.detail.isNull()
        size = self.detail.size() if near else self.picture.size()
        across, down = size.width() / box.width(), size.height() / box.height()
        part = QRectF(
            (seen.x() - box.x()) * across,
            (seen.y() - box.y()) * down,
            seen.width() * across,
            seen.height() * down,
        )
        if near:
            painter.drawImage(seen, self.detail, part)
        else:
            painter.drawPixmap(seen, self.picture, part)

    def paint_over(self, painter: QPainter) -> None:
        """Draw what lies over the picture."""


def _start(widget: float, picture: float, middle: float) -> float:
    """Where a picture of a length begins in a widget: in its middle, or so that no edge of it leaves a gap."""
    if picture <= widget:
        return (widget - picture) / 2
    return min(max(widget / 2 - middle * picture, widget - picture), 0.0)


def _within(middle: float, half: float) -> float:
    """A place of the picture that may be at the widget's middle, where `half` of the widget shows so much of it."""
    return 0.5 if half >= 0.5 else min(max(middle, half), 1.0 - half)
