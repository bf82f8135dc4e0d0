"""What a plan comes to: the sets, how the leather is shared out, the money and what is left, as figures."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QVBoxLayout, QWidget

from nestplan.desk.controls.details import Details
from nestplan.desk.controls.fields import set_role, soft
from nestplan.desk.controls.figures import Figure, FigureLabel, Share, SharesBar
from nestplan.desk.controls.tiles import TileLayout
from nestplan.desk.plain_text import plain_label
from nestplan.desk.sentences import count, figures_words
from nestplan.desk.settings import Settings
from nestplan.desk.theme import current_theme
from nestplan.model.plan import Figures

__all__ = ["FiguresPart", "leather_shares"]


class FiguresPart(QWidget):
    """The figures of one plan; what they mean in sentences is one click away."""

    def __init__(self, settings: Settings) -> None:
        super().__init__()
        self._settings = settings
        self._warned = 0
        self.sets, self.offcut = FigureLabel(), FigureLabel()
        self.money, self.leather = FigureLabel(), FigureLabel()
        self.bar = SharesBar("What becomes of the leather")
        self.words = soft()
        self.words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.details = Details("What these figures mean", self.words)
        self.warnings = plain_label()
        self.warnings.setWordWrap(True)
        set_role(self.warnings, "alarm")
        self.grouped = Details("", self.warnings)
        self.grouped.line.setProperty("details", "alarm")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        column.addLayout(TileLayout((self.sets, self.offcut, self.money, self.leather), most=2, spacing=10))
        column.addWidget(self.bar)
        column.addWidget(self.grouped)
        column.addWidget(self.details)

    def show_figures(
        self,
        figures: Figures,
        hide: str = "",
        *,
        faults: int = 0,
        mates: str = "",
        warnings: Sequence[str] = (),
    ) -> None:
        """Show the figures of a plan; `hide` lies on the table. With `faults` in it no set is whole. `mates` is what is
        to be said of pairs, `warnings` what is to be looked at again."""
        whole, asked = sum(each.whole for each in figures.sets), sum(each.asked for each in figures.sets)
        sets = Figure(f"{whole} of {asked}", "sets whole") if figures.sets and not faults else None
        self.sets.show_figure(sets)
        self.money.show_figure(self._money(figures.cost, figures.cost_per_set, "whole hides", figures))
        self.leather.show_figure(
            self._money(figures.leather_cost, figures.leather_cost_per_set, "leather used", figures)
        )
        self.offcut.show_figure(self._left(figures))
        self.bar.show_shares(leather_shares(figures))
        words = [*figures_words(figures, self._settings, hide, faults=faults), mates]
        self.words.setText("\n".join(filter(None, words)))
        self.warnings.setText("\n".join(f"⚠ {warning}" for warning in warnings))
        self.grouped.setVisible(bool(warnings))
        self.grouped.set_words(f"⚠ {count(len(warnings), 'warning')}: look again")
        # A single one is said at once, several are one line until they are asked for.
        self.grouped.line.setVisible(len(warnings) > 1)
        if len(warnings) == 1:
            self.grouped.line.setChecked(True)
        elif len(warnings) != self._warned:
            self.grouped.line.setChecked(False)
        self._warned = len(warnings)

    def _money(self, amount: float | None, a_set: float | None, what: str, figures: Figures) -> Figure | None:
        """Money of one kind, for a set where there is one."""
        if amount is None:
            return None
        if a_set is None:
            return Figure(self._settings.money(amount, figures.currency), what)
        return Figure(self._settings.money(a_set, figures.currency), f"{what}, a set")

    def _left(self, figures: Figures) -> Figure | None:
        if not figures.offcuts:
            return None
        area = self._settings.short_area(sum(offcut.area for offcut in figures.offcuts))
        return Figure(area, f"left, {count(len(figures.offcuts), 'offcut')}")


def leather_shares(figures: Figures) -> list[Share]:
    """What becomes of the leather that is cut into: of one whole, what is finished, lost, and left."""
    theme, brush = current_theme(), Qt.BrushStyle
    lost = (
        figures.lost_to_overcut + figures.lost_to_flaws + figures.lost_to_gaps + figures.lost_to_small_offcuts
    )
    return [
        Share("finished", figures.net_yield, theme.accent),
        Share("overcut", figures.lost_to_overcut, theme.accent, brush.BDiagPattern),
        Share("flaws", figures.lost_to_flaws, theme.flaw, brush.DiagCrossPattern),
        Share("gaps", figures.lost_to_gaps, theme.soft, brush.Dense4Pattern),
        Share("too small", figures.lost_to_small_offcuts, theme.soft, brush.Dense6Pattern),
        Share("left", max(0.0, 1.0 - figures.net_yield - lost), theme.leather),
    ]
