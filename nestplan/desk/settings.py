"""What the window remembers from one day to the next: units, light, recent files, layers, its size.

Kept by Qt where the desktop keeps such things.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Literal

from PySide6.QtCore import QByteArray, QObject, QSettings, QStandardPaths, Signal
from PySide6.QtGui import QPixmap

from nestplan.desk.locale_format import in_form, show_date, show_money, use_numbers, usual_paper, usual_unit
from nestplan.desk.recent_jobs import RecentJobs
from nestplan.geometry.units import show_area, show_length

__all__ = ["Paper", "Settings", "recovery_folder"]

Paper = Literal["a4", "letter", "a3"]
"""Papers that sheets are laid out for."""


class Settings(QObject):
    """The remembered settings; `unit_changed` and `theme_changed` tell when those are."""

    unit_changed = Signal(str)
    theme_changed = Signal(str)
    recent_changed = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._kept = QSettings(QSettings.Format.IniFormat, QSettings.Scope.UserScope, "nestplan", "desk")
        self.recent_jobs = RecentJobs(self._kept)
        use_numbers(self.numbers)

    @property
    def unit(self) -> Literal["mm", "in"]:
        """The unit of lengths: `mm` or `in`."""
        return "in" if self._kept.value("unit", usual_unit()) == "in" else "mm"

    @unit.setter
    def unit(self, unit: Literal["mm", "in"]) -> None:
        if unit != self.unit:
            self._kept.setValue("unit", unit)
            self.unit_changed.emit(unit)

    @property
    def numbers(self) -> str:
        """How numbers are written: a key of `NUMBER_FORMS`."""
        return str(self._kept.value("numbers", "system"))

    @numbers.setter
    def numbers(self, form: str) -> None:
        if form != self.numbers:
            self._kept.setValue("numbers", form)
            use_numbers(form)
            self.unit_changed.emit(self.unit)

    @property
    def theme(self) -> str:
        """`system`, `light` or `dark`."""
        return str(self._kept.value("look", "system"))

    @theme.setter
    def theme(self, theme: str) -> None:
        if theme != self.theme:
            self._kept.setValue("look", theme)
            self.theme_changed.emit(theme)

    @property
    def slide(self) -> bool:
        """Whether a piece let go where it may not lie slides to the nearest free place."""
        return self._kept.value("slide", "no") == "yes"

    @slide.setter
    def slide(self, slide: bool) -> None:
        self._kept.setValue("slide", "yes" if slide else "no")

    @property
    def legend(self) -> bool | None:
        """Whether the key to the colours lies over the table; None where it was never asked for or put away."""
        return {"yes": True, "no": False}.get(str(self._kept.value("legend", "")))

    @legend.setter
    def legend(self, shown: bool | None) -> None:
        self._kept.setValue("legend", "yes" if shown else "no")

    @property
    def tips_seen(self) -> frozenset[str]:
        """The steps whose first tip was said."""
        return frozenset(filter(None, str(self._kept.value("tips", "")).split(",")))

    @tips_seen.setter
    def tips_seen(self, steps: frozenset[str]) -> None:
        self._kept.setValue("tips", ",".join(sorted(steps)))

    @property
    def hidden_layers(self) -> list[str]:
        """Layers of the table that are not shown."""
        return [name for name in str(self._kept.value("hidden", "")).split(",") if name]

    @hidden_layers.setter
    def hidden_layers(self, layers: list[str]) -> None:
        self._kept.setValue("hidden", ",".join(sorted(layers)))

    @property
    def minutes(self) -> float:
        """Minutes a plan is searched for."""
        try:
            return float(str(self._kept.value("minutes", "1")))
        except ValueError:
            return 1.0

    @minutes.setter
    def minutes(self, minutes: float) -> None:
        self._kept.setValue("minutes", str(minutes))

    @property
    def paper(self) -> Paper:
        """The paper sheets are laid out for."""
        kept = str(self._kept.value("paper", usual_paper()))
        papers: dict[str, Paper] = {"letter": "letter", "a3": "a3"}
        return papers.get(kept, "a4")

    @paper.setter
    def paper(self, paper: Paper) -> None:
        self._kept.setValue("paper", paper)

    @property
    def rack(self) -> str:
        """The folder in which a plan was committed as cut last; empty before the first."""
        return str(self._kept.value("rack", ""))

    @rack.setter
    def rack(self, folder: str) -> None:
        self._kept.setValue("rack", folder)

    @property
    def projector(self) -> dict[str, Any]:
        """The projector's `size` (pixels), `rectangle` (mm) and `corners` (pixels) of the last time; may be empty."""
        try:
            kept = json.loads(str(self._kept.value("projector", "{}")))
        except json.JSONDecodeError:
            return {}
        return kept if isinstance(kept, dict) else {}

    @projector.setter
    def projector(self, kept: dict[str, Any]) -> None:
        self._kept.setValue("projector", json.dumps(kept))

    def add_recent(self, files: list[str], name: str = "", picture: QPixmap | None = None) -> None:
        """Remember files that were opened or saved together, what is in them and how it looks."""
        if files:
            self.recent_jobs.add(files, name, picture)
            self.recent_changed.emit()

    @property
    def geometry(self) -> QByteArray | None:
        """Size and place of the window."""
        kept = self._kept.value("geometry")
        return kept if isinstance(kept, QByteArray) else None

    @geometry.setter
    def geometry(self, geometry: QByteArray) -> None:
        self._kept.setValue("geometry", geometry)

    @property
    def columns(self) -> QByteArray | None:
        """How the room is shared out between rack, table and side panel."""
        kept = self._kept.value("columns")
        return kept if isinstance(kept, QByteArray) else None

    @columns.setter
    def columns(self, state: QByteArray) -> None:
        self._kept.setValue("columns", state)

    def length(self, mm: float) -> str:
        """A length in the chosen unit, in words."""
        return in_form(show_length(mm, self.unit))

    def size(self, width: float, height: float) -> str:
        """Two lengths of something rough, such as an offcut, in whole centimetres or inches."""
        step, unit = (25.4, "in") if self.unit == "in" else (10.0, "cm")
        return f"{width / step:.0f} × {height / step:.0f} {unit}"

    def short_size(self, width: float, height: float) -> str:
        """Two lengths of a piece, in whole millimetres or tenths of an inch."""
        if self.unit == "in":
            return in_form(f"{width / 25.4:.1f} × {height / 25.4:.1f} in")
        return f"{width:.0f} × {height:.0f} mm"

    def area(self, mm2: float) -> str:
        """An area in words: in the unit that goes with the chosen one first, the other after it."""
        both = (show_area(mm2, "ft2"), show_area(mm2, "dm2"))
        first, second = both if self.unit == "in" else both[::-1]
        return in_form(f"{first} ({second})")

    def short_area(self, mm2: float) -> str:
        """An area in the unit that goes with the chosen one, as short as a figure on its own is to be."""
        return in_form(show_area(mm2, "ft2" if self.unit == "in" else "dm2", decimals=1))

    def money(self, amount: float, currency: str) -> str:
        """An amount of money in words."""
        return f"{show_money(amount)} {currency}".rstrip()

    def date(self, day: str) -> str:
        """A day (ISO) in words."""
        return show_date(day)

    def save(self) -> None:
        """Write what is not yet written."""
        self._kept.sync()


def recovery_folder() -> Path:
    """Where unsaved work is kept safe."""
    return (
        Path(QStandardPaths.writableLocation(QStandardPaths.StandardLocation.AppLocalDataLocation))
        / "recovery"
    )
