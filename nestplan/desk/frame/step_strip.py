"""The strip of steps along the lower edge, in the worker's order, each with how far it is, in words."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QButtonGroup, QFrame, QHBoxLayout, QSizePolicy, QToolButton, QWidget

__all__ = ["STEPS", "Steps"]

#: The steps: name, its word, and what is done there.
STEPS: dict[str, tuple[str, str]] = {
    "hides": ("Hides", "Lay out the hides: outlines, flaws, regions, backbone (Ctrl+1)"),
    "pieces": ("Pieces", "Say what is to be cut: pieces, straps, laces, how many sets (Ctrl+2)"),
    "choose": ("Choose", "See which hides suit the job (Ctrl+3)"),
    "plan": ("Plan", "Lay the pieces on the hides, by itself and by hand (Ctrl+4)"),
    "cut": ("Cut", "At the table: print the sheet, mark what is cut, add a flaw found (Ctrl+5)"),
}


class Steps(QFrame):
    """The strip; `chosen` tells which step was clicked."""

    chosen = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("steps")
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        self.buttons: dict[str, QToolButton] = {}
        group = QButtonGroup(self)
        for number, (name, (word, tip)) in enumerate(STEPS.items(), start=1):
            made = QToolButton()
            made.setCheckable(True)
            made.setProperty("step", "true")
            made.setToolTip(tip)
            made.setText(f"{number}  {word}\n")
            made.setAccessibleName(word)
            made.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
            made.clicked.connect(lambda _=False, name=name: self.chosen.emit(name))
            group.addButton(made)
            row.addWidget(made, 1)
            self.buttons[name] = made

    def show_step(self, name: str) -> None:
        """Mark a step as the one at hand."""
        self.buttons[name].setChecked(True)

    def tell(self, name: str, words: str) -> None:
        """Say below a step how far it is."""
        number = list(STEPS).index(name) + 1
        self.buttons[name].setText(f"{number}  {STEPS[name][0]}\n{words}")
        self.buttons[name].setAccessibleDescription(words)
