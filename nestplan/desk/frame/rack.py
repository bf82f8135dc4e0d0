"""The rack: every open hide as a small picture, with what is laid on it. A click puts one on the table."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QSize, Qt, QTimer
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QFrame, QListWidget, QListWidgetItem, QToolButton, QVBoxLayout

from nestplan.desk.document.document import Document
from nestplan.desk.plain_text import plain_label, plain_tip
from nestplan.desk.settings import Settings
from nestplan.desk.table.thumbnails import common_scale, thumbnail
from nestplan.model.hide import Hide
from nestplan.model.plan import Placement, Plan

__all__ = ["Rack"]

_PICTURE = QSize(148, 84)
_TICK = 24
"""Pixels that the tick beside a picture takes."""


class Rack(QFrame):
    """The shelf on the left."""

    def __init__(self, document: Document, settings: Settings) -> None:
        super().__init__()
        self.setObjectName("rack")
        self._document, self._settings = document, settings
        self.title = plain_label("Rack")
        self.title.setProperty("role", "section")
        self.list = QListWidget()
        self.list.setAccessibleName("Rack of hides")
        self.list.setIconSize(_PICTURE)
        self.list.setViewMode(QListWidget.ViewMode.IconMode)
        self.list.setFlow(QListWidget.Flow.TopToBottom)
        self.list.setMovement(QListWidget.Movement.Static)
        self.list.setWrapping(False)
        self.list.setWordWrap(True)
        self.list.setSpacing(3)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setFrameShape(QFrame.Shape.NoFrame)
        self.list.currentRowChanged.connect(self._row)
        self.list.itemChanged.connect(self._ticked)
        self.add = QToolButton()
        self.add.setText("Add a hide")
        self.add.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.add.setToolTip("Trace one, measure one, take a photograph or open a file")
        self.add.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextOnly)
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 6, 8, 8)
        column.setSpacing(6)
        column.addWidget(self.title)
        column.addWidget(self.list, 1)
        column.addWidget(self.add)
        # Many changes in a row (a drag along an edge) make one new set of pictures.
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(120)
        self._timer.timeout.connect(self.refresh)
        document.changed.connect(lambda _: self._timer.start())
        document.hide_shown.connect(self._show_current)
        document.opened.connect(self.refresh)
        settings.unit_changed.connect(lambda _: self.refresh())

    def refresh(self) -> None:
        """Draw the pictures anew."""
        contents = self._document.contents
        self.list.blockSignals(True)
        while self.list.count() > len(contents.hides):
            self.list.takeItem(self.list.count() - 1)
        while self.list.count() < len(contents.hides):
            item = QListWidgetItem()
            item.setSizeHint(QSize(_PICTURE.width() + _TICK + 8, _PICTURE.height() + 40))
            item.setTextAlignment(Qt.AlignmentFlag.AlignHCenter)
            self.list.addItem(item)
        scale = common_scale(contents.hides, _PICTURE)
        for row, hide in enumerate(contents.hides):
            item = self.list.item(row)
            name = self.list.fontMetrics().elidedText(
                hide.name, Qt.TextElideMode.ElideRight, _PICTURE.width() - 6
            )
            item.setText(f"{name}\n{self._words(hide)}")
            facts = f"{hide.name}: {hide.leather}, {self._settings.area(hide.gross_area)}."
            item.setToolTip(plain_tip(f"{facts} Without its tick it is left out of the next plan."))
            self._show_tick(item, hide)
            state = (hide, _laid_on(contents.plan, hide), scale, self.palette().window().color().name())
            if item.data(Qt.ItemDataRole.UserRole) != state:
                item.setData(Qt.ItemDataRole.UserRole, state)
                picture = thumbnail(hide, contents.plan, contents.job, _PICTURE, scale=scale)
                made = QIcon(picture)
                made.addPixmap(picture, QIcon.Mode.Selected)  # a selected hide keeps its colours
                item.setIcon(made)
        self.list.blockSignals(False)
        self.title.setText(
            f"Rack: {len(contents.hides)} hides" if len(contents.hides) != 1 else "Rack: 1 hide"
        )
        self._show_current(self._document.hide)

    def _show_tick(self, item: QListWidgetItem, hide: Hide) -> None:
        """A hide that may be planned on has a tick; without it the next plan leaves it out."""
        usable = not hide.used and len(self._document.contents.leather) > 1
        flag = Qt.ItemFlag.ItemIsUserCheckable
        item.setFlags(item.flags() | flag if usable else item.flags() & ~flag)
        if usable:
            out = hide.name in self._document.left_out
            item.setCheckState(Qt.CheckState.Unchecked if out else Qt.CheckState.Checked)
        else:
            item.setData(Qt.ItemDataRole.CheckStateRole, None)

    def _ticked(self, item: QListWidgetItem) -> None:
        hides, row = self._document.contents.hides, self.list.row(item)
        if 0 <= row < len(hides) and item.flags() & Qt.ItemFlag.ItemIsUserCheckable:
            self._document.leave_out(hides[row].name, item.checkState() == Qt.CheckState.Unchecked)

    def hide_at(self, point: QPoint) -> str:
        """The name of the hide whose picture is at a point of the screen; empty where there is none."""
        item = self.list.itemAt(self.list.viewport().mapFromGlobal(point)) if self.isVisible() else None
        hides = self._document.contents.hides
        return (
            hides[self.list.row(item)].name if item is not None and self.list.row(item) < len(hides) else ""
        )

    def _words(self, hide: Hide) -> str:
        area = self._settings.short_area(hide.gross_area)
        if hide.used:
            return "used up"
        laid = len(_laid_on(self._document.contents.plan, hide))
        return f"{area}, {laid} placed" if laid else area

    def _show_current(self, hide: Hide | None) -> None:
        names = [other.name for other in self._document.contents.hides]
        self.list.blockSignals(True)
        if hide is not None and hide.name in names and self.list.count() == len(names):
            self.list.setCurrentRow(names.index(hide.name))
        self.list.blockSignals(False)

    def _row(self, row: int) -> None:
        hides = self._document.contents.hides
        if 0 <= row < len(hides):
            self._document.show_hide(hides[row].name)


def _laid_on(plan: Plan | None, hide: Hide) -> tuple[Placement, ...]:
    return tuple(p for p in plan.placements if p.hide == hide.name) if plan is not None else ()
