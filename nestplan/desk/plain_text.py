"""Words shown as they are: a name from a file that looks like markup is no markup."""

from __future__ import annotations

from html import escape

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QWidget

__all__ = ["PlainLabel", "plain_tip"]


class PlainLabel(QLabel):
    """A label that never takes its words for markup."""

    def __init__(self, words: str = "", parent: QWidget | None = None) -> None:
        super().__init__(words, parent)
        self.setTextFormat(Qt.TextFormat.PlainText)


def plain_tip(words: str) -> str:
    """The words for a tooltip, which Qt would read as markup where they hold a tag."""
    if "<" not in words:
        return words
    return f"<qt>{escape(words)}</qt>".replace("\n", "<br>")
