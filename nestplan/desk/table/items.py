"""What lies on the table, as Qt's scene items: one class for each type of the model, one dict that says which.

Each item takes one unchangeable record and draws it; it is replaced when the record is. Lengths are mm. The
direction of y is `axis`'s business, colours and patterns are `theme`'s.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QImage, QImageReader, QPainterPath, QPixmap, QTransform
from PySide6.QtWidgets import QGraphicsItem, QGraphicsPathItem, QGraphicsPixmapItem

from nestplan.desk.table import axis
from nestplan.desk.table.item_shapes import HEIGHT, LAYERS, Area, Name, double_arrow, sign
from nestplan.desk.table.piece_items import Drawn, DrawnItem
from nestplan.desk.theme import current_theme, flaw_pattern, pattern, pen
from nestplan.model.hide import Flaw, Hide
from nestplan.model.plan import Offcut, Placement
from nestplan.tasks.contents import HidePhoto

#: Longest side of a photograph on the table, pixels; more would not be seen and would slow the table.
MOST_PIXELS = 3000

__all__ = ["ITEMS", "LAYERS", "Backbone", "Ground", "Laid", "Left", "Stretch", "item_for"]


@dataclass(frozen=True)
class Backbone:
    """The backbone of a hide: points from neck to tail, mm."""

    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Ground:
    """A region as it comes to lie (clipped by the hide and by later regions): its rings (mm), name, firmness."""

    name: str
    firmness: int
    rings: tuple[tuple[tuple[float, float], ...], ...]
    at: tuple[float, float]
    quiet: bool = False


@dataclass(frozen=True)
class Stretch:
    """An arrow at `at` (mm) along which the leather gives most: degrees, or "all"; `length` in mm."""

    at: tuple[float, float]
    axis: float | str
    length: float


@dataclass(frozen=True)
class Laid:
    """A placement as it lies: with its tint, its words, whether it is picked and what is wrong with it.

    `short` stands where the words do not fit. `ghost` is only suggested: a plan in the making.
    """

    placement: Placement
    tint: int
    words: str
    short: str = ""
    picked: bool = False
    wrong: bool = False
    ghost: bool = False


@dataclass(frozen=True)
class Left:
    """An offcut, and the words that stand in its largest rectangle."""

    offcut: Offcut
    words: str


class HideItem(Area):
    """The leather itself."""

    layer = "outline"

    def __init__(self, hide: Hide) -> None:
        super().__init__(axis.ring_path(hide.ring, hide.hole_rings))
        self.setPen(pen(current_theme().edge, 2.0))
        self.fill(QBrush(QColor(current_theme().leather)))
        self.setZValue(-5.0)


class FlawItem(Area):
    """A flaw: a pattern for what it spoils, its letter, and a thin line where its keep-away margin ends."""

    layer = "flaws"

    def __init__(self, flaw: Flaw) -> None:
        super().__init__(axis.ring_path(flaw.ring))
        color = current_theme().flaw
        self.setPen(pen(color, 2.0 if flaw.kind.goes_through else 1.2))
        self.fill(pattern(color, flaw_pattern(flaw.kind)))
        self.setToolTip(f"{flaw.name or 'Flaw'}: {flaw.kind.words}")
        if flaw.margin > 0:
            from nestplan.geometry.ring import offset_outward

            margin = QGraphicsPathItem(axis.ring_path(offset_outward(flaw.ring, flaw.margin)), self)
            margin.setPen(pen(color, 1.0, Qt.PenStyle.DotLine))
        high = axis.scene_point(flaw.ring[int(flaw.ring.sum(axis=1).argmax())])
        sign(self, flaw.kind.letter, high, color, bold=True)


class RegionItem(Area):
    """A region: a dash-dotted edge, its name and its firmness."""

    layer = "regions"

    def __init__(self, ground: Ground) -> None:
        super().__init__(axis.ring_path(ground.rings[0], ground.rings[1:]))
        self.setPen(pen(current_theme().region, 1.2, Qt.PenStyle.DashDotLine))
        words = f"{ground.name} · firmness {ground.firmness}"
        self.setToolTip(words)
        if not ground.quiet:
            sign(self, words, axis.scene_point(ground.at), current_theme().region, centred=True, below=12)


class BackboneItem(Area):
    """The backbone: a long-dashed line, with the tail end marked."""

    layer = "stretch"

    def __init__(self, backbone: Backbone) -> None:
        super().__init__(axis.line_path(backbone.points))
        self.setPen(pen(current_theme().edge, 1.6, Qt.PenStyle.DashLine))
        sign(self, "neck", axis.scene_point(backbone.points[0]), current_theme().soft)
        sign(self, "tail", axis.scene_point(backbone.points[-1]), current_theme().soft)


class StretchItem(Area):
    """A double arrow along which the leather gives most; a ring of arrows where it gives every way."""

    layer = "stretch"

    def __init__(self, stretch: Stretch) -> None:
        axes = (0.0, 60.0, 120.0) if isinstance(stretch.axis, str) else (float(stretch.axis),)
        path = QPainterPath()
        for angle in axes:
            double_arrow(path, stretch.at, angle, stretch.length)
        super().__init__(path)
        self.setPen(pen(current_theme().stretch, 2.0))


class LaidItem(Area):
    """A placed piece or strip: its finished outline filled, its overcut band round it, its name inside."""

    layer = "pieces"

    def __init__(self, laid: Laid) -> None:
        placement, theme = laid.placement, current_theme()
        super().__init__(axis.ring_path(placement.finished_ring))
        self.laid = laid
        if placement.strip:
            self.setZValue(HEIGHT["strips"])
        tint = QColor(theme.tints[laid.tint % len(theme.tints)])
        if laid.ghost:
            tint.setAlpha(150)
        if laid.wrong:
            self.fill(pattern(theme.alarm, Qt.BrushStyle.DiagCrossPattern))
        elif placement.done:
            self.fill(pattern(theme.soft, Qt.BrushStyle.Dense6Pattern))
        else:
            self.fill(QBrush(tint))
        width = 3.0 if laid.picked else 1.0
        self.setPen(
            pen(theme.alarm if laid.wrong else theme.accent if laid.picked else theme.piece_ink, width)
        )
        self.overcut: QGraphicsPathItem | None = None
        #: How wide the band is, mm; where something is wrong it is shown at any zoom.
        self.band = 0.0
        if placement.overcut > 0 or laid.wrong:
            self.overcut = QGraphicsPathItem(axis.ring_path(placement.cut_ring), self)
            self.overcut.setFlag(QGraphicsItem.GraphicsItemFlag.ItemStacksBehindParent)
            self.band = 1e6 if laid.wrong else placement.overcut
            self.overcut.setPen(pen(theme.alarm if laid.wrong else theme.edge, 1.0, Qt.PenStyle.DashLine))
        signs = ("✓ " if placement.done else "") + ("⚷ " if placement.locked else "")
        self.label = Name(
            signs + laid.words, placement.finished_ring, theme.piece_ink, signs.strip() + laid.short
        )
        self.setToolTip(f"{signs}{laid.words.replace(chr(10), ' ')}, {placement.layer}")


class LeftItem(Area):
    """What is left: a dashed edge, and the largest rectangle in it with its size."""

    layer = "offcuts"

    def __init__(self, left: Left) -> None:
        offcut = left.offcut
        # Holes are the pieces and flaws, which are drawn anyway; dashes round each of them would only slow the table.
        super().__init__(axis.ring_path(offcut.outline))
        theme = current_theme()
        self.setPen(pen(theme.offcut, 1.0, Qt.PenStyle.DashLine))
        self.label: Name | None = None
        if len(offcut.rectangle) >= 3:
            inner = QGraphicsPathItem(axis.ring_path(offcut.rectangle), self)
            inner.setPen(pen(theme.offcut, 1.0, Qt.PenStyle.DashLine))
            self.label = Name(left.words, np.asarray(offcut.rectangle, dtype=float), theme.offcut)


class PhotoItem(QGraphicsPixmapItem):
    """A photograph under a hide, straightened by its matrix."""

    layer = "photo"

    def __init__(self, photo: HidePhoto) -> None:
        picture, shrunk = _picture(photo.file)
        super().__init__(QPixmap.fromImage(picture))
        self.setTransform(QTransform.fromScale(shrunk, shrunk) * axis.pixels_matrix(photo.matrix))
        self.setTransformationMode(Qt.TransformationMode.SmoothTransformation)
        self.setZValue(-10.0)

    def rescale(self, scale: float) -> None:
        """Nothing to do: a picture grows with the table."""


ITEMS: dict[type, Callable[[Any], QGraphicsItem]] = {
    HidePhoto: PhotoItem,
    Hide: HideItem,
    Flaw: FlawItem,
    Ground: RegionItem,
    Backbone: BackboneItem,
    Stretch: StretchItem,
    Laid: LaidItem,
    Left: LeftItem,
    Drawn: DrawnItem,
}


def item_for(thing: object) -> QGraphicsItem:
    """The item that draws `thing`. Errors: KeyError where its type is not in ITEMS."""
    return ITEMS[type(thing)](thing)


def _picture(file: str) -> tuple[QImage, float]:
    """The picture in a file, upright and no wider or higher than MOST_PIXELS, and how much it was shrunk."""
    reader = QImageReader(file)
    reader.setAutoTransform(True)
    image = reader.read()
    if image.isNull():
        image = QImage(8, 8, QImage.Format.Format_RGB32)
        image.fill(Qt.GlobalColor.lightGray)
    longest = max(image.width(), image.height())
    if longest <= MOST_PIXELS:
        return image, 1.0
    small = image.scaled(
        MOST_PIXELS,
        MOST_PIXELS,
        Qt.AspectRatioMode.KeepAspectRatio,
        Qt.TransformationMode.SmoothTransformation,
    )
    return small, image.width() / small.width()


def bounds_of(item: QGraphicsItem) -> QRectF:
    """Where an item and its children lie."""
    return item.sceneBoundingRect() | item.mapRectToScene(item.childrenBoundingRect())
