"""Every change to the work as a step that can be undone.

The work is made of unchangeable records, so a step only keeps what was there before and what is there after.
Steps of one kind in a row (a point drawn along, a figure typed digit by digit) become one.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtGui import QUndoCommand

if TYPE_CHECKING:
    from nestplan.tasks.contents import Contents

__all__ = ["UndoStep"]


class UndoStep(QUndoCommand):
    """One step from `before` to `after`, in words. Steps with the same `kind` (if given) merge."""

    def __init__(
        self, words: str, before: Contents, after: Contents, show: Callable[[Contents], None], kind: str = ""
    ) -> None:
        super().__init__(words)
        self._before, self._after, self._show, self.kind = before, after, show, kind

    def redo(self) -> None:
        self._show(self._after)

    def undo(self) -> None:
        self._show(self._before)

    def id(self) -> int:
        return 1 if self.kind else -1

    def mergeWith(self, other: QUndoCommand) -> bool:
        if not isinstance(other, UndoStep) or other.kind != self.kind:
            return False
        self._after = other._after
        return True
