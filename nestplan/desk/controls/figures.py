"""Figures shown as figures: a large number over what it counts, and a bar of shares with its key."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPaintEvent, QPalette
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from nestplan.desk.controls.tiles import TileLayout
from nestplan.desk.plain_text import plain_label, plain_tip

__all__ = ["Figure", "FigureLabel", "Share", "SharesBar", "Swatch"]


@dataclass(frozen=True)
class Figure:
    """A number in words and what it is of."""

    number: str
    what: str


@dataclass(frozen=True)
class Share:
    """A part of the whole, 0 to 1, with its colour and pattern."""

    what: str
    share: float
    color: str
    pattern: Qt.BrushStyle = Qt.BrushStyle.SolidPattern


class FigureLabel(QWidget):
    """The number, large, and below it what it is of."""

    def __init__(self) -> None:
        super().__init__()
        self.number, self.what = plain_label(), plain_label()
        self.number.setProperty("role", "number")
        self.what.setProperty("role", "soft")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.number)
        column.addWidget(self.what)

    def show_figure(self, figure: Figure | None) -> None:
        """Show a figure, or nothing."""
        self.setVisible(figure is not None)
        if figure is not None:
            self.number.setText(figure.number)
            self.what.setText(figure.what)
            self.setAccessibleName(f"{figure.what}: {figure.number}")


class Swatch(QWidget):
    """A small field of a colour or a pattern."""

    def __init__(self, color: str, style: Qt.BrushStyle = Qt.BrushStyle.SolidPattern) -> None:
        super().__init__()
        self._color, self._style = QColor(color), style
        self.setFixedSize(14, 14)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        box = QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5)
        painter.setPen(self.palette().color(QPalette.ColorRole.WindowText))
        painter.setBrush(QBrush(self._color, self._style))
        painter.drawRect(box)
        painter.end()


class _Bar(QWidget):
    """The bar alone."""

    def __init__(self) -> None:
        super().__init__()
        self.shares: Sequence[Share] = ()
        self.setFixedHeight(18)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        return QSize(120, 18)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        ink = self.palette().color(QPalette.ColorRole.WindowText)
        left, width = 0.5, self.width() - 1.0
        painter.setPen(ink)
        for each in self.shares:
            box = QRectF(left, 0.5, width * each.share, self.height() - 1.0)
            painter.fillRect(box, self.palette().color(QPalette.ColorRole.Base))
            painter.setBrush(QBrush(QColor(each.color), each.pattern))
            painter.drawRect(box)
            left += box.width()
        painter.end()


class SharesBar(QWidget):
    """What a whole is split into, as a bar, and below it each part by its colour, its name and its share."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self._name = name
        self._bar = _Bar()
        self._entries: list[QWidget] = []
        self._key = QWidget()
        self._tiles = TileLayout(spacing=4)
        self._key.setLayout(self._tiles)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 2, 0, 2)
        column.setSpacing(5)
        column.addWidget(self._bar)
        column.addWidget(self._key)

    def show_shares(self, shares: Sequence[Share]) -> None:
        """Show other shares; those of nothing are left out."""
        shown = [each for each in shares if each.share >= 0.0005]
        if shown == list(self._bar.shares):
            return
        self._bar.shares = shown
        for old in self._entries:
            self._tiles.removeWidget(old)
            old.hide()
            old.deleteLater()
        self._entries = [_key_entry(each) for each in shown]
        for entry in self._entries:
            self._tiles.addWidget(entry)
        words = ", ".join(f"{each.what} {each.share:.0%}" for each in shown)
        self.setAccessibleName(self._name)
        self.setAccessibleDescription(words)
        self.setToolTip(plain_tip(words))
        self._bar.update()
        self.updateGeometry()


def _key_entry(share: Share) -> QWidget:
    entry = QWidget()
    row = QHBoxLayout(entry)
    row.setContentsMargins(0, 0, 0, 0)
    row.setSpacing(5)
    row.addWidget(Swatch(share.color, share.pattern))
    row.addWidget(plain_label(f"{share.share:.0%}"))
    what = plain_label(share.what)
    what.setProperty("role", "soft")
    row.addWidget(what, 1)
    return entry
