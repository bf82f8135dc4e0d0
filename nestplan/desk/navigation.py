"""Which step of the work is at hand, for whoever leads to another one or follows it."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

__all__ = ["Navigation"]


class Navigation(QObject):
    """The name of the step at hand; `changed` carries the names of the step that was left and of the new one."""

    changed = Signal(str, str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.step = ""

    def go_to(self, step: str) -> None:
        """Make another step the one at hand."""
        if step != self.step:
            left, self.step = self.step, step
            self.changed.emit(left, step)
