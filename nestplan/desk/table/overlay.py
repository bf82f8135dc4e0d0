"""What is painted over the table: names on the leather, and what the tool in use would draw."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QPoint, QRectF, Qt
from PySide6.QtGui import QColor, QPainter
from PySide6.QtWidgets import QGraphicsItem, QGraphicsView

from nestplan.desk.table import coordinates
from nestplan.desk.table.item_shapes import Label, label_font
from nestplan.desk.table.tracing import OverlayShape
from nestplan.desk.theme import current_theme, pen

__all__ = ["draw_keyboard_cursor", "draw_labels", "draw_shapes", "fitting_labels"]

_LINES = {"good": Qt.PenStyle.SolidLine, "alarm": Qt.PenStyle.DashLine}
"""A piece held where it may not lie has a dashed edge as well as another colour."""


def fitting_labels(items: Iterable[QGraphicsItem], scale: float) -> list[Label]:
    """The names of the items that are shown, in the longest form that fits at `scale` pixels a mm."""
    labels = [getattr(item, "label", None) for item in items if item.isVisible()]
    return [
        name for label in labels if isinstance(label, Label) and (name := label.at_scale(scale)) is not None
    ]


def draw_labels(painter: QPainter, view: QGraphicsView, names: Iterable[Label]) -> None:
    """Those of the names that are in sight."""
    scale, turn = view.transform().m11(), view.viewportTransform()
    dx, dy = turn.dx(), turn.dy()
    width, height = view.viewport().width(), view.viewport().height()
    painter.save()
    painter.resetTransform()
    painter.setFont(label_font())
    color = ""
    for name in names:
        x, y = name.x * scale + dx, name.y * scale + dy
        if 0 <= x <= width and 0 <= y <= height:
            if name.color != color:
                color = name.color
                painter.setPen(QColor(color))
            name.draw(painter, x, y)
    painter.restore()


def draw_shapes(painter: QPainter, view: QGraphicsView, shapes: Iterable[OverlayShape]) -> None:
    """What a tool would draw: lines, areas, handles and words."""
    theme = current_theme()
    half_side = 4.0 / view.transform().m11()
    words = []
    for shape in shapes:
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if shape.kind == "line" and len(shape.points) > 1:
            painter.setPen(pen(theme.accent, 2.0))
            painter.drawPath(coordinates.line_path(shape.points))
        elif shape.kind == "area" and len(shape.points) > 2:
            painter.setPen(pen(theme.accent, 2.0))
            painter.drawPath(coordinates.ring_path(shape.points))
        elif shape.kind in ("good", "alarm"):
            color = QColor(theme.good if shape.kind == "good" else theme.alarm)
            painter.setPen(pen(color.name(), 2.5, _LINES[shape.kind]))
            color.setAlpha(110)
            painter.setBrush(color)
            painter.drawPath(coordinates.ring_path(shape.points))
        elif shape.kind in ("handles", "selected"):
            painter.setPen(pen(theme.accent, 1.5))
            painter.setBrush(QColor(theme.accent if shape.kind == "selected" else theme.raised))
            for at in shape.points:
                point = coordinates.scene_point(at)
                painter.drawRect(
                    QRectF(point.x() - half_side, point.y() - half_side, 2 * half_side, 2 * half_side)
                )
        elif shape.kind == "words":
            words.append(shape)
    painter.save()
    painter.resetTransform()
    for shape in words:
        _draw_words(painter, view.mapFromScene(coordinates.scene_point(shape.points[0])), shape.words)
    painter.restore()


def draw_keyboard_cursor(painter: QPainter, at: QPoint) -> None:
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
