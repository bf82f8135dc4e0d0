"""The strip of steps along the lower edge, in the worker's order, each with how far it is, in words."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QButtonGroup, QFrame, QHBoxLayout, QSizePolicy, QToolButton, QWidget

from nestplan.desk.plain_text import plain_tip
from nestplan.desk.steps import Step

__all__ = ["StepStrip"]


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
        group = QButtonGroup(self)
        for number, step in enumerate(steps, start=1):
            made = QToolButton()
            made.setCheckable(True)
            made.setProperty("step", "true")
            made.setToolTip(plain_tip(f"{step.tip} ({step.keys})" if step.keys else step.tip))
            self._titles[step.name] = f"{number}  {step.word}"
            made.setText(f"{self._titles[step.name]}\n")
            made.setAccessibleName(step.word)
            made.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
            made.clicked.connect(lambda _=False, name=step.name: self.chosen.emit(name))
            group.addButton(made)
            row.addWidget(made, 1)
            self.buttons[step.name] = made

    def show_step(self, name: str) -> None:
        """Mark a step as the one at hand."""
        self.buttons[name].setChecked(True)

    def show_progress(self, name: str, words: str) -> None:
        """Say below a step how far it is."""
        self.buttons[name].setText(f"{self._titles[name]}\n{words}")
        self.buttons[name].setAccessibleDescription(words)
