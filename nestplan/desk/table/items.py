"""What lies on the table, as Qt's scene items: one class for each type of the model, one dict that says which.

Each item takes one unchangeable record and draws it; it is replaced when the record is. Lengths are mm. The
direction of y is `axis`'s business, colours and patterns are `theme`'s.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QImage,
    QImageReader,
    QPainterPath,
    QPen,
    QPixmap,
    QPolygonF,
    QTransform,
)
from PySide6.QtWidgets import QGraphicsItem, QGraphicsPathItem, QGraphicsPixmapItem

from nestplan.desk.plain_text import plain_tip
from nestplan.desk.table import coordinates
from nestplan.desk.table.item_shapes import (
    FINE_SIZE,
    LABEL_SIZE,
    LAYERS,
    LETTER_SIZE,
    Z_VALUES,
    Area,
    Label,
    double_arrow,
    fixed_size_text,
)
from nestplan.desk.table.piece_items import PieceItem, ShownPiece
from nestplan.desk.theme import current_theme, flaw_pattern, pattern, pen
from nestplan.model.hide import Flaw, Hide
from nestplan.model.plan import Offcut, Placement
from nestplan.tasks.contents import HidePhoto

_FLOOR_DIMMING = 0.6
"""How much of the floor round a photographed hide the table's colour hides."""

MAX_PHOTO_PIXELS = 3000
"""Longest side of a photograph on the table, pixels; more would not be seen and would slow the table."""

__all__ = [
    "ITEMS",
    "LAYERS",
    "BackboneLine",
    "ShownHide",
    "ShownOffcut",
    "ShownOverlap",
    "ShownPlacement",
    "ShownRegion",
    "StretchArrow",
    "item_for",
]


@dataclass(frozen=True)
class ShownHide:
    """A hide, and the photograph that lies under it, if there is one."""

    hide: Hide
    photo: HidePhoto | None = None


@dataclass(frozen=True)
class BackboneLine:
    """The backbone of a hide: points from neck to tail, mm."""

    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class ShownRegion:
    """A region as it comes to lie (clipped by the hide and by later regions): its rings (mm), name, firmness."""

    name: str
    firmness: int
    rings: tuple[tuple[tuple[float, float], ...], ...]
    at: tuple[float, float]
    quiet: bool = False


@dataclass(frozen=True)
class StretchArrow:
    """An arrow at `at` (mm) along which the leather gives most: degrees, or "all"; `length` in mm."""

    at: tuple[float, float]
    axis: float | str
    length: float


@dataclass(frozen=True)
class ShownPlacement:
    """A placement as it lies: with its tint, its words, whether it is selected and whether anything is wrong.

    `short` stands where the words do not fit. `ghost` is only suggested: a plan in the making. What is wrong is
    hatched, but for what only `overlaps` another: there the overlap itself is.
    """

    placement: Placement
    tint: int
    words: str
    short: str = ""
    selected: bool = False
    wrong: bool = False
    ghost: bool = False
    overlaps: bool = False


@dataclass(frozen=True)
class ShownOffcut:
    """An offcut, and the words that stand in its largest rectangle."""

    offcut: Offcut
    words: str


@dataclass(frozen=True)
class ShownOverlap:
    """Where two placements lie on each other: one ring, mm."""

    ring: tuple[tuple[float, float], ...]


class HideItem(Area):
    """The leather itself: filled, or only its edge where its photograph is in sight."""

    layer = "outline"

    def __init__(self, shown: ShownHide) -> None:
        super().__init__(coordinates.ring_path(shown.hide.ring, shown.hide.hole_rings))
        self.rings = [ring * (1.0, -1.0) for ring in (shown.hide.ring, *shown.hide.hole_rings)]
        self._has_photo = shown.photo is not None
        self.setPen(pen(current_theme().edge, 2.0))
        self.setZValue(-5.0)
        self.show_photo(True)
        if shown.photo is not None:
            self._dim_floor(shown.photo)

    def show_photo(self, visible: bool) -> None:
        """Leave the photograph in sight, or fill the leather where that is hidden."""
        bare = self._has_photo and visible
        self.fill(QBrush(Qt.BrushStyle.NoBrush) if bare else QBrush(QColor(current_theme().leather)))
        for dimmed in self.childItems():
            dimmed.setVisible(visible)

    def _dim_floor(self, photo: HidePhoto) -> None:
        picture, _ = _picture(photo.file)
        floor = QPainterPath()
        floor.addPolygon(_photo_transform(photo).map(QPolygonF(QRectF(picture.rect()))))
        dimmed = QGraphicsPathItem(floor.subtracted(self.path()), self)
        dimmed.setFlag(QGraphicsItem.GraphicsItemFlag.ItemStacksBehindParent)
        dimmed.setPen(QPen(Qt.PenStyle.NoPen))
        color = QColor(current_theme().table)
        color.setAlphaF(_FLOOR_DIMMING)
        dimmed.setBrush(color)


