"""What lies on the table, as Qt's scene items: one class for each type of the model, one dict that says which.

Each item takes one unchangeable record and draws it; it is replaced when the record is. Lengths are mm. The
direction of y is `axis`'s business, colours and patterns are `look`'s.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QImage, QImageReader, QPainterPath, QPixmap, QTransform
from PySide6.QtWidgets import QGraphicsItem, QGraphicsPathItem, QGraphicsPixmapItem, QGraphicsSimpleTextItem

from nestplan.desk import axis
from nestplan.desk.document import Photo
from nestplan.desk.look import PATTERNS, current, pattern, pen
from nestplan.geometry.ring import centroid
from nestplan.model.hide import Flaw, Hide, Region
from nestplan.model.plan import Offcut, Placement
from nestplan.sheets.palette import FLAW_LETTER, FLAW_WORDS

__all__ = ["ITEMS", "LAYERS", "Backbone", "Laid", "Stretch", "item_for"]

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
_HEIGHT = {name: number * 10.0 for number, name in enumerate(LAYERS)}


@dataclass(frozen=True)
class Backbone:
    """The backbone of a hide: points from neck to tail, mm."""

    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Stretch:
    """An arrow at `at` (mm) along which the leather gives most: degrees, or "all"; `length` in mm."""

    at: tuple[float, float]
    axis: float | str
    length: float


@dataclass(frozen=True)
class Laid:
    """A placement as it lies: with its tint, its words, whether it is picked and what is wrong with it.

    `ghost` is what is only suggested: a plan in the making, or the best place so far.
    """

    placement: Placement
    tint: int
    words: str
    picked: bool = False
    wrong: bool = False
    ghost: bool = False


class _Area(QGraphicsPathItem):
    """An area with a pen and a fill; a pattern keeps its size on the screen at any zoom."""

    layer = "outline"

    def __init__(self, path: QPainterPath) -> None:
        super().__init__(path)
        self.setZValue(_HEIGHT[self.layer])

    def rescale(self, scale: float) -> None:
        """The table is now shown at `scale` pixels a mm."""
        brush = self.brush()
        if brush.style() not in (Qt.BrushStyle.NoBrush, Qt.BrushStyle.SolidPattern):
            brush.setTransform(QTransform.fromScale(1.0 / scale, 1.0 / scale))
            self.setBrush(brush)


class HideItem(_Area):
    """The leather itself."""

    layer = "outline"

    def __init__(self, hide: Hide) -> None:
        super().__init__(axis.ring_path(hide.ring, hide.hole_rings))
        self.setPen(pen(current().edge, 2.0))
        self.setBrush(QBrush(QColor(current().leather)))
        self.setZValue(-5.0)


class FlawItem(_Area):
    """A flaw: a pattern for what it spoils, its letter, and a thin line where its keep-away margin ends."""

    layer = "flaws"

    def __init__(self, flaw: Flaw) -> None:
        super().__init__(axis.ring_path(flaw.ring))
        color = current().flaw
        self.setPen(pen(color, 2.0 if flaw.spoils == "through" else 1.2))
        self.setBrush(pattern(color, PATTERNS[flaw.spoils]))
        self.setToolTip(f"{flaw.name or 'Flaw'}: {FLAW_WORDS[flaw.spoils]}")
        if flaw.margin > 0:
            from nestplan.geometry.ring import offset_outward

            margin = QGraphicsPathItem(axis.ring_path(offset_outward(flaw.ring, flaw.margin)), self)
            margin.setPen(pen(color, 1.0, Qt.PenStyle.DotLine))
        high = axis.scene_point(flaw.ring[int(flaw.ring.sum(axis=1).argmax())])
        _sign(self, FLAW_LETTER[flaw.spoils], high, color, bold=True)


class RegionItem(_Area):
    """A region: a dash-dotted edge, its name and its firmness."""

    layer = "regions"

    def __init__(self, region: Region) -> None:
        super().__init__(axis.ring_path(region.ring))
        self.setPen(pen(current().region, 1.2, Qt.PenStyle.DashDotLine))
        middle = axis.scene_point(centroid(region.ring))
        _sign(self, f"{region.name} · firmness {region.firmness}", middle, current().region, centred=True)


class BackboneItem(_Area):
    """The backbone: a long-dashed line, with the tail end marked."""

    layer = "stretch"

    def __init__(self, backbone: Backbone) -> None:
        super().__init__(axis.line_path(backbone.points))
        self.setPen(pen(current().edge, 1.6, Qt.PenStyle.DashLine))
        _sign(self, "neck", axis.scene_point(backbone.points[0]), current().soft)
        _sign(self, "tail", axis.scene_point(backbone.points[-1]), current().soft)


class StretchItem(_Area):
    """A double arrow along which the leather gives most; a ring of arrows where it gives every way."""

    layer = "stretch"

    def __init__(self, stretch: Stretch) -> None:
        axes = (0.0, 60.0, 120.0) if isinstance(stretch.axis, str) else (float(stretch.axis),)
        path = QPainterPath()
        for angle in axes:
            _double_arrow(path, stretch.at, angle, stretch.length)
        super().__init__(path)
        self.setPen(pen(current().stretch, 2.0))


class LaidItem(_Area):
    """A placed piece or strip: its finished outline filled, its overcut band round it, its name inside."""

    layer = "pieces"

    def __init__(self, laid: Laid) -> None:
        placement, look = laid.placement, current()
        super().__init__(axis.ring_path(placement.finished_ring))
        self.laid = laid
        if placement.strip:
            self.setZValue(_HEIGHT["strips"])
        tint = QColor(look.tints[laid.tint % len(look.tints)])
        if laid.ghost:
            tint.setAlpha(150)
        if laid.wrong:
            self.setBrush(pattern(look.alarm, Qt.BrushStyle.DiagCrossPattern))
        elif placement.done:
            self.setBrush(pattern(look.soft, Qt.BrushStyle.Dense6Pattern))
        else:
            self.setBrush(QBrush(tint))
        width = 3.0 if laid.picked else 1.0
        self.setPen(pen(look.alarm if laid.wrong else look.accent if laid.picked else look.piece_ink, width))
        if placement.overcut > 0 or laid.wrong:
            self.overcut = QGraphicsPathItem(axis.ring_path(placement.cut_ring), self)
            self.overcut.setFlag(QGraphicsItem.GraphicsItemFlag.ItemStacksBehindParent)
            self.overcut.setPen(pen(look.alarm if laid.wrong else look.edge, 1.0, Qt.PenStyle.DashLine))
        else:
            self.overcut = None
        signs = ("✓ " if placement.done else "") + ("⚷ " if placement.locked else "")
        self.label = _written(self, signs + laid.words, placement.finished_ring, look.piece_ink)
        self.setToolTip(signs + laid.words)


class OffcutItem(_Area):
    """What is left: a dotted edge and its size."""

    layer = "offcuts"

    def __init__(self, offcut: Offcut) -> None:
        super().__init__(axis.ring_path(offcut.outline, offcut.holes))
        look = current()
        self.setPen(pen(look.offcut, 1.4, Qt.PenStyle.DotLine))
        if len(offcut.rectangle) >= 3:
            inner = QGraphicsPathItem(axis.ring_path(offcut.rectangle), self)
            inner.setPen(pen(look.offcut, 1.0, Qt.PenStyle.DashLine))
            middle = axis.scene_point(np.mean(np.asarray(offcut.rectangle), axis=0))
            size = f"{offcut.rectangle_width / 10:.0f} × {offcut.rectangle_height / 10:.0f} cm free"
            _sign(self, size, middle, look.offcut, centred=True)


class PhotoItem(QGraphicsPixmapItem):
    """A photograph under a hide, straightened by its matrix."""

    layer = "photo"

    def __init__(self, photo: Photo) -> None:
        super().__init__(QPixmap.fromImage(_picture(photo.file)))
        self.setTransform(axis.pixels_matrix(photo.matrix))
        self.setTransformationMode(Qt.TransformationMode.SmoothTransformation)
        self.setZValue(-10.0)

    def rescale(self, scale: float) -> None:
        """Nothing to do: a picture grows with the table."""


ITEMS: dict[type, Callable[[Any], QGraphicsItem]] = {
    Photo: PhotoItem,
    Hide: HideItem,
    Flaw: FlawItem,
    Region: RegionItem,
    Backbone: BackboneItem,
    Stretch: StretchItem,
    Laid: LaidItem,
    Offcut: OffcutItem,
}


def item_for(thing: object) -> QGraphicsItem:
    """The item that draws `thing`. Errors: KeyError where its type is not in ITEMS."""
    return ITEMS[type(thing)](thing)


def _sign(
    parent: QGraphicsItem, words: str, at: QPointF, color: str, *, centred: bool = False, bold: bool = False
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
        text.setTransform(QTransform.fromTranslate(-text.boundingRect().width() / 2, -8))
    text.setPos(at)
    return text


_FONT = QFont("DejaVu Sans Condensed")
_FONT.setPixelSize(100)


def _written(parent: QGraphicsItem, words: str, ring: np.ndarray, color: str) -> QGraphicsPathItem:
    """Words written on the leather along the longer side of a ring, as large as fits, at most 24 mm high."""
    middle = centroid(ring)
    edges = ring - np.asarray(middle)
    values, vectors = np.linalg.eigh(np.cov(edges.T))
    long_axis = vectors[:, int(values.argmax())]
    angle = math.degrees(math.atan2(long_axis[1], long_axis[0]))
    angle = (angle + 90.0) % 180.0 - 90.0
    across = np.array((-long_axis[1], long_axis[0]))
    length = float(np.ptp(edges @ long_axis))
    depth = _depth_at_middle(edges, long_axis, across)
    path = QPainterPath()
    path.addText(0.0, 0.0, _FONT, words)
    box = path.boundingRect()
    size = min(24.0 / 72.0, 0.62 * length / max(box.width(), 1.0), 0.55 * depth / max(box.height(), 1.0))
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


def _double_arrow(path: QPainterPath, at: tuple[float, float], angle: float, length: float) -> None:
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


def _picture(file: str) -> QImage:
    reader = QImageReader(file)
    reader.setAutoTransform(True)
    image = reader.read()
    if image.isNull():
        image = QImage(8, 8, QImage.Format.Format_RGB32)
        image.fill(Qt.GlobalColor.lightGray)
    return image


def bounds_of(item: QGraphicsItem) -> QRectF:
    """Where an item and its children lie."""
    return item.sceneBoundingRect() | item.mapRectToScene(item.childrenBoundingRect())
