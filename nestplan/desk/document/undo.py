"""Every change to the work as a step that can be undone.

The work is made of unchangeable records, so a step only shows again what was there before or what is there after.
Steps of one kind in a row (a point drawn along, a figure typed digit by digit) become one.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtGui import QUndoCommand

__all__ = ["UndoStep"]


class UndoStep(QUndoCommand):
    """One step, in words: `show_before` and `show_after` it. Steps with the same `kind` (if given) merge."""

    def __init__(
        self, words: str, show_before: Callable[[], None], show_after: Callable[[], None], kind: str = ""
    ) -> None:
        super().__init__(words)
        self._show_before, self._show_after, self.kind = show_before, show_after, kind

    def redo(self) -> None:
        self._show_after()

    def undo(self) -> None:
        self._show_before()

    def id(self) -> int:
        return 1 if self.kind else -1

    def mergeWith(self, other: QUndoCommand) -> bool:
        if not isinstance(other, UndoStep) or other.kind != self.kind:
            return False
        self._show_after = other._show_after
        return True
