"""What the table's items are put together from: areas, signs, written names, arrows. And the table's layers.

Not here: which record is drawn how (items, piece_items).
"""

from __future__ import annotations

import math

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QPainterPath, QTransform
from PySide6.QtWidgets import QGraphicsItem, QGraphicsPathItem, QGraphicsSimpleTextItem

from nestplan.desk import axis
from nestplan.geometry.ring import centroid

__all__ = ["HEIGHT", "LAYERS", "Area", "double_arrow", "sign", "written"]

#: The layers a worker can show or hide, in the order they lie on each other.
LAYERS: dict[str, str] = {
    "photo": "Photograph",
    "outline": "Outline",
    "regions": "Regions",
    "stretch": "Stretch and backbone",
    "offcuts": "Offcuts",
    "strips": "Strips",
    "pieces": "Pieces",
    "overcuts": "Overcut",
    "flaws": "Flaws",
    "names": "Names",
}
HEIGHT = {name: number * 10.0 for number, name in enumerate(LAYERS)}


class Area(QGraphicsPathItem):
    """An area with a pen and a fill; a pattern keeps its size on the screen at any zoom."""

    layer = "outline"

    def __init__(self, path: QPainterPath) -> None:
        super().__init__(path)
        self.setZValue(HEIGHT[self.layer])

    def rescale(self, scale: float) -> None:
        """The table is now shown at `scale` pixels a mm."""
        brush = self.brush()
        if brush.style() not in (Qt.BrushStyle.NoBrush, Qt.BrushStyle.SolidPattern):
            brush.setTransform(QTransform.fromScale(1.0 / scale, 1.0 / scale))
            self.setBrush(brush)


def sign(
    parent: QGraphicsItem,
    words: str,
    at: QPointF,
    color: str,
    *,
    centred: bool = False,
    bold: bool = False,
    below: float = 0.0,
) -> QGraphicsSimpleTextItem:
    """Words of the same size on the screen at any zoom."""
    text = QGraphicsSimpleTextItem(words, parent)
    font = QFont()
    font.setPixelSize(13)
    font.setBold(bold)
    text.setFont(font)
    text.setBrush(QBrush(QColor(color)))
    text.setFlag(QGraphicsItem.GraphicsItemFlag.ItemIgnoresTransformations)
    if centred:
        text.setTransform(QTransform.fromTranslate(-text.boundingRect().width() / 2, below - 8))
    text.setPos(at)
    return text


_FONT = QFont("DejaVu Sans Condensed")
_FONT.setPixelSize(100)


def written(parent: QGraphicsItem, words: str, ring: np.ndarray, color: str) -> QGraphicsPathItem:
    """Words written on the leather along the longer side of a ring, as large as fits, at most 24 mm a line.

    Words with a line break stand on two lines where the ring is wide enough across for that. The item's data 0
    is the height of a line, mm.
    """
    middle = centroid(ring)
    edges = ring - np.asarray(middle)
    values, vectors = np.linalg.eigh(np.cov(edges.T))
    long_axis = vectors[:, int(values.argmax())]
    if values.max() < 1.6 * values.min():
        long_axis = np.array((1.0, 0.0))  # nearly as wide as long: written level is read most easily
    angle = math.degrees(math.atan2(long_axis[1], long_axis[0]))
    angle = 90.0 - (90.0 - angle) % 180.0  # read from below or from the right, never upside down
    across = np.array((-long_axis[1], long_axis[0]))
    length = float(np.ptp(edges @ long_axis))
    depth = _depth_at_middle(edges, long_axis, across)
    lines = words.split("\n") if depth > 0.3 * length else [words.replace("\n", " ")]
    path = QPainterPath()
    for number, line in enumerate(lines):
        one = QPainterPath()
        one.addText(0.0, 0.0, _FONT, line)
        one.translate(-one.boundingRect().center().x(), 110.0 * number)
        path.addPath(one)
    box = path.boundingRect()
    size = min(24.0 / 72.0, 0.78 * length / max(box.width(), 1.0), 0.66 * depth / max(box.height(), 1.0))
    text = QGraphicsPathItem(path, parent)
    turn = QTransform()
    at = axis.scene_point(middle)
    turn.translate(at.x(), at.y())
    turn.rotate(axis.scene_angle(angle))
    turn.scale(size, size)
    turn.translate(-box.center().x(), -box.center().y())
    text.setTransform(turn)
    text.setPen(Qt.PenStyle.NoPen)
    text.setBrush(QBrush(QColor(color)))
    text.setData(0, size * 72.0)
    return text


def _depth_at_middle(edges: np.ndarray, long_axis: np.ndarray, across: np.ndarray) -> float:
    """How far a ring reaches across at its middle, mm."""
    along = edges @ long_axis
    side = edges @ across
    following = np.roll(along, -1)
    crossing = np.nonzero((along <= 0) != (following <= 0))[0]
    if len(crossing) < 2:
        return float(np.ptp(side))
    share = along[crossing] / (along[crossing] - following[crossing])
    heights = side[crossing] + share * (np.roll(side, -1)[crossing] - side[crossing])
    above, below = heights[heights > 0], heights[heights <= 0]
    if not len(above) or not len(below):
        return float(np.ptp(side)) / 4
    return 2.0 * float(min(above.min(), -below.max()))


def double_arrow(path: QPainterPath, at: tuple[float, float], angle: float, length: float) -> None:
    half = length / 2
    head = length * 0.16
    direction = np.array((math.cos(math.radians(angle)), math.sin(math.radians(angle))))
    side = np.array((-direction[1], direction[0]))
    for sign in (1.0, -1.0):
        tip = np.asarray(at) + sign * half * direction
        path.moveTo(axis.scene_point(at))
        path.lineTo(axis.scene_point(tip))
        for turn in (1.0, -1.0):
            path.moveTo(axis.scene_point(tip))
            path.lineTo(axis.scene_point(tip - sign * head * direction + turn * head * 0.55 * side))
