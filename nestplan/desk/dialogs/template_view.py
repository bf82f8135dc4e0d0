"""The photograph with the templates found drawn over it: click selects one, its points can be mended."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import (
    QBrush,
    QColor,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPolygonF,
)

from nestplan.desk.dialogs.picture_view import PictureView
from nestplan.desk.editing.template_choices import TemplateTalk
from nestplan.desk.table.tracing import PointerPosition, PointsTool
from nestplan.desk.theme import current_theme, pen

__all__ = ["TemplateView"]

_KEYS = {
    Qt.Key.Key_Delete: "delete",
    Qt.Key.Key_Backspace: "backspace",
    Qt.Key.Key_S: "s",
    Qt.Key.Key_T: "t",
    Qt.Key.Key_Escape: "escape",
}
_NEAR = 8.0
"""How far a click may miss, pixels of the screen."""


class TemplateView(PictureView):
    """Shows what was found; `selected` carries the number of the template clicked, `mended` a number and a ring."""

    selected = Signal(int)
    mended = Signal(int, object)

    def __init__(self) -> None:
        super().__init__("The templates found in the photograph")
        self.talk: TemplateTalk | None = None
        self.current = -1
        self.tool: PointsTool | None = None
        self.setMouseTracking(True)

    def show_talk(self, talk: TemplateTalk) -> None:
        """Show the templates of a photograph."""
        self.talk, self.current, self.tool = talk, 0, None
        image = talk.read.photo.image
        height, width, _ = image.shape
        made = QImage(np.ascontiguousarray(image).data, width, height, 3 * width, QImage.Format.Format_RGB888)
        self.show_picture(made.copy(), talk.read.photo.size, most=2000)

    def select(self, number: int) -> None:
        """Show one template as the one spoken of; mending ends."""
        self.current, self.tool = number, None
        self.update()

    def mend(self) -> None:
        """Let the points of the current template be dragged, added and taken out."""
        if self.talk is None or self.current < 0:
            return

        def changed(ring: np.ndarray, _words: str) -> np.ndarray:
            self.mended.emit(self.current, ring)
            return ring

        self.tool = PointsTool(
            np.asarray(self.talk.outline(self.current)), changed, cancelled=self._end_mending
        )
        self.setFocus()
        self.update()

    def _end_mending(self) -> None:
        self.tool = None
        self.update()

    def to_view(self, points: np.ndarray) -> list[QPointF]:
        """Where places (n, 2), mm on the ground, are seen."""
        assert self.talk is not None
        box, (width, height) = self.box(), self.extent
        seen = self.talk.read.straight.photo_points(np.asarray(points, dtype=np.float64).reshape(-1, 2))
        places = (seen + 0.5) * [box.width() / width, box.height() / height] + [box.x(), box.y()]
        return [QPointF(float(x), float(y)) for x, y in places]

    def _pointer(self, event: QMouseEvent) -> PointerPosition:
        assert self.talk is not None
        box, (width, height) = self.box(), self.extent
        at = event.position()
        pixels = np.array(
            [[(at.x() - box.x()) * width / box.width(), (at.y() - box.y()) * height / box.height()]]
        )
        pixels = np.vstack([pixels, pixels + np.array([width / box.width(), 0])]) - 0.5
        ground = self.talk.read.straight.floor_points(pixels)
        shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        step = float(np.hypot(*(ground[1] - ground[0])))
        return PointerPosition((float(ground[0, 0]), float(ground[0, 1])), _NEAR * step, shift=shift)

    def press(self, event: QMouseEvent) -> None:
        if self.talk is None:
            return
        pointer = self._pointer(event)
        if self.tool is not None and self.tool.press(pointer):
            self.update()
            return
        number = self._template_at(pointer)
        if number >= 0 and number != self.current:
            self.select(number)
            self.selected.emit(number)
        self.update()

    def _template_at(self, pointer: PointerPosition) -> int:
        import shapely

        assert self.talk is not None
        at = shapely.Point(pointer.at)
        rings = [shapely.Polygon(self.talk.outline(number)) for number in range(len(self.talk.read.found))]
        return next(
            (number for number, ring in enumerate(rings) if ring.distance(at) <= pointer.tolerance / 2), -1
        )

    def _tell_tool(self, event: QMouseEvent, tell: Callable[[PointsTool, PointerPosition], object]) -> None:
        if self.tool is not None and self.talk is not None:
            tell(self.tool, self._pointer(event))
            self.update()

    def drag(self, event: QMouseEvent) -> None:
        down = bool(event.buttons() & Qt.MouseButton.LeftButton)
        self._tell_tool(event, lambda tool, at: tool.drag(at) if down else tool.hover(at))

    def release(self, event: QMouseEvent) -> None:
        self._tell_tool(event, lambda tool, at: tool.release(at))

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        if self.tool is None:
            self.mend()
        else:
            self._tell_tool(event, lambda tool, at: tool.double_click(at))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = _KEYS.get(Qt.Key(event.key()), "")
        if self.tool is not None and key and self.tool.key(key):
            self.update()
        else:
            super().keyPressEvent(event)

    def paint_over(self, painter: QPainter) -> None:
        if self.talk is not None:
            for number in range(len(self.talk.read.found)):
                self._paint_template(painter, number)
            if self.tool is not None:
                self._paint_tool(painter)

    def _paint_template(self, painter: QPainter, number: int) -> None:
        assert self.talk is not None
        theme, found, taken = (
            current_theme(),
            self.talk.read.found[number],
            number not in self.talk.choices.left_out,
        )
        current = number == self.current
        style = Qt.PenStyle.SolidLine if taken else Qt.PenStyle.DotLine
        color = QColor(theme.accent if taken else theme.soft)
        painter.setPen(pen(color.name(), 3.0 if current else 1.6, style))
        color.setAlpha(60 if current else 0)
        painter.setBrush(QBrush(color))
        outline = self.talk.outline(number)
        painter.drawPolygon(QPolygonF(self.to_view(outline)))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(pen(theme.alarm, 1.6))
        for ring in found.inside.openings:
            painter.drawPolygon(QPolygonF(self.to_view(ring)))
        for hole in found.inside.holes:
            self._paint_circle(painter, hole.at, hole.diameter)
        painter.setPen(pen(theme.good, 1.6))
        for spot in found.inside.spots:
            self._paint_circle(painter, spot.at, spot.diameter + 3.0)
        for arrow in found.inside.arrows:
            painter.drawPolyline(QPolygonF(self.to_view(np.array([arrow.tail, arrow.tip]))))
        self._paint_name(painter, number, outline)

    def _paint_circle(self, painter: QPainter, at: tuple[float, float], diameter: float) -> None:
        middle, side = self.to_view(np.array([at, (at[0] + diameter / 2, at[1])]))
        radius = max(float(np.hypot(side.x() - middle.x(), side.y() - middle.y())), 2.0)
        painter.drawEllipse(middle, radius, radius)

    def _paint_name(self, painter: QPainter, number: int, outline: np.ndarray) -> None:
        assert self.talk is not None
        theme, words = current_theme(), self.talk.name(number)
        box = painter.fontMetrics().boundingRect(words).adjusted(-4, -2, 4, 2)
        (middle,) = self.to_view(outline.mean(axis=0))
        place = QRectF(box)
        place.moveCenter(middle)
        ground = QColor(theme.raised)
        ground.setAlpha(220)
        painter.fillRect(place, ground)
        painter.setPen(pen(theme.ink))
        painter.drawText(place, Qt.AlignmentFlag.AlignCenter, words)

    def _paint_tool(self, painter: QPainter) -> None:
        theme = current_theme()
        assert self.tool is not None
        for shape in self.tool.preview():
            places = self.to_view(np.array(shape.points))
            painter.setPen(pen(theme.alarm, 1.6))
            painter.setBrush(QColor(theme.alarm if shape.kind == "selected" else theme.raised))
            if shape.kind in ("handles", "selected"):
                for place in places:
                    painter.drawEllipse(place, 4, 4)
            elif shape.kind == "area":
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawPolygon(QPolygonF(places))
