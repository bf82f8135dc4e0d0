"""Places of a hide that look spoiled in its photograph: each is only a suggestion until it is ticked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QCheckBox, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import soft
from nestplan.desk.plain_text import plain_tip
from nestplan.desk.settings import Settings
from nestplan.geometry.units import show_length
from nestplan.tasks.tracing import PATTERN_WORDS

if TYPE_CHECKING:
    from nestplan.intake.photo.flaws import FlawSuggestion

__all__ = ["FlawTicks"]


class FlawTicks(QWidget):
    """A tick for each suggestion, and one for all; `changed` tells that others are ticked."""

    changed = Signal()

    def __init__(self, settings: Settings) -> None:
        super().__init__()
        self._settings = settings
        self.flaws: tuple[FlawSuggestion, ...] = ()
        self.ticks: list[QCheckBox] = []
        self.every = QCheckBox("All of them")
        self.every.clicked.connect(self._tick_all)
        self._words = soft("")
        self._list = QVBoxLayout()
        self._list.setContentsMargins(0, 0, 0, 0)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self._words)
        column.addWidget(self.every)
        column.addLayout(self._list)

    def show_flaws(self, flaws: Sequence[FlawSuggestion], *, patterned: bool) -> None:
        """List other suggestions, none ticked. Openings are no suggestions: they belong to the outline."""
        for tick in self.ticks:
            tick.deleteLater()
        self.flaws = tuple(flaw for flaw in flaws if flaw.appearance != "hole")
        self.ticks = []
        count = len(self.flaws)
        words = [
            f"{count} place{'s' * (count != 1)} may be spoiled. Tick what is: no piece is laid there."
        ] * (count > 0)
        self._words.setText(" ".join([*words, *[PATTERN_WORDS] * patterned]))
        self._words.setVisible(bool(words) or patterned)
        self.every.setVisible(count > 1)
        for number, flaw in enumerate(self.flaws, start=1):
            tick = QCheckBox(f"{number}: {flaw.appearance}, {show_length(flaw.size, self._settings.unit)}")
            tick.setToolTip(
                plain_tip("Ticked, it goes with the hide as a flaw; it can be changed or removed there")
            )
            tick.toggled.connect(self._ticked)
            self.ticks.append(tick)
            self._list.addWidget(tick)
        self._ticked()

    @property
    def accepted(self) -> tuple[FlawSuggestion, ...]:
        """The suggestions that are ticked."""
        return tuple(flaw for flaw, tick in zip(self.flaws, self.ticks, strict=True) if tick.isChecked())

    def _tick_all(self, on: bool) -> None:
        for tick in self.ticks:
            tick.setChecked(on)

    def _ticked(self) -> None:
        self.every.setChecked(bool(self.ticks) and all(tick.isChecked() for tick in self.ticks))
        self.changed.emit()
