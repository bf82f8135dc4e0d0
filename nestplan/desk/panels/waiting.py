"""What has no place yet: how many of each, why, in words, and what could be eased so that it finds one."""

from __future__ import annotations

import functools

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QListWidget, QListWidgetItem, QMenu, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import button, fit_rows, section
from nestplan.desk.document.document import Document
from nestplan.desk.document.plan_edits import Waiting, pieces_waiting
from nestplan.desk.editing.plan_editor import PlanEditor
from nestplan.desk.editing.plan_search import PlanSearch
from nestplan.desk.plain_text import menu_text, plain_label, plain_tip
from nestplan.model.plan import Unplaced
from nestplan.tasks.relaxations import Relaxation, hides_without_direction, relaxations

__all__ = ["WaitingPart"]


class WaitingPart(QWidget):
    """The list of what waits, with the reason for the one selected; hidden when nothing waits, and while a search
    is at work, which will have another list. `backbone_wanted` asks for a hide's backbone to be drawn."""

    backbone_wanted = Signal(str)

    def __init__(self, document: Document, editor: PlanEditor, search: PlanSearch) -> None:
        super().__init__()
        self._document, self._editor, self._search = document, editor, search
        self.title = section("")
        self.list = QListWidget()
        self.list.setAccessibleName("Pieces without a place")
        self.list.currentRowChanged.connect(lambda _: self._show())
        self.list.itemDoubleClicked.connect(lambda _: self.put_back())
        self.why = plain_label()
        self.why.setWordWrap(True)
        self.back = button(
            "Put one on this hide", self.put_back, tip="Place one in the nearest free place in sight"
        )
        self.ease = button(
            "Loosen a limit", lambda: None, tip="Changes of the job that may let it in; Undo takes them back"
        )
        self._menu = QMenu(self)
        self.ease.setMenu(self._menu)
        self.backbone = button(
            "Draw the backbone", self._want_backbone, icon="backbone", tip="From neck to tail, on the hide"
        )
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.title)
        column.addWidget(self.list)
        column.addWidget(self.why)
        column.addWidget(self.backbone)
        row = QHBoxLayout()
        row.addWidget(self.back)
        row.addWidget(self.ease)
        column.addLayout(row)
        self._waiting: tuple[Waiting, ...] = ()
        document.plan_changed.connect(lambda _: self.refresh())
        document.job_changed.connect(lambda _: self.refresh())
        self.refresh()

    def refresh(self) -> None:
        """Show what waits now."""
        contents = self._document.contents
        self._waiting = ()
        if contents.job is not None and contents.hides and not self._search.running:
            self._waiting = pieces_waiting(contents.plan, contents.job)
        row = self.list.currentRow()
        self.list.blockSignals(True)
        self.list.clear()
        for entry in self._waiting:
            item = QListWidgetItem(f"{entry.count} × {entry.label}")
            reason = self._reason(entry)
            item.setToolTip(plain_tip(reason.why if reason is not None else ""))
            self.list.addItem(item)
        fit_rows(self.list, most=4)
        self.list.setCurrentRow(min(max(row, 0), len(self._waiting) - 1))
        self.list.blockSignals(False)
        self.title.setText(f"Without a place: {sum(entry.count for entry in self._waiting)}")
        self.setVisible(bool(self._waiting))
        self._show()

    @property
    def selected(self) -> Waiting | None:
        """The entry that is selected."""
        row = self.list.currentRow()
        return self._waiting[row] if 0 <= row < len(self._waiting) else None

    def _reason(self, entry: Waiting) -> Unplaced | None:
        plan = self._document.contents.plan
        named = [
            u for u in plan.unplaced if (u.piece or u.strip) == entry.name and u.layer == entry.layer
        ] if plan else []  # fmt: skip
        return next((u for u in named if u.mirrored == entry.mirrored), named[0] if named else None)

    def offers(self) -> tuple[Relaxation, ...]:
        """What could be eased for the entry that is selected."""
        entry, contents = self.selected, self._document.contents
        reason = self._reason(entry) if entry else None
        return (
            relaxations(reason, contents.job, contents.hides)
            if reason is not None and contents.job is not None
            else ()
        )

    def _show(self) -> None:
        entry = self.selected
        reason = self._reason(entry) if entry else None
        words = f"{reason.why} {reason.change}".strip() if reason else ""
        self.backbone.setVisible(bool(self._without_direction()))
        self.why.setText(words or ("It has not been laid yet." if entry else ""))
        self.back.setEnabled(entry is not None and self._document.hide is not None)
        self._menu.clear()
        found = self.offers()
        for offer in found:
            self._menu.addAction(menu_text(offer.words), functools.partial(self.take, offer))
        self.ease.setVisible(bool(found))

    def _without_direction(self) -> tuple[str, ...]:
        """The hides whose backbone would tell the direction that the selected entry asks for."""
        entry, contents = self.selected, self._document.contents
        reason = self._reason(entry) if entry else None
        if reason is None or contents.job is None:
            return ()
        return hides_without_direction(reason, contents.job, contents.hides)

    def _want_backbone(self) -> None:
        names = self._without_direction()
        shown = self._document.hide
        if names:
            self.backbone_wanted.emit(shown.name if shown is not None and shown.name in names else names[0])

    def take(self, offer: Relaxation) -> None:
        """Ease a rule as offered."""
        self._document.edit_job(offer.words, offer.job)
        self._editor.notified.emit(
            f"{offer.words}: done. Plan again to see whether it helps; Undo takes it back."
        )

    def put_back(self) -> None:
        """Lay one of the selected entry on the hide at hand."""
        if self.selected is not None:
            self._editor.put_back(self.selected)
            self.list.setFocus(Qt.FocusReason.OtherFocusReason)
