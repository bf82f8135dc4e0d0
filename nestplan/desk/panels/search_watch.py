"""How a search goes: a live curve of the sets and the area it has laid, the figures now, and how long nothing came."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QVBoxLayout, QWidget

from nestplan.desk.background.search_history import SearchHistory
from nestplan.desk.controls.curve import Curve, CurveLevel, CurveLine
from nestplan.desk.controls.fields import set_role, soft
from nestplan.desk.controls.figures import Figure, FigureLabel
from nestplan.desk.controls.tiles import TileLayout
from nestplan.desk.settings import Settings
from nestplan.desk.theme import current_theme

__all__ = ["SearchWatch"]

_NO_GAIN = 20.0
"""Seconds without anything better after which it is said."""
_MORE_SCALE = 1.1
"""By how much the scale reaches over the best where nothing bounds it."""


class SearchWatch(QWidget):
    """Shown while a search is at work."""

    def __init__(self, settings: Settings) -> None:
        super().__init__()
        self._settings = settings
        self.curve = Curve("What the search has found against time")
        self.sets, self.area, self.hides = FigureLabel(), FigureLabel(), FigureLabel()
        self.gain = soft()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addLayout(TileLayout((self.sets, self.area, self.hides), most=3, spacing=10))
        column.addWidget(self.curve)
        column.addWidget(self.gain)

    def show_history(self, history: SearchHistory, worked: float, seconds: float) -> None:
        """Show what was found after so many seconds of work, of so many that the search may take."""
        if not history.points:
            for label in (self.sets, self.area, self.hides):
                label.show_figure(None)
            self.curve.show_lines((), now=worked, seconds=seconds, top="")
            self.gain.setText("")
            return
        now = history.points[-1]
        of = f"sets of {history.asked}" if history.asked else "sets"
        self.sets.show_figure(Figure(f"{now.sets}", of))
        self.area.show_figure(Figure(self._settings.short_area(now.area), "laid") if now.area else None)
        self.hides.show_figure(
            Figure(f"{now.hides}", "hide" if now.hides == 1 else "hides") if now.hides else None
        )
        theme, line = current_theme(), Qt.PenStyle
        most_sets = max(history.asked, now.sets)
        most_area = _MORE_SCALE * max(point.area for point in history.points)
        levels, top = [], f"{most_sets} sets (solid), area (dashed)"
        if history.most is not None:
            levels = [CurveLevel(history.asked / max(history.most[0], 1), f"asked: {history.asked}")]
            most_sets, most_area = history.most
            top = f"at most {most_sets} sets by area; dashed: area laid"
        self.curve.show_lines(
            (
                CurveLine(
                    [(point.seconds, point.area) for point in history.points],
                    most_area,
                    theme.soft,
                    line.DashLine,
                ),
                CurveLine([(point.seconds, point.sets) for point in history.points], most_sets, theme.accent),
            ),
            now=worked,
            seconds=seconds,
            top=top,
            levels=levels,
        )
        self._say_gain(history, worked)

    def _say_gain(self, history: SearchHistory, worked: float) -> None:
        idle = history.seconds_without_gain(worked)
        now = history.points[-1]
        if idle < _NO_GAIN:
            set_role(self.gain, "soft")
            self.gain.setText("")
        elif history.asked and now.sets >= history.asked:
            self.gain.setText(f"All {history.asked} sets have a place; no gain for {idle:.0f} s.")
        else:
            self.gain.setText(f"No gain for {idle:.0f} s. Stop and keep takes the best so far.")
