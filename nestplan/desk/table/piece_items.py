"""A piece or strip by itself on the table, as it is drawn and changed: finished outline, cut line, holes, marks.

Pieces as they lie in a plan are in `items`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainterPath
from PySide6.QtWidgets import QGraphicsItem, QGraphicsPathItem

from nestplan.desk.table import coordinates
from nestplan.desk.table.item_shapes import Area, Label, double_arrow
from nestplan.desk.theme import current_theme, pen
from nestplan.model.piece import Mark, Piece, Strip, cut_ring

__all__ = ["PieceItem", "ShownPiece"]


@dataclass(frozen=True)
class ShownPiece:
    """A piece (or strip) as drawn, with the overcut and stretch of one of its layers."""

    piece: Piece | Strip
    layer: str = ""


class PieceItem(Area):
    """The finished outline filled, holes open, the cut line dashed round it, each mark by its kind."""

    layer = "pieces"

    def __init__(self, shown: ShownPiece) -> None:
        self.marks: list[QRectF] = []
        self.numbers: list[tuple[Label, QRectF]] = []
        """The numbers of marks, the most useful first, and where their marks are (scene, mm)."""
        theme = current_theme()
        piece = shown.piece
        if isinstance(piece, Strip):
            ring = np.array(
                [[0, 0], [piece.length, 0], [piece.length, piece.width], [0, piece.width]], dtype=float
            )
            super().__init__(coordinates.ring_path(ring))
            self.fill(QBrush(QColor(theme.tints[1])))
            self.setPen(pen(theme.edge, 1.5))
            return
        super().__init__(coordinates.ring_path(piece.ring, piece.hole_rings))
        self.fill(QBrush(QColor(theme.tints[0])))
        self.setPen(pen(theme.piece_ink, 1.5))
        cut = piece.find_cut(shown.layer) or piece.cuts[0]
        if cut.overcut is not None:
            for width, style in (
                (cut.overcut.least, Qt.PenStyle.DashLine),
                (cut.overcut.wished, Qt.PenStyle.DotLine),
            ):
                if width > 0:
                    line = QGraphicsPathItem(coordinates.ring_path(cut_ring(piece.ring, width)), self)
                    line.setPen(pen(theme.edge, 1.2, style))
        for part in piece.parts:
            inner = QGraphicsPathItem(coordinates.ring_path(part.ring), self)
            inner.setPen(pen(theme.region, 1.0, Qt.PenStyle.DashDotLine))
        if piece.around:
            across = QGraphicsPathItem(coordinates.line_path(piece.around), self)
            across.setPen(pen(theme.edge, 1.0, Qt.PenStyle.DotLine))
        self.label = Label(piece.name, piece.ring, theme.piece_ink)
        if cut.stretch is not None:
            path = QPainterPath()
            low, high = piece.ring.min(axis=0), piece.ring.max(axis=0)
            # Beside the name, not across it.
            aside = (float(0.2 * low[0] + 0.8 * high[0]), float(0.3 * low[1] + 0.7 * high[1]))
            double_arrow(path, aside, cut.stretch.axis, 0.3 * float(min(high - low)))
            arrow = QGraphicsPathItem(path, self)
            arrow.setPen(pen(theme.stretch, 2.0))
        # In a row the holes are counted from its start, as where it is laced.
        for marks in (piece.marks, *piece.marks_of_rows):
            boxes = [_mark(self, mark) for mark in marks]
            self.marks += boxes
            for number in _useful_first(len(marks)):
                label = Label(str(number + 1), piece.ring, theme.piece_ink, level=True)
                self.numbers.append((label, boxes[number]))


def _useful_first(count: int) -> list[int]:
    """The places in a row: its ends, then each fifth, then the others."""
    return sorted(range(count), key=lambda place: (place not in (0, count - 1), (place + 1) % 5 != 0))


def _mark(parent: QGraphicsItem, mark: Mark) -> QRectF:
    """Draw a mark; where it is (scene, mm)."""
    theme = current_theme()
    at = coordinates.scene_point(mark.at)
    path = QPainterPath()
    symbol = mark.kind.symbol
    if symbol == "circle":
        radius = (mark.diameter or 1.0) / 2
        path.addEllipse(QRectF(at.x() - radius, at.y() - radius, 2 * radius, 2 * radius))
    elif symbol == "bar":
        path = coordinates.line_path(mark.ends)
    else:
        for dx, dy in ((1, 0), (0, 1)):
            path.addPath(
                coordinates.line_path(
                    [(mark.at[0] - 3 * dx, mark.at[1] - 3 * dy), (mark.at[0] + 3 * dx, mark.at[1] + 3 * dy)]
                )
            )
    item = QGraphicsPathItem(path, parent)
    item.setPen(pen(theme.alarm, 2.0) if symbol == "bar" else pen(theme.piece_ink, 1.5))
    if symbol == "circle":
        item.setBrush(QBrush(QColor(theme.table)))
    return path.boundingRect()
