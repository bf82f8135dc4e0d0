"""A part of a panel that is out of sight until it is asked for."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QSizePolicy, QToolButton, QVBoxLayout, QWidget

__all__ = ["Details"]


class Details(QWidget):
    """A line with an arrow; a click, Space or Enter on it shows `contents` below it, or puts them away."""

    def __init__(self, words: str, contents: QWidget, *, open_now: bool = False) -> None:
        super().__init__()
        self._contents = contents
        self.line = QToolButton()
        self.line.setText(words)
        self.line.setCheckable(True)
        self.line.setProperty("details", "true")
        self.line.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.line.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.line.setMinimumHeight(26)
        self.line.toggled.connect(self._toggle)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(self.line)
        column.addWidget(contents)
        self.line.setChecked(open_now)
        self._toggle(open_now)

    def set_words(self, words: str) -> None:
        """Say something else on the line."""
        self.line.setText(words)

    def _toggle(self, shown: bool) -> None:
        self.line.setArrowType(Qt.ArrowType.DownArrow if shown else Qt.ArrowType.RightArrow)
        self._contents.setVisible(shown)
