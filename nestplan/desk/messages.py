"""What the window says to its user: errors put into words in one place, and words of other kinds.

Whoever has something to say holds the `Messages` of the window; who shows them is `frame.notice`.
"""

from __future__ import annotations

import traceback
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from nestplan.desk.settings import Settings
from nestplan.errors import NestplanError

__all__ = ["UNDO", "Message", "Messages"]

UNDO = "Undo"
"""The offer to take back what has just been done."""


@dataclass(frozen=True)
class Message:
    """Words to be shown over the table. Each offer is a button (its words) and what it does."""

    words: str
    alarm: bool = False
    offers: Mapping[str, Callable[[], object]] = field(default_factory=dict)


class Messages(QObject):
    """The one way to say something; `sent` carries each Message. Errors tell their lengths in the settings' unit."""

    sent = Signal(object)

    def __init__(self, settings: Settings, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._settings = settings

    def notify(
        self, words: str, *, alarm: bool = False, offers: Mapping[str, Callable[[], object]] | None = None
    ) -> None:
        """Say something; each offer is a button that does it."""
        self.sent.emit(Message(words, alarm, offers or {}))

    def notify_change(self, words: str, undo: Callable[[], object]) -> None:
        """Say what has just been done, with the offer to take it back."""
        self.notify(words, offers={UNDO: undo})

    def report_error(self, error: object, others: Sequence[NestplanError] = ()) -> None:
        """Put an error into words: what, where, and what to do about it; of `others` which files they are in."""
        if isinstance(error, NestplanError):
            error.told_in(self._settings.unit)
            where = ", ".join(
                part for part in (Path(error.file).name if error.file else "", error.place) if part
            )
            words = f"{error.what} {error.mend}".strip()
            words = f"{words}  ({where})" if where else words
            files = ", ".join(dict.fromkeys(Path(other.file).name for other in others if other.file))
            self.notify(f"{words}\nNot opened either: {files}." if files else words, alarm=True)
            return
        if isinstance(error, BaseException):
            traceback.print_exception(error)
        self.notify(
            f"Something went wrong inside nestplan: {error}. Your work is safe; please report this.",
            alarm=True,
        )
