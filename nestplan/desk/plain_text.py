"""Words shown as they are: names that come from files are never read as markup, whatever stands in them."""

from __future__ import annotations

import html

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel

__all__ = ["menu_text", "plain_label", "plain_tip"]


def plain_label(words: str = "") -> QLabel:
    """A label that shows its words as they are."""
    label = QLabel(words)
    label.setTextFormat(Qt.TextFormat.PlainText)
    return label


def plain_tip(words: str) -> str:
    """What a tooltip is to be given so that it shows `words` as they are."""
    if "<" not in words:
        return words
    return "<qt>" + html.escape(words).replace("\n", "<br>") + "</qt>"


def menu_text(words: str) -> str:
    """What a menu's entry is to be given so that it shows `words` as they are."""
    return words.replace("&", "&&")
