"""What is painted over the table: names on the leather, and what the tool in the hand would draw."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QPoint, QRectF, Qt
from PySide6.QtGui import QColor, QPainter
from PySide6.QtWidgets import QGraphicsItem, QGraphicsView

from nestplan.desk.table import axis
from nestplan.desk.table.item_shapes import Name, name_font
from nestplan.desk.table.tracing import Shape
from nestplan.desk.theme import current_theme, pen

__all__ = ["draw_names", "draw_pen", "draw_shapes", "names_at"]

#: A piece held where it may not lie has a dashed edge as well as another colour.
_LINES = {"good": Qt.PenStyle.SolidLine, "alarm": Qt.PenStyle.DashLine}


def names_at(items: Iterable[QGraphicsItem], scale: float) -> list[Name]:
    """The names of the items that are shown, in the longest form that fits at `scale` pixels a mm."""
    labels = [getattr(item, "label", None) for item in items if item.isVisible()]
    return [
        name for label in labels if isinstance(label, Name) and (name := label.at_scale(scale)) is not None
    ]


def draw_names(painter: QPainter, view: QGraphicsView, names: Iterable[Name]) -> None:
    """Those of the names that are in sight."""
    scale, turn = view.transform().m11(), view.viewportTransform()
    dx, dy = turn.dx(), turn.dy()
    width, height = view.viewport().width(), view.viewport().height()
    painter.save()
    painter.resetTransform()
    painter.setFont(name_font())
    color = ""
    for name in names:
        x, y = name.x * scale + dx, name.y * scale + dy
        if 0 <= x <= width and 0 <= y <= height:
            if name.color != color:
                color = name.color
                painter.setPen(QColor(color))
            name.draw(painter, x, y)
    painter.restore()


def draw_shapes(painter: QPainter, view: QGraphicsView, shapes: Iterable[Shape]) -> None:
    """What a tool would draw: lines, areas, handles and words."""
    theme = current_theme()
    reach = 4.0 / view.transform().m11()
    words = []
    for shape in shapes:
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if shape.kind == "line" and len(shape.points) > 1:
            painter.setPen(pen(theme.accent, 2.0))
            painter.drawPath(axis.line_path(shape.points))
        elif shape.kind == "area" and len(shape.points) > 2:
            painter.setPen(pen(theme.accent, 2.0))
            painter.drawPath(axis.ring_path(shape.points))
        elif shape.kind in ("good", "alarm"):
            color = QColor(theme.good if shape.kind == "good" else theme.alarm)
            painter.setPen(pen(color.name(), 2.5, _LINES[shape.kind]))
            color.setAlpha(110)
            painter.setBrush(color)
            painter.drawPath(axis.ring_path(shape.points))
        elif shape.kind in ("handles", "picked"):
            painter.setPen(pen(theme.accent, 1.5))
            painter.setBrush(QColor(theme.accent if shape.kind == "picked" else theme.raised))
            for at in shape.points:
                point = axis.scene_point(at)
                painter.drawRect(QRectF(point.x() - reach, point.y() - reach, 2 * reach, 2 * reach))
        elif shape.kind == "words":
            words.append(shape)
    painter.save()
    painter.resetTransform()
    for shape in words:
        _draw_words(painter, view.mapFromScene(axis.scene_point(shape.points[0])), shape.words)
    painter.restore()


def draw_pen(painter: QPainter, at: QPoint) -> None:
    """The cross that the arrow keys move."""
    painter.save()
    painter.resetTransform()
    painter.setPen(pen(current_theme().alarm, 1.5))
    painter.drawLine(at.x() - 14, at.y(), at.x() + 14, at.y())
    painter.drawLine(at.x(), at.y() - 14, at.x(), at.y() + 14)
    painter.restore()


def _draw_words(painter: QPainter, at: QPoint, words: str) -> None:
    theme = current_theme()
    box = painter.fontMetrics().boundingRect(words).adjusted(-6, -4, 6, 4)
    box.moveCenter(QPoint(at.x(), at.y() - 22))
    painter.setPen(pen(theme.line, 1.0))
    painter.setBrush(QColor(theme.tape))
    painter.drawRoundedRect(box, 4, 4)
    painter.setPen(QColor(theme.ink))
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)
