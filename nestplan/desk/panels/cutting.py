"""The side panel of the step Cut: the sheet to print, the order to cut in, what is cut, a flaw found on the way."""

from __future__ import annotations

from collections import Counter
from functools import partial

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QIcon, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import (
    Choice,
    button,
    heading,
    mark_active,
    scrolled,
    section,
    soft,
    tool_button,
)
from nestplan.desk.controls.tiles import TileLayout
from nestplan.desk.document.document import Document
from nestplan.desk.document.plan_edits import marked_cut
from nestplan.desk.editing.cutting import draw_found_flaw, steps_on_hide
from nestplan.desk.editing.plan_editor import PlanEditor
from nestplan.desk.editing.plan_search import PlanSearch
from nestplan.desk.panels.flaws_and_regions import flaw_choices
from nestplan.desk.plain_text import plain_tip
from nestplan.desk.sentences import cut_words
from nestplan.desk.theme import chip, current_theme
from nestplan.model.plan import Placement
from nestplan.sheets.cautions import ABOVE_ALL, CUTTING, PUNCHING

__all__ = ["CuttingPanel"]

_CAUTION = f"{CUTTING[0]} {PUNCHING[0]} {ABOVE_ALL}"


class CuttingPanel(QWidget):
    """The order of cutting on the hide at hand; ticked as it is cut.

    Signals ask for the cut sheet, the projector view, another search for the rest, and for the plan to be
    committed as cut.
    """

    sheet_wanted = Signal()
    projector_wanted = Signal()
    search_wanted = Signal()
    commit_wanted = Signal()

    def __init__(self, document: Document, editor: PlanEditor, search: PlanSearch) -> None:
        super().__init__()
        self._document, self._editor, self._search = document, editor, search
        self._title = heading("Nothing to cut yet")
        self.list = QListWidget()
        self.list.setAccessibleName("Order of cutting")
        self.list.setMinimumHeight(220)
        self.list.setWordWrap(True)
        self.list.itemChanged.connect(self._ticked)
        self.list.currentRowChanged.connect(self._row)
        self.print_sheet = button(
            "Cut sheet …", self.sheet_wanted.emit, main=True, icon="print", tip="Write the cut sheet as PDF"
        )
        self.project = button(
            "Projector …",
            self.projector_wanted.emit,
            icon="layers",
            tip="Throw the plan on the table, full size (Ctrl+J)",
        )
        self.spoils = Choice(flaw_choices(), tip="What the flaw you found spoils")
        self.spoils.setAccessibleName("What it spoils")
        self.tools = {
            "round flaw": tool_button(
                "Spot",
                lambda: self._flaw("disc"),
                icon="disc",
                tip="A round flaw: press in its middle, draw out, let go",
            ),
            "line flaw": tool_button(
                "Scratch",
                lambda: self._flaw("line"),
                icon="line",
                tip="A scratch or cut: click along it, Enter ends",
            ),
            "outlined flaw": tool_button(
                "Patch", lambda: self._flaw("outline"), icon="area", tip="Outline it on the table"
            ),
        }
        editor.tool_changed.connect(partial(mark_active, self.tools))
        self.again = button(
            "Place the rest again", self.search_wanted.emit, icon="plan", tip="What is cut or locked stays"
        )
        column = QVBoxLayout()
        column.addWidget(self._title)
        column.addWidget(self.print_sheet)
        column.addWidget(self.project)
        column.addWidget(section("In this order on this hide"))
        column.addWidget(soft("Tick what is cut. Space ticks the row; a click on the table shows the row."))
        column.addWidget(self.list, 1)
        column.addWidget(section("A flaw found while cutting"))
        column.addWidget(self.spoils)
        column.addLayout(TileLayout(self.tools.values(), most=3))
        row = QHBoxLayout()
        row.addWidget(self.again)
        column.addLayout(row)
        self.book = button(
            "All is cut: put the rest back …",
            self.commit_wanted.emit,
            tip="The hides are used up, useful offcuts go to the rack as hides, the job to your log",
        )
        column.addWidget(self.book)
        column.addWidget(soft(_CAUTION))
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scrolled(column))
        self._cuts: list[tuple[Placement, ...]] = []
        document.plan_changed.connect(lambda _: self.refresh())
        document.hide_shown.connect(lambda _: self.refresh())
        document.selection_changed.connect(self._selected)
        self.refresh()

    def refresh(self) -> None:
        """Show the order of cutting as it is now."""
        if not self.isVisible() and self._cuts == [] and self._document.contents.plan is None:
            return
        contents = self._document.contents
        words = cut_words(contents.plan)
        self._title.setText(words[:1].upper() + words[1:])
        row = self.list.currentRow()
        self.list.blockSignals(True)
        self.list.clear()
        self._cuts = []
        for label, placed, reason in steps_on_hide(self._document):
            item = QListWidgetItem(self._chip(placed[0]), f"{label}  {self._words(placed)}")
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            done = all(placement.done for placement in placed)
            item.setCheckState(Qt.CheckState.Checked if done else Qt.CheckState.Unchecked)
            item.setToolTip(plain_tip(reason))
            self.list.addItem(item)
            self._cuts.append(placed)
        self.list.setCurrentRow(min(row, len(self._cuts) - 1))
        self.list.blockSignals(False)
        self.again.setEnabled(contents.plan is not None and not self._search.running)
        self.print_sheet.setEnabled(contents.plan is not None)
        self.project.setEnabled(contents.plan is not None)
        self.book.setEnabled(contents.plan is not None and bool(contents.plan.placements))

    def _ticked(self, item: QListWidgetItem) -> None:
        placed = self._cuts[self.list.row(item)]
        done = item.checkState() == Qt.CheckState.Checked
        plan = self._document.contents.plan
        if plan is not None:
            words = "Mark as cut:" if done else "Mark as not cut:"
            self._document.set_plan(f"{words} {self._words(placed)}", marked_cut(plan, placed, done))

    def _row(self, row: int) -> None:
        if 0 <= row < len(self._cuts):
            self._document.select(self._cuts[row])

    def showEvent(self, event: QShowEvent) -> None:
        self.refresh()
        super().showEvent(event)

    def _selected(self, selected: tuple[Placement, ...]) -> None:
        for row, placed in enumerate(self._cuts):
            if selected and selected[0] in placed:
                self.list.blockSignals(True)
                self.list.setCurrentRow(row)
                self.list.blockSignals(False)
                return

    def _flaw(self, shape: str) -> None:
        draw_found_flaw(self._editor, shape, self.spoils.value)

    def _chip(self, placement: Placement) -> QIcon:
        """The colour of its article on the table."""
        job, tints = self._document.contents.job, current_theme().tints
        for number, article in enumerate(job.articles if job else ()):
            names = {piece.name for piece in article.pieces} | {strip.name for strip in article.strips}
            if placement.name in names:
                return chip(tints[number % len(tints)])
        return chip(tints[0])

    def _words(self, placed: tuple[Placement, ...]) -> str:
        """What one step cuts, named as on the cut sheet."""
        from nestplan.sheets.placement_names import placed_name

        job = self._document.contents.job
        if job is None:
            return ""
        first = placed[0]
        if first.piece:
            return f"{placed_name(job, first)} (set {first.set})"
        kinds = Counter(placed_name(job, each) for each in placed)
        return "; ".join((f"{number} × " if number > 1 else "") + name for name, number in kinds.items())
