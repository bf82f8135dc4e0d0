"""What is painted over the table: names on the leather, and what the tool in use would draw."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPolygonF
from PySide6.QtWidgets import QGraphicsItem, QGraphicsView

from nestplan.desk.table import coordinates
from nestplan.desk.table.flaw_letters import letter_place, lines_of
from nestplan.desk.table.item_shapes import PLATE_AIR, Label
from nestplan.desk.table.items import FlawItem, HideItem, PlacementItem
from nestplan.desk.table.piece_items import PieceItem
from nestplan.desk.table.tracing import OverlayShape
from nestplan.desk.theme import current_theme, pen

Boxes = np.ndarray
"""(n, 4) float64: left, top, right, bottom; scene, mm."""

_SHIFTS = np.array(
    sorted(
        ((x / 8, y / 8) for x in range(-3, 4) for y in range(-3, 4) if x or y),
        key=lambda shift: shift[0] ** 2 + shift[1] ** 2,
    )
)
"""Where a name may move, in parts of its outline's width and height, the nearest first."""

_BESIDE = np.array(((1.0, 0.0), (-1.0, 0.0), (0.0, -1.0), (0.0, 1.0)))
"""On which sides of a mark its number may stand, the best first."""

__all__ = [
    "PlacedLabel",
    "draw_keyboard_cursor",
    "draw_labels",
    "draw_shapes",
    "fitting_labels",
    "fitting_letters",
    "fitting_numbers",
]

_LINES = {"good": Qt.PenStyle.SolidLine, "alarm": Qt.PenStyle.DashLine}
"""A piece held where it may not lie has a dashed edge as well as another colour."""


@dataclass(frozen=True)
class PlacedLabel:
    """A name in the form that fits, and where its middle is (scene, mm)."""

    label: Label
    x: float
    y: float


def fitting_letters(
    items: Sequence[QGraphicsItem], scale: float, *, moving: bool = False
) -> list[PlacedLabel]:
    """The letters of the flaws that are shown, each beside its flaw and off the pieces and the edges of the leather.

    Of letters that find room only on each other the first is shown. While the view is `moving` they stay where they
    were last.
    """
    shown = [item for item in items if item.isVisible()]
    flaws = [item for item in shown if isinstance(item, FlawItem)]
    if not moving:
        pieces = [item.ring for item in shown if isinstance(item, PlacementItem)]
        edges = lines_of([ring for item in shown if isinstance(item, HideItem) for ring in item.rings])
        taken: list[tuple[float, float]] = []
        for flaw in flaws:
            size = (flaw.letter.width + 2 * PLATE_AIR, flaw.letter.height)
            flaw.letter_at = letter_place(flaw.ring, size, scale, pieces, edges, taken)
            if flaw.letter_at is not None:
                taken.append(flaw.letter_at)
    return [PlacedLabel(flaw.letter, *flaw.letter_at) for flaw in flaws if flaw.letter_at is not None]


def fitting_numbers(items: Sequence[QGraphicsItem], scale: float) -> list[PlacedLabel]:
    """The numbers of marks, each beside its mark.

    Of numbers that find room only on marks or on each other the first are shown.
    """
    pieces = [item for item in items if isinstance(item, PieceItem) and item.isVisible()]
    marks = [(box.left(), box.top(), box.right(), box.bottom()) for item in pieces for box in item.marks]
    taken = np.empty((len(marks) * 2, 4))
    taken[: len(marks)] = np.array(marks).reshape(-1, 4)
    count, placed = len(marks), []
    for label, mark in (number for item in pieces for number in item.numbers):
        width, height = label.box(scale)
        size = np.array((width + 1.0 / scale, height - 4.0 / scale))
        center, reach = mark.center(), np.array((mark.width(), mark.height())) / 2 + size / 2 + 1.0 / scale
        places = np.array((center.x(), center.y())) + _BESIDE * reach
        clear = np.nonzero(~_meet(places, np.broadcast_to(size, places.shape), taken[:count]))[0]
        if len(clear):
            place = places[clear[0]]
            taken[count] = (*(place - size / 2), *(place + size / 2))
            count += 1
            placed.append(PlacedLabel(label, float(place[0]), float(place[1])))
    return placed