class FlawItem(Area):
    """A flaw: a pattern for what it spoils, its letter, and a thin line where its keep-away margin ends."""

    layer = "flaws"

    def __init__(self, flaw: Flaw) -> None:
        super().__init__(coordinates.ring_path(flaw.ring))
        color = current_theme().flaw
        self.setPen(pen(color, 2.0 if flaw.kind.goes_through else 1.2))
        self.fill(pattern(color, flaw_pattern(flaw.kind)))
        self.setToolTip(plain_tip(f"{flaw.name or 'Flaw'}: {flaw.kind.words}"))
        if flaw.margin > 0:
            from nestplan.geometry.ring import offset_outward

            margin = QGraphicsPathItem(coordinates.ring_path(offset_outward(flaw.ring, flaw.margin)), self)
            margin.setPen(pen(color, 1.0, Qt.PenStyle.DotLine))
        self.ring = flaw.ring * (1.0, -1.0)
        # The table draws it where there is room for it: beside the flaw, off the pieces.
        self.letter_at: tuple[float, float] | None = None
        self.letter = Label(
            flaw.kind.letter, flaw.ring, color, size=LETTER_SIZE, plate=True, bold=True, level=True
        )


class RegionItem(Area):
    """A region: a dash-dotted edge, its name and its firmness."""

    layer = "regions"

    def __init__(self, shown: ShownRegion) -> None:
        super().__init__(coordinates.ring_path(shown.rings[0], shown.rings[1:]))
        self.setPen(pen(current_theme().region, 1.2, Qt.PenStyle.DashDotLine))
        words = f"{shown.name} · firmness {shown.firmness}"
        self.setToolTip(plain_tip(words))
        self.label: Label | None = None
        if not shown.quiet:
            ring, color = np.asarray(shown.rings[0], dtype=float), current_theme().region
            name = Label(shown.name, ring, color, at=shown.at, plate=True, below=14)
            self.label = Label(words, ring, color, name, at=shown.at, plate=True, below=14)


class BackboneItem(Area):
    """The backbone: a long-dashed line, with the tail end marked."""

    layer = "stretch"

    def __init__(self, backbone: BackboneLine) -> None:
        super().__init__(coordinates.line_path(backbone.points))
        self.setPen(pen(current_theme().edge, 1.6, Qt.PenStyle.DashLine))
        fixed_size_text(
            self, "neck", coordinates.scene_point(backbone.points[0]), current_theme().soft, plate=True
        )
        fixed_size_text(
            self, "tail", coordinates.scene_point(backbone.points[-1]), current_theme().soft, plate=True
        )


class StretchItem(Area):
    """A double arrow along which the leather gives most; a ring of arrows where it gives every way."""

    layer = "stretch"

    def __init__(self, stretch: StretchArrow) -> None:
        axes = (0.0, 60.0, 120.0) if isinstance(stretch.axis, str) else (float(stretch.axis),)
        path = QPainterPath()
        for angle in axes:
            double_arrow(path, stretch.at, angle, stretch.length)
        super().__init__(path)
        self.setPen(pen(current_theme().stretch, 2.0))


class PlacementItem(Area):
    """A placed piece or strip: its finished outline filled, its overcut band round it, its name inside."""

    layer = "pieces"

    def __init__(self, shown: ShownPlacement) -> None:
        placement, theme = shown.placement, current_theme()
        super().__init__(coordinates.ring_path(placement.finished_ring))
        self.shown = shown
        self.ring = placement.finished_ring * (1.0, -1.0)
        if placement.strip:
            self.setZValue(Z_VALUES["strips"])
        tint = QColor(theme.tints[shown.tint % len(theme.tints)])
        if shown.ghost:
            tint.setAlpha(150)
        if shown.wrong and not shown.overlaps:
            self.fill(pattern(theme.alarm, Qt.BrushStyle.BDiagPattern))
        elif placement.done:
            self.fill(pattern(theme.soft, Qt.BrushStyle.Dense6Pattern))
        else:
            self.fill(QBrush(tint))
        width = 3.0 if shown.selected else 1.0
        self.setPen(
            pen(theme.alarm if shown.wrong else theme.accent if shown.selected else theme.piece_ink, width)
        )
        self.overcut: QGraphicsPathItem | None = None
        # How wide the band is, mm; where something is wrong it is shown at any zoom.
        self.band = 0.0
        if placement.overcut > 0 or shown.wrong:
            self.overcut = QGraphicsPathItem(coordinates.ring_path(placement.cut_ring), self)
            self.overcut.setFlag(QGraphicsItem.GraphicsItemFlag.ItemStacksBehindParent)
            self.band = 1e6 if shown.wrong else placement.overcut
            self.overcut.setPen(pen(theme.alarm if shown.wrong else theme.edge, 1.0, Qt.PenStyle.DashLine))
        signs = ("✓ " if placement.done else "") + ("⚷ " if placement.locked else "")
        self.label = _placement_label(
            signs + shown.words, signs.strip() + shown.short, placement, theme.piece_ink
        )
        self.setToolTip(plain_tip(f"{signs}{shown.words.replace(chr(10), ' ')}, {placement.layer}"))


