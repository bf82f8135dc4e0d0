"""Places of a photograph that a person calls hide or floor: clicked, shown, taken back. They bind what is found."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QObject, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QPainter

from nestplan.desk.theme import current_theme, pen

__all__ = ["CALLS", "CalledPlaces", "draw_places"]

CALLS = {"hide": "a place on the hide", "floor": "a place on the floor"}
"""What a place can be called, and the words for it."""

_RADIUS = 9.0


class CalledPlaces(QObject):
    """The places called by a person, in the order they were clicked: (what, place) in pixels of the file."""

    changed = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.all: list[tuple[str, tuple[float, float]]] = []

    def called(self, what: str) -> list[tuple[float, float]]:
        """The places called `hide`, or `floor`."""
        return [place for kind, place in self.all if kind == what]

    def add(self, what: str, place: tuple[float, float]) -> None:
        """One more place."""
        self.all.append((what, place))
        self.changed.emit()

    def take_back(self) -> None:
        """Forget the last place, if there is one."""
        if self.all:
            self.all.pop()
            self.changed.emit()

    @property
    def words(self) -> str:
        """How many there are of each kind."""
        hide, floor = len(self.called("hide")), len(self.called("floor"))
        return f"Called hide: {hide} place{'s' * (hide != 1)}, floor: {floor}." if self.all else ""


def draw_places(painter: QPainter, places: Iterable[tuple[str, QPointF]]) -> None:
    """Draw places at spots of the widget: H for hide, F for floor."""
    theme = current_theme()
    for what, spot in places:
        color = theme.good if what == "hide" else theme.alarm
        painter.setPen(pen(color, 1.6))
        painter.setBrush(QColor(theme.raised))
        painter.drawEllipse(spot, _RADIUS, _RADIUS)
        box = QRectF(spot.x() - _RADIUS, spot.y() - _RADIUS, 2 * _RADIUS, 2 * _RADIUS)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, what[0].upper())
    painter.setBrush(Qt.BrushStyle.NoBrush)
