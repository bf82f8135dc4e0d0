"""The rack, the middle and the side panel beside each other; bars between them share out the room.

In a narrow window the rack makes room by itself, until it is asked for.
"""

from __future__ import annotations

from PySide6.QtCore import QByteArray, QSize, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QSplitter, QWidget

__all__ = ["Body"]

_NARROW = 900
"""Below this width (pixels) the rack is shown only where it was asked for."""
_RACK_WIDTH, _SIDE_WIDTH = 206, 348
"""Pixels, before anyone has moved the bars."""
_LEAST_RACK, _LEAST_MIDDLE, _LEAST_SIDE = 196, 220, 300
"""Pixels below which none of them is of any use."""


class Body(QSplitter):
    """The three columns. `rack_shown` and `side_shown` are what was asked for; None: as the width allows."""

    def __init__(self, rack: QWidget, middle: QWidget, side: QWidget) -> None:
        super().__init__(Qt.Orientation.Horizontal)
        self._rack, self._side = rack, side
        self._step_has_rack = self._step_has_side = True
        self.rack_shown: bool | None = None
        self.side_shown: bool | None = None
        for widget, least in ((rack, _LEAST_RACK), (middle, _LEAST_MIDDLE), (side, _LEAST_SIDE)):
            widget.setMinimumWidth(least)
            self.addWidget(widget)
        self.setChildrenCollapsible(False)
        self.setHandleWidth(5)
        for number, stretch in enumerate((0, 1, 0)):
            self.setStretchFactor(number, stretch)
        self.setSizes([_RACK_WIDTH, 1320 - _RACK_WIDTH - _SIDE_WIDTH, _SIDE_WIDTH])
        rack.setMaximumWidth(2 * _RACK_WIDTH)
        side.setMaximumWidth(2 * _SIDE_WIDTH)

    def show_for_step(self, *, rack: bool, side: bool) -> None:
        """The step at hand has a rack and a side panel, or does without them."""
        self._step_has_rack, self._step_has_side = rack, side
        self._arrange()

    def toggle_rack(self) -> None:
        """Show the rack, or put it out of sight."""
        self.rack_shown = not self._rack.isVisible()
        self._arrange()

    def toggle_side(self) -> None:
        """Show the side panel, or put it out of sight."""
        self.side_shown = not self._side.isVisible()
        self._arrange()

    def restore(self, kept: QByteArray | None) -> None:
        """Share out the room as it was the last time."""
        if kept is not None:
            self.restoreState(kept)

    def minimumSizeHint(self) -> QSize:
        height = super().minimumSizeHint().height()
        return QSize(_LEAST_MIDDLE + _LEAST_SIDE + self.handleWidth(), height)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        wide = self.width() >= _NARROW
        self._rack.setVisible(self._step_has_rack and (wide if self.rack_shown is None else self.rack_shown))
        self._side.setVisible(self._step_has_side and self.side_shown is not False)
