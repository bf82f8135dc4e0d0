"""Small pictures of hides, with what is laid on them, for the rack and for comparing."""

from __future__ import annotations

import math

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPixmap

from nestplan.desk.table import coordinates
from nestplan.desk.theme import current_theme, flaw_pattern, pattern, pen
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.piece import Mark, Piece, Strip
from nestplan.model.plan import Plan

__all__ = ["common_scale", "piece_thumbnail", "thumbnail"]


def thumbnail(
    hide: Hide, plan: Plan | None, job: Job | None, size: QSize, *, scale: float | None = None
) -> QPixmap:
    """The hide and what `plan` lays on it, fitted into `size` pixels, or at `scale` pixels a mm."""
    ratio = 2.0
    picture = QPixmap(size * ratio)
    picture.setDevicePixelRatio(ratio)
    picture.fill(Qt.GlobalColor.transparent)
    theme = current_theme()
    whole = coordinates.ring_path(hide.ring, hide.hole_rings)
    box = whole.boundingRect()
    fitted = min((size.width() - 6) / box.width(), (size.height() - 6) / box.height())
    scale = fitted if scale is None else min(scale, fitted)
    painter = QPainter(picture)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.translate(size.width() / 2, size.height() / 2)
    painter.scale(scale, scale)
    painter.translate(-box.center())
    painter.setPen(pen(theme.edge, 1.2))
    painter.setBrush(QColor(theme.leather))
    painter.drawPath(whole)
    articles = _articles(job)
    for placement in plan.placements if plan else ():
        if placement.hide != hide.name:
            continue
        tint = theme.tints[articles.get(placement.name, 0) % len(theme.tints)]
        painter.setBrush(pattern(theme.soft, Qt.BrushStyle.Dense4Pattern) if placement.done else QColor(tint))
        painter.setPen(pen(tint if placement.strip else theme.piece_ink, 0.7))
        painter.drawPath(coordinates.ring_path(placement.finished_ring))
    for flaw in hide.flaws:
        path = coordinates.ring_path(flaw.ring)
        least = 5.0 / scale
        painter.setPen(pen(theme.flaw, 1.2))
        if path.boundingRect().width() < least or path.boundingRect().height() < least:
            middle = path.boundingRect().center()
            painter.setBrush(QColor(theme.flaw))
            painter.drawEllipse(QRectF(middle.x() - least / 2, middle.y() - least / 2, least, least))
        else:
            brush = pattern(theme.flaw, flaw_pattern(flaw.kind))
            brush.setTransform(painter.worldTransform().inverted()[0])
            painter.setBrush(brush)
            painter.drawPath(path)
    painter.end()
    return picture


def piece_thumbnail(piece: Piece | Strip, size: QSize) -> QPixmap:
    """A piece or strip by itself with its holes and marks, fitted into `size` pixels."""
    ratio, theme = 2.0, current_theme()
    picture = QPixmap(size * ratio)
    picture.setDevicePixelRatio(ratio)
    picture.fill(Qt.GlobalColor.transparent)
    marks: tuple[Mark, ...] = ()
    if isinstance(piece, Strip):
        path = QPainterPath()
        path.addRect(QRectF(0.0, 0.0, piece.length, piece.width))
    else:
        path, marks = coordinates.ring_path(piece.ring, piece.hole_rings), piece.all_marks
    box = path.boundingRect()
    scale = min((size.width() - 8) / box.width(), (size.height() - 8) / box.height())
    painter = QPainter(picture)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.translate(size.width() / 2, size.height() / 2)
    painter.scale(scale, scale)
    painter.translate(-box.center())
    painter.setPen(pen(theme.piece_ink, 1.2))
    painter.setBrush(QColor(theme.tints[0]))
    painter.drawPath(path)
    painter.setBrush(QColor(theme.raised))
    for mark in marks:
        radius = max((mark.diameter or 3.0) / 2.0, 1.5 / scale)
        painter.drawEllipse(coordinates.scene_point(mark.at), radius, radius)
    painter.end()
    return picture


def common_scale(hides: tuple[Hide, ...], size: QSize) -> float:
    """Pixels a mm at which the largest hide just fits, so that small pictures can be compared."""
    scales = [math.inf]
    for hide in hides:
        width, height = hide.ring.max(axis=0) - hide.ring.min(axis=0)
        scales.append(min((size.width() - 6) / width, (size.height() - 6) / height))
    return min(scales)


def _articles(job: Job | None) -> dict[str, int]:
    numbers: dict[str, int] = {}
    for number, article in enumerate(job.articles if job else ()):
        numbers |= dict.fromkeys((piece.name for piece in article.pieces), number)
        numbers |= dict.fromkeys((strip.name for strip in article.strips), number)
    return numbers
