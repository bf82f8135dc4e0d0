"""What every step has: records to show on the table, a tool to start with, and one way to refuse in words.

The steps themselves are in `hide_editor`, `piece_editor` and `plan_editor`.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager

from PySide6.QtCore import QObject, Signal

from nestplan.desk.document.document import Document
from nestplan.desk.editing.command import Command
from nestplan.desk.table.canvas import Table
from nestplan.desk.table.legend import LegendEntry
from nestplan.desk.table.tracing import PointerPosition, StrokeTool, Tool
from nestplan.errors import NestplanError

__all__ = ["StepEditor"]


class StepEditor(QObject):
    """One step of the work. `error_reported` carries an error to be worded, `notified` plain words, `tool_changed` the
    name of the tool in use (empty: the one the step starts with)."""

    error_reported = Signal(object)
    notified = Signal(str)
    tool_changed = Signal(str)

    def __init__(self, document: Document, table: Table) -> None:
        super().__init__(table)
        self.document, self.table = document, table
        self.active = False
        self._drawing: tuple[str, Tool] | None = None
        self._unfinished: dict[tuple[str, tuple[str, str]], Tool] = {}
        self._subject_drawn_on = ("", "")
        self.tool_name = ""
        table.tool_changed.connect(self._show_tool)

    def records(self) -> Iterator[tuple[Hashable, object]]:
        """What lies on the table in this step."""
        yield from ()

    def commands(self) -> list[Command]:
        """What the right button offers for what is selected in this step."""
        return []

    def select_at(self, pointer: PointerPosition) -> object:
        """Select what is under the pointer, before the right button offers something for it."""
        return None

    def select_all(self) -> None:
        """Select all that can be, on the hide on the table."""

    def select_kind(self) -> None:
        """Select all that are of the same kind as what is selected."""

    def duplicate(self) -> None:
        """Make another one of what is selected."""

    def selected_box(self) -> tuple[float, float, float, float] | None:
        """The box (left, bottom, right, top; mm) round what is selected; None where nothing is."""
        return None

    def legend(self) -> Iterator[LegendEntry]:
        """What the key of the table explains in this step."""
        yield from ()

    def use_default_tool(self) -> None:
        """Use the tool this step starts with."""
        self.table.set_tool(None)

    def enter(self) -> None:
        """The step becomes the current one."""
        self.active = True
        self.refresh()
        self.use_default_tool()

    def leave(self) -> None:
        """Another step becomes the current one."""
        self._keep_unfinished()
        self.active = False

    def refresh(self) -> None:
        """Show the records as they are now."""
        if self.active:
            self.table.show_records(self.records())

    def _show_tool(self, tool: Tool) -> None:
        named = self._drawing is not None and self._drawing[1] is tool
        name = self._drawing[0] if named and self._drawing is not None and self.active else ""
        if name != self.tool_name:
            self.tool_name = name
            self.tool_changed.emit(name)

    def use_tool(self, tool: Tool, drawing: str = "") -> None:
        """Use a tool, with the table ready for keys.

        `drawing` names what is drawn with it: what is unfinished when another tool is taken is gone on with when
        the same is to be drawn again on the same hide or piece.
        """
        self._keep_unfinished()
        subject = self.subject()
        if drawing:
            tool = self._unfinished.pop((drawing, subject), tool)
        self._drawing, self._subject_drawn_on = ((drawing, tool) if drawing else None), subject
        self.table.set_tool(tool)
        self.table.setFocus()

    def _keep_unfinished(self) -> None:
        if self._drawing is None:
            return
        drawing, tool = self._drawing
        self._drawing = None
        if tool is self.table.tool and tool.unfinished:
            self._unfinished[drawing, self._subject_drawn_on] = tool

    def subject(self) -> tuple[str, str]:
        """What lies on the table: its kind and its name. The view is fitted anew when it is another one."""
        hide = self.document.hide
        return "hide", hide.name if hide is not None else ""

    def toggle_tape(self, length_words: Callable[[float], str]) -> None:
        """Use the measuring tape, or put it away; `length_words` puts a length (mm) into words."""
        if isinstance(self.table.tool, StrokeTool) and self.table.tool.stays:
            self.use_default_tool()
            return

        def label(start: tuple[float, float], end: tuple[float, float]) -> str:
            dx, dy = end[0] - start[0], end[1] - start[1]
            length = length_words((dx * dx + dy * dy) ** 0.5)
            return f"{length}  ({length_words(abs(dx))} across, {length_words(abs(dy))} up)"

        hint = (
            "Draw the tape from one spot to another; it stays. Shift keeps to 15° steps. Backspace takes the last one "
            "away, Esc all."
        )
        self.table.set_tool(
            StrokeTool(lambda *_: None, label=label, stays=True, cancelled=self.use_default_tool, hint=hint)
        )

    @contextmanager
    def reporting_errors(self) -> Iterator[None]:
        """Errors of the model inside are reported; the work stays as it was."""
        try:
            yield
        except NestplanError as error:
            self.error_reported.emit(error)

    def attempt(self, action: Callable[[], object]) -> bool:
        """Whether an action was done; if not, why is reported."""
        done = False
        with self.reporting_errors():
            action()
            done = True
        return done
