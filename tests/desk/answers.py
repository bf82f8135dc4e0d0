"""Answers to the window's questions, given by a hand that waits for the box and clicks a button of it."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMessageBox

_waiting: list[Answer] = []


class Answer:
    """Clicks the button called `words` in the next box that opens; `asked` is what the box said."""

    def __init__(self, words: str) -> None:
        self.words = words
        self.asked = ""
        self._tries = 0
        _waiting.append(self)  # Qt holds no reference to it
        QTimer.singleShot(20, self._look)

    def _look(self) -> None:
        box = QApplication.activeModalWidget()
        if not isinstance(box, QMessageBox):
            self._tries += 1
            if self._tries < 250:
                QTimer.singleShot(20, self._look)
            return
        self.asked = f"{box.text()}\n{box.informativeText()}\n{box.detailedText()}".strip()
        buttons = {made.text().replace("&", ""): made for made in box.buttons()}
        assert self.words in buttons, f"{self.words!r} is none of {sorted(buttons)}"
        _waiting.remove(self)
        QTest.mouseClick(buttons[self.words], Qt.MouseButton.LeftButton)
