"""How the wheel and the keys move what is looked at: the same on the table and in photographs."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QWheelEvent

__all__ = ["ARROWS", "PAN_STEP", "ZOOM_STEP", "wheel_turn", "wheel_zoom"]

ARROWS = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, -1),
    Qt.Key.Key_Down: (0, 1),
}
"""Where the arrow keys point: right and down."""
ZOOM_STEP = 1.25
"""How many times larger things are seen after one press of +."""
PAN_STEP = 60
"""Pixels of the screen by which an arrow moves what is seen."""
_WHEEL_ZOOM = 1.0015
"""How many times larger things are seen after an eighth of a degree of the wheel."""


def wheel_turn(event: QWheelEvent) -> int:
    """How far the wheel was turned, in eighths of a degree; with Alt some systems tell it as a turn sideways."""
    return event.angleDelta().y() or event.angleDelta().x()


def wheel_zoom(event: QWheelEvent) -> float:
    """How many times larger things are to be seen."""
    return float(_WHEEL_ZOOM ** wheel_turn(event))
