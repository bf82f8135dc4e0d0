"""What the table's items are put together from: areas, labels and arrows. And the table's layers."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QPainter, QPainterPath, QStaticText, QTextOption, QTransform
from PySide6.QtWidgets import (
    QGraphicsItem,
    QGraphicsPathItem,
    QGraphicsSimpleTextItem,
    QStyleOptionGraphicsItem,
    QWidget,
)

from nestplan.desk.table import coordinates
from nestplan.desk.theme import current_theme
from nestplan.geometry.ring import centroid

__all__ = [
    "FINE_SIZE",
    "LABEL_SIZE",
    "LAYERS",
    "LETTER_SIZE",
    "PLATE_AIR",
    "Z_VALUES",
    "Area",
    "Label",
    "double_arrow",
    "fixed_size_text",
]

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
"""The layers a worker can show or hide, in the order they lie on each other."""
LABEL_SIZE, FINE_SIZE = 12, 9
"""Pixels of the letters of names on the leather, and of those in something as slim as a strap."""
LETTER_SIZE = 13
"""Pixels of the letter of a flaw."""
PLATE_AIR = 3
"""Pixels by which the plate behind words is wider than these, on either side."""
_PLATE_ALPHA = 205
"""How opaque the plate behind words is, of 255."""

Z_VALUES = {name: number * 10.0 for number, name in enumerate(LAYERS)}
"""How high Qt stacks each layer."""


class Area(QGraphicsPathItem):
    """An area with a pen and a fill; a pattern keeps its size on the screen at any zoom."""

    layer = "outline"
    patterned = False

    def __init__(self, path: QPainterPath) -> None:
        super().__init__(path)
        self.setZValue(Z_VALUES[self.layer])

    def fill(self, brush: QBrush) -> None:
        """Fill it with a colour or a pattern."""
        self.patterned = brush.style() not in (Qt.BrushStyle.NoBrush, Qt.BrushStyle.SolidPattern)
        self.setBrush(brush)

    def rescale(self, scale: float) -> None:
        """The table is now shown at `scale` pixels a mm."""
        brush = self.brush()
        brush.setTransform(QTransform.fromScale(1.0 / scale, 1.0 / scale))
        self.setBrush(brush)


class _TextOnPlate(QGraphicsSimpleTextItem):
    """Words on a plate of the table's colour."""

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        color = QColor(current_theme().raised)
        color.setAlpha(_PLATE_ALPHA)
        painter.fillRect(self.boundingRect().adjusted(-2, 0, 2, 0), color)
        super().paint(painter, option, widget)  # type: ignore[arg-type]  # Qt takes None


def fixed_size_text(
    parent: QGraphicsItem,
    words: str,
    at: QPointF,
    color: str,
    *,
    plate: bool = False,
) -> QGraphicsSimpleTextItem:
    """Words of the same size on the screen at any zoom; with `plate` readable over a photograph too."""
    text = _TextOnPlate(words, parent) if plate else QGraphicsSimpleTextItem(words, parent)
    text.setFont(_font(13, False))
    text.setBrush(QBrush(QColor(color)))
    text.setFlag(QGraphicsItem.GraphicsItemFlag.ItemIgnoresTransformations)
    text.setPos(at)
    return text


