"""The strip above the table: fit, tape, layers, what the hand can do now, and where the pointer is."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QToolButton, QWidget

from nestplan.desk.plain_text import plain_label, plain_tip
from nestplan.desk.theme import set_icon

__all__ = ["Toolbar"]

_NARROW = 700
"""Below this width (pixels) the buttons show their icons alone, to leave room for the words."""
_VERY_NARROW = 520
"""Below this width (pixels) the pointer's place is left out too."""


class Toolbar(QWidget):
    """Buttons, `hint` in words, and the pointer's `place`."""

    def __init__(
        self, fit: Callable[[], object], tape: Callable[[], object], legend: Callable[[], object]
    ) -> None:
        super().__init__()
        self.setFixedHeight(50)  # words of one line or two: the table below must not jump
        self._row = row = QHBoxLayout(self)
        row.setContentsMargins(8, 4, 8, 4)
        self._buttons: list[QToolButton] = []
        self._hint = ""
        for words, icon, tip, action in (
            ("Fit", "fit", "Show everything (Ctrl+0)", fit),
            ("Tape", "tape", "Measure on the table (Ctrl+T)", tape),
        ):
            made = self._button(words, icon, tip)
            made.clicked.connect(lambda _=False, action=action: action())
        self.legend = self._button("Key", "legend", "Key to the colours and lines (F6)")
        self.legend.setCheckable(True)
        self.legend.setProperty("switch", "true")
        set_icon(self.legend, "legend")
        self.legend.clicked.connect(lambda _=False: legend())
        self.layers = self._button("Show", "layers", "Which layers are shown")
        self.layers.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.hint = plain_label()
        self.hint.setObjectName("hint")
        self.hint.setWordWrap(True)
        self.hint.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.place = plain_label()
        self.place.setFixedWidth(140)
        self.place.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        for button in self._buttons:
            row.addWidget(button)
        row.addWidget(self.hint, 1)
        row.addWidget(self.place)

    def _button(self, words: str, icon: str, tip: str) -> QToolButton:
        made = QToolButton()
        made.setText(words)
        made.setAccessibleName(words)
        set_icon(made, icon)
        made.setToolTip(plain_tip(tip))
        made.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self._buttons.append(made)
        return made

    def show_hint(self, words: str) -> None:
        """Put words in the hint: as many of its sentences as there is room for; a tooltip holds them whole."""
        self._hint = words
        self.hint.setToolTip(plain_tip(words))
        self._fit_hint()

    def _fit_hint(self) -> None:
        sentences = self._hint.split(". ")
        room = self.height() - 8
        for number in range(len(sentences), 0, -1):
            words = ". ".join(sentences[:number])
            self.hint.setText(words if words.endswith(".") or not words else f"{words}.")
            if self.hint.heightForWidth(self.hint.width()) <= room:
                return

    def resizeEvent(self, event: QResizeEvent) -> None:
        narrow = event.size().width() < _NARROW
        style = Qt.ToolButtonStyle
        for button in self._buttons:
            button.setToolButtonStyle(style.ToolButtonIconOnly if narrow else style.ToolButtonTextBesideIcon)
        self.place.setVisible(event.size().width() >= _VERY_NARROW)
        super().resizeEvent(event)
        self._row.activate()
        self._fit_hint()
