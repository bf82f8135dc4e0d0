"""What every step has: things to show on the table, a tool to start with, and one way to refuse in words.

The steps themselves are in `hide_editor`, `piece_editor` and `plan_editor`.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager

from PySide6.QtCore import QObject, Signal

from nestplan.desk.document.document import Document
from nestplan.desk.table.canvas import Table
from nestplan.desk.table.tracing import Tool
from nestplan.errors import NestplanError

__all__ = ["StepEditor"]


class StepEditor(QObject):
    """One step of the work. `error_reported` carries an error to be worded, `notified` plain words."""

    error_reported = Signal(object)
    notified = Signal(str)

    def __init__(self, document: Document, table: Table) -> None:
        super().__init__(table)
        self.document, self.table = document, table
        self.active = False

    def things(self) -> Iterator[tuple[Hashable, object]]:
        """What lies on the table in this step."""
        yield from ()

    def rest(self) -> None:
        """Take the tool this step starts with."""
        self.table.set_tool(None)

    def enter(self) -> None:
        """The step becomes the one at hand."""
        self.active = True
        self.refresh()
        self.rest()

    def leave(self) -> None:
        """Another step becomes the one at hand."""
        self.active = False

    def refresh(self) -> None:
        """Show the things as they are now."""
        if self.active:
            self.table.show_things(self.things())

    def take(self, tool: Tool) -> None:
        """Hold a tool, with the table ready for keys."""
        self.table.set_tool(tool)
        self.table.setFocus()

    @contextmanager
    def asking(self) -> Iterator[None]:
        """Errors of the model inside become a complaint; the work stays as it was."""
        try:
            yield
        except NestplanError as error:
            self.error_reported.emit(error)

    def tried(self, action: Callable[[], object]) -> bool:
        """Whether an action was done; if not, why is told."""
        done = False
        with self.asking():
            action()
            done = True
        return done