class Label:
    """A text in the middle of a ring, the same size on the screen at any zoom, drawn by the table where it fits.

    Level where the ring is wide enough for it, else standing, read from the right. Words with a line break
    stand on two lines; where they do not fit, `instead` may. No scene item: hundreds of those would cost more than
    the table has time for. `at` (mm) is where it stands if not in the middle; with a `plate` it is readable over
    anything, `below` moves it down so many pixels. A `level` one never stands.
    """

    def __init__(
        self,
        words: str,
        ring: np.ndarray,
        color: str,
        instead: Label | None = None,
        *,
        size: int = LABEL_SIZE,
        at: tuple[float, float] | None = None,
        plate: bool = False,
        below: float = 0.0,
        bold: bool = False,
        level: bool = False,
    ) -> None:
        self.below = below
        middle = at or centroid(ring)
        self.ring, self.font, self.plate = ring, _font(size, bold), plate
        along, across = _chord(ring, middle, 0), _chord(ring, middle, 1)
        slim = min(along, across) < 0.3 * max(along, across)
        self.words = words.replace("\n", " ") if slim else words
        self.color = color
        spot = coordinates.scene_point(middle)
        self.x, self.y = spot.x(), spot.y()
        self.standing = across > 1.6 * along and not level
        self.text = QStaticText(self.words.replace("\n", "\u2028"))
        self.text.setTextFormat(Qt.TextFormat.PlainText)
        self.text.setPerformanceHint(QStaticText.PerformanceHint.AggressiveCaching)
        option = QTextOption(Qt.AlignmentFlag.AlignHCenter)
        self.text.setTextOption(option)
        self.text.prepare(QTransform(), self.font)
        self.text.setTextWidth(self.text.size().width())
        whole = self.text.size()
        self.width, self.height = whole.width(), whole.height()
        width, height = (across, along) if self.standing else (along, across)
        # Pixels a mm from which on the name fits inside the ring.
        self.least_scale = max((self.width + 6) / max(width, 1e-6), (self.height - 2) / max(height, 1e-6))
        self.instead = instead

    def at_scale(self, scale: float) -> Label | None:
        """The longest form of the name that fits at `scale` pixels a mm."""
        if scale >= self.least_scale:
            return self
        return self.instead.at_scale(scale) if self.instead is not None else None

    def box(self, scale: float) -> tuple[float, float]:
        """How wide and high it is on the table, mm, at `scale` pixels a mm."""
        width, height = (self.height, self.width) if self.standing else (self.width, self.height)
        return width / scale, height / scale

    def draw(self, painter: QPainter, x: float, y: float) -> None:
        """Draw it with its middle at a pixel; the painter holds pixels."""
        painter.setFont(self.font)
        if self.plate:
            color = QColor(current_theme().raised)
            color.setAlpha(_PLATE_ALPHA)
            painter.fillRect(
                QRectF(
                    x - self.width / 2 - PLATE_AIR,
                    y - self.height / 2,
                    self.width + 2 * PLATE_AIR,
                    self.height,
                ),
                color,
            )
        if not self.standing:
            painter.drawStaticText(int(x - self.width / 2), int(y - self.height / 2), self.text)
            return
        painter.save()
        painter.translate(x, y)
        painter.rotate(-90)
        painter.drawStaticText(QPointF(-self.width / 2, -self.height / 2), self.text)
        painter.restore()


def _chord(ring: np.ndarray, middle: tuple[float, float], along: int) -> float:
    """Twice the lesser distance from the middle to the ring, to either side along x (0) or y (1), mm."""
    edges = ring - np.asarray(middle)
    side, level = edges[:, along], edges[:, 1 - along]
    following = np.roll(level, -1)
    crossing = np.nonzero((level <= 0) != (following <= 0))[0]
    if len(crossing) < 2:
        return 0.0
    share = level[crossing] / (level[crossing] - following[crossing])
    reach = side[crossing] + share * (np.roll(side, -1)[crossing] - side[crossing])
    above, below = reach[reach > 0], reach[reach <= 0]
    if not len(above) or not len(below):
        return 0.0
    return 2.0 * float(min(above.min(), -below.max()))


@lru_cache(maxsize=8)
def _font(size: int, bold: bool) -> QFont:
    font = QFont()
    font.setPixelSize(size)
    font.setBold(bold)
    return font


def double_arrow(path: QPainterPath, at: tuple[float, float], angle: float, length: float) -> None:
    half = length / 2
    head = length * 0.16
    direction = np.array((math.cos(math.radians(angle)), math.sin(math.radians(angle))))
    side = np.array((-direction[1], direction[0]))
    for sign in (1.0, -1.0):
        tip = np.asarray(at) + sign * half * direction
        path.moveTo(coordinates.scene_point(at))
        path.lineTo(coordinates.scene_point(tip.tolist()))
        for turn in (1.0, -1.0):
            barb = tip - sign * head * direction + turn * head * 0.55 * side
            path.moveTo(coordinates.scene_point(tip.tolist()))
            path.lineTo(coordinates.scene_point(barb.tolist()))
