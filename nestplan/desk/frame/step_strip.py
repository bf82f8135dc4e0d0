"""The strip of steps along the lower edge, in the worker's order, each with how far it is, in words."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QButtonGroup, QFrame, QHBoxLayout, QSizePolicy, QToolButton, QWidget

from nestplan.desk.plain_text import plain_tip
from nestplan.desk.steps import Step

__all__ = ["StepStrip"]

_LEAST_WIDTH = 96
"""Pixels a step needs for its title."""
_PADDING = 20
"""Pixels beside the words of a step."""


class StepStrip(QFrame):
    """The strip; `chosen` tells the name of the step that was clicked."""

    chosen = Signal(str)

    def __init__(self, steps: Sequence[Step], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("steps")
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        self.buttons: dict[str, QToolButton] = {}
        self._titles: dict[str, str] = {}
        self._tips: dict[str, str] = {}
        self._progress: dict[str, str] = {}
        group = QButtonGroup(self)
        for number, step in enumerate(steps, start=1):
            made = QToolButton()
            made.setCheckable(True)
            made.setProperty("step", "true")
            self._tips[step.name] = f"{step.tip} ({step.keys})" if step.keys else step.tip
            self._titles[step.name] = f"{number}  {step.word}"
            made.setAccessibleName(step.word)
            made.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
            made.setMinimumSize(_LEAST_WIDTH, made.fontMetrics().lineSpacing() + 16)
            made.clicked.connect(lambda _=False, name=step.name: self.chosen.emit(name))
            group.addButton(made)
            row.addWidget(made, 1)
            self.buttons[step.name] = made

    def show_step(self, name: str) -> None:
        """Mark a step as the one at hand."""
        self.buttons[name].setChecked(True)

    def show_progress(self, name: str, words: str) -> None:
        """Say below a step how far it is."""
        self._progress[name] = words
        self.buttons[name].setAccessibleDescription(words)
        self.buttons[name].setToolTip(plain_tip(f"{self._tips[name]}\n{words}"))
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        """Below each step stands as much of how far it is as there is room for."""
        room = self.width() // max(len(self.buttons), 1) - _PADDING
        for name, made in self.buttons.items():
            made.setText(f"{self._titles[name]}\n{self._fitting(self._progress.get(name, ''), room)}")

    def _fitting(self, words: str, room: int) -> str:
        """The words without the last parts, divided by commas, for which there is no room."""
        while words and self.fontMetrics().horizontalAdvance(words) > room:
            words = words.rpartition(", ")[0]
        return words