def fitting_labels(
    items: Sequence[QGraphicsItem],
    scale: float,
    letters: Sequence[PlacedLabel] = (),
    *,
    moving: bool = False,
) -> list[PlacedLabel]:
    """The names of the items that are shown, in the longest form that fits at `scale` pixels a mm, off the flaws.

    A name that would lie on a flaw or its letter moves within its outline, or stays where there is no better place.
    While the view is `moving` there is no time to look for one.
    """
    labels = [
        name
        for item in items
        if item.isVisible()
        and isinstance(label := getattr(item, "label", None), Label)
        and (name := label.at_scale(scale)) is not None
    ]
    if moving:
        return [PlacedLabel(label, label.x, label.y + label.below / scale) for label in labels]
    obstacles = _obstacles(items, letters, scale)
    middles = np.array([(label.x, label.y + label.below / scale) for label in labels]).reshape(-1, 2)
    sizes = np.array([label.box(scale) for label in labels]).reshape(-1, 2)
    for number in np.nonzero(_meet(middles, sizes, obstacles))[0]:
        labels[number], middles[number] = _moved(labels[number], middles[number], scale, obstacles)
    return [PlacedLabel(label, float(x), float(y)) for label, (x, y) in zip(labels, middles, strict=True)]


def _obstacles(items: Sequence[QGraphicsItem], letters: Sequence[PlacedLabel], scale: float) -> Boxes:
    """The boxes of the flaws that are shown, and of their letters."""
    rings = [item.ring for item in items if isinstance(item, FlawItem) and item.isVisible()]
    flaws = [(*ring.min(axis=0), *ring.max(axis=0)) for ring in rings]
    halves = [np.array((letter.label.width / 2 + PLATE_AIR, letter.label.height / 2)) for letter in letters]
    middles = [np.array((letter.x, letter.y)) for letter in letters]
    words = [(*(at - half / scale), *(at + half / scale)) for at, half in zip(middles, halves, strict=True)]
    return np.array([*flaws, *words], dtype=float).reshape(-1, 4)


def _meet(middles: np.ndarray, sizes: np.ndarray, obstacles: Boxes) -> np.ndarray:
    """Which of the boxes (n, 2), by middle and size, meet any of the obstacles (m, 4)."""
    low, high = (middles - sizes / 2)[:, None, :], (middles + sizes / 2)[:, None, :]
    apart = np.logical_or(low > obstacles[None, :, 2:], high < obstacles[None, :, :2])
    return np.asarray(np.any(~np.any(apart, axis=2), axis=1))


def _moved(label: Label, middle: np.ndarray, scale: float, obstacles: Boxes) -> tuple[Label, np.ndarray]:
    """The label at the nearest of some places inside its outline that is clear of the obstacles.

    Where there is none for it nor for a shorter form, it stays where it was.
    """
    form: Label | None = label
    while form is not None:
        place = _clear_place(form, middle, np.asarray(form.box(scale)), obstacles)
        if place is not None:
            return form, place
        form = form.instead
    return label, middle


def _clear_place(label: Label, middle: np.ndarray, size: np.ndarray, obstacles: Boxes) -> np.ndarray | None:
    ring = label.ring * (1.0, -1.0)
    reach = np.ptp(ring, axis=0)
    places = np.vstack((middle, middle + _SHIFTS * reach))
    clear = ~_meet(places, np.broadcast_to(size, places.shape), obstacles)
    path = QPolygonF([QPointF(x, y) for x, y in ring.tolist()])
    for place in places[clear]:
        left, top = place - size / 2
        corners = [(left, top), (left + size[0], top), (left, top + size[1]), (left + size[0], top + size[1])]
        if all(path.containsPoint(QPointF(*corner), Qt.FillRule.OddEvenFill) for corner in corners):
            return np.asarray(place)
    return None


def draw_labels(painter: QPainter, view: QGraphicsView, names: Iterable[PlacedLabel]) -> None:
    """Those of the names that are in sight."""
    scale, turn = view.transform().m11(), view.viewportTransform()
    dx, dy = turn.dx(), turn.dy()
    width, height = view.viewport().width(), view.viewport().height()
    painter.save()
    painter.resetTransform()
    color = ""
    for name in names:
        x, y = name.x * scale + dx, name.y * scale + dy
        if 0 <= x <= width and 0 <= y <= height:
            if name.label.color != color:
                color = name.label.color
                painter.setPen(QColor(color))
            name.label.draw(painter, x, y)
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