def _placement_label(words: str, short: str, placement: Placement, ink: str) -> Label:
    """The name of a placement: as long as there is room for; in a strap, which is slim, in fine letters too."""
    ring = placement.finished_ring
    instead: Label | None = None
    forms = [(words, LABEL_SIZE), (short, LABEL_SIZE)]
    if placement.strip:
        forms += [(words, FINE_SIZE), (short, FINE_SIZE)]
    for text, size in reversed(forms):
        if text:
            instead = Label(text, ring, ink, instead, size=size)
    return instead or Label("", ring, ink)


class OffcutItem(Area):
    """An offcut: a dashed edge, and the largest rectangle in it with its size."""

    layer = "offcuts"

    def __init__(self, shown: ShownOffcut) -> None:
        offcut = shown.offcut
        # Holes are the pieces and flaws, which are drawn anyway; dashes round each of them would only slow the table.
        super().__init__(coordinates.ring_path(offcut.outline))
        theme = current_theme()
        self.setPen(pen(theme.offcut, 1.0, Qt.PenStyle.DashLine))
        self.label: Label | None = None
        if len(offcut.rectangle) >= 3:
            inner = QGraphicsPathItem(coordinates.ring_path(offcut.rectangle), self)
            inner.setPen(pen(theme.offcut, 1.0, Qt.PenStyle.DashLine))
            self.label = Label(shown.words, np.asarray(offcut.rectangle, dtype=float), theme.offcut)


class OverlapItem(Area):
    """Leather that two pieces want: hatched crosswise in the colour of alarm, above both."""

    layer = "pieces"

    def __init__(self, shown: ShownOverlap) -> None:
        super().__init__(coordinates.ring_path(shown.ring))
        self.setZValue(Z_VALUES["pieces"] + 5.0)
        self.setPen(pen(current_theme().alarm, 2.0))
        self.fill(pattern(current_theme().alarm, Qt.BrushStyle.DiagCrossPattern))


class PhotoItem(QGraphicsPixmapItem):
    """A photograph under a hide, straightened by its matrix."""

    layer = "photo"

    def __init__(self, photo: HidePhoto) -> None:
        super().__init__(QPixmap.fromImage(_picture(photo.file)[0]))
        self.setTransform(_photo_transform(photo))
        self.setTransformationMode(Qt.TransformationMode.SmoothTransformation)
        self.setZValue(-10.0)

    def rescale(self, scale: float) -> None:
        """Nothing to do: a picture grows with the table."""


ITEMS: dict[type, Callable[[Any], QGraphicsItem]] = {
    HidePhoto: PhotoItem,
    ShownHide: HideItem,
    Flaw: FlawItem,
    ShownRegion: RegionItem,
    BackboneLine: BackboneItem,
    StretchArrow: StretchItem,
    ShownPlacement: PlacementItem,
    ShownOffcut: OffcutItem,
    ShownOverlap: OverlapItem,
    ShownPiece: PieceItem,
}


def item_for(record: object) -> QGraphicsItem:
    """The item that draws `record`.

    Raises KeyError if its type is not in ITEMS.
    """
    return ITEMS[type(record)](record)


def _photo_transform(photo: HidePhoto) -> QTransform:
    """From the pixels of the picture as it is kept here to the scene."""
    _, shrunk = _picture(photo.file)
    return QTransform.fromScale(shrunk, shrunk) * coordinates.pixels_matrix(photo.matrix)


def _picture(file: str) -> tuple[QImage, float]:
    """As `_read_picture`; the pictures seen last are kept, as long as their files are the same."""
    try:
        changed = os.stat(file).st_mtime_ns
    except OSError:
        changed = 0
    return _read_picture(file, changed)


@lru_cache(maxsize=4)
def _read_picture(file: str, _changed: int) -> tuple[QImage, float]:
    """The picture in a file, upright and no wider or higher than MAX_PHOTO_PIXELS, and how much it was shrunk."""
    reader = QImageReader(file)
    reader.setAutoTransform(True)
    image = reader.read()
    if image.isNull():
        image = QImage(8, 8, QImage.Format.Format_RGB32)
        image.fill(Qt.GlobalColor.lightGray)
    longest = max(image.width(), image.height())
    if longest <= MAX_PHOTO_PIXELS:
        return image, 1.0
    small = image.scaled(
        MAX_PHOTO_PIXELS,
        MAX_PHOTO_PIXELS,
        Qt.AspectRatioMode.KeepAspectRatio,
        Qt.TransformationMode.SmoothTransformation,
    )
    return small, image.width() / small.width()


def bounds_of(item: QGraphicsItem) -> QRectF:
    """Where an item and its children lie."""
    return item.sceneBoundingRect() | item.mapRectToScene(item.childrenBoundingRect())
