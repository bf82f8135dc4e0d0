"""What an empty table says: what to do first, and one click for each way to begin."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from nestplan.desk.panels.fields import button, soft

__all__ = ["EmptyTable"]


class EmptyTable(QWidget):
    """A page with a heading, a sentence, and ways to begin: words -> (what it is, action)."""

    def __init__(self, title: str, words: str, ways: dict[str, tuple[str, Callable[[], object]]]) -> None:
        super().__init__()
        self.buttons: dict[str, QPushButton] = {}
        head = QLabel(title)
        head.setStyleSheet("font-size: 26px; font-weight: 600;")
        text = soft(words)
        text.setStyleSheet("font-size: 15px;")
        grid = QGridLayout()
        grid.setVerticalSpacing(10)
        grid.setHorizontalSpacing(16)
        for row, (name, (what, action)) in enumerate(ways.items()):
            made = button(name, action, main=row == 0)
            made.setMinimumSize(190, 36)
            self.buttons[name] = made
            grid.addWidget(made, row, 0)
            words_beside = soft(what)
            words_beside.setMinimumHeight(38)
            grid.addWidget(words_beside, row, 1)
        grid.setColumnStretch(1, 1)
        inner = QWidget()
        inner.setFixedWidth(640)
        column = QVBoxLayout(inner)
        column.setSpacing(14)
        column.addWidget(head)
        column.addWidget(text)
        column.addLayout(grid)
        outer = QVBoxLayout(self)
        outer.addStretch(2)
        outer.addWidget(inner, 0, Qt.AlignmentFlag.AlignHCenter)
        outer.addStretch(3)
