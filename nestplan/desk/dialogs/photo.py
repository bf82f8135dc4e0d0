"""A photograph of a hide: its sheet found or marked by hand, the outline found and looked at, then the hide taken."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QStandardPaths, Signal
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QCheckBox, QStackedLayout, QVBoxLayout, QWidget

from nestplan.desk.background.task import TaskControl
from nestplan.desk.controls.fields import Choice, button, form, row_of, scrolled, soft, text_field
from nestplan.desk.dialogs.called_places import CALLS
from nestplan.desk.dialogs.sheet_photo import SheetPhotoDialog
from nestplan.desk.dialogs.traced_outline import OutlineReview, OutlineView
from nestplan.desk.editing.hide_from_photo import (
    PhotoHide,
    PhotoOutline,
    hide_of_outline,
    outline_from_photo,
)
from nestplan.desk.settings import Settings

__all__ = ["PhotoDialog"]


class PhotoDialog(SheetPhotoDialog):
    """Asks for the reference, shows the outline found, takes the hide; `made` carries it and the picture under it."""

    made = Signal(object, object)
    found_words = (
        "Found. Check that it is your sheet, of this size: every length hangs on it. Then find the hide."
    )
    failed_words = "Something went wrong inside nestplan. Mark the corners anew, or trace the hide by hand."

    def __init__(self, file: str, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(file, settings, parent)
        self.setWindowTitle(f"A hide from {Path(file).name}")
        self.name = text_field(tip="What the hide is called")
        self.name.set_value(Path(file).stem.replace("_", " "))
        self.leather = text_field(tip="The kind of leather jobs ask for", hint="e.g. cow side")
        self.take_button = button(
            "Find the hide", self._trace, main=True, tip="Straighten the picture and follow the edge"
        )
        self.flaws = QCheckBox("Look for places that are spoiled")
        self.flaws.setToolTip(
            "Suggestions only: tick those that are, once you have looked at them on the leather"
        )
        self.flaws.setChecked(True)
        self.outline_view = OutlineView()
        self.places = self.view.places
        self.outline_view.places = self.places
        self.places.changed.connect(self.outline_view.update)
        self.review = OutlineReview(self.outline_view, settings)
        self.click = Choice({"": "a corner of the sheet", **CALLS}, tip="What a click on the picture marks")
        self.click.edited.connect(self._click)
        self.back_place = button("Undo", self.places.take_back, tip="Take the last place back (Ctrl+Z)")
        self.back_place.setShortcut(QKeySequence(QKeySequence.StandardKey.Undo))
        self.told_places = soft("")
        self.places.changed.connect(self._refresh)
        self.again_button = button(
            "Find it again",
            self._trace,
            tip="Find the outline anew with the places called hide and floor; one Undo brings this one back",
        )
        self.review.ready_changed.connect(self._refresh)
        self.use_button = button("Use this hide", self._take, main=True, tip="Lay it on the table")
        self.back_button = button("Back", lambda: self._page(0), tip="To the corners of the sheet")
        self._pictures, self._columns = QStackedLayout(), QStackedLayout()
        for view, part in ((self.view, self._sheet_column()), (self.outline_view, self._outline_column())):
            self._pictures.addWidget(view)
            self._columns.addWidget(part)
        self._put_beside(self._pictures, self._columns)

    def _sheet_column(self) -> QWidget:
        side = QVBoxLayout()
        side.addWidget(self.words)
        side.addLayout(self._sheet_form())
        side.addWidget(self.find_button)
        side.addLayout(form(("Name", self.name), ("Leather", self.leather)))
        side.addLayout(form(("A click marks", self.click)))
        side.addLayout(row_of(self.told_places, self.back_place))
        side.addWidget(self.flaws)
        side.addWidget(self.take_button)
        side.addStretch(1)
        return scrolled(side)

    def _outline_column(self) -> QWidget:
        column = QWidget()
        side = QVBoxLayout(column)
        side.setContentsMargins(14, 12, 14, 0)
        side.addWidget(self.review, 1)
        side.addWidget(self.again_button)
        side.addWidget(self.use_button)
        side.addWidget(self.back_button)
        return column

    def _refresh(self) -> None:
        super()._refresh()
        self.take_button.setEnabled(self.scale is not None and not self._busy)
        self.told_places.setText(self.places.words or "Places that you know bind what is found.")
        self.back_place.setEnabled(bool(self.places.all))
        self.again_button.setEnabled(bool(self.places.all) and not self._busy)
        self.use_button.setEnabled(self.review.ready and not self._busy)
        self.back_button.setEnabled(not self._busy)

    def _click(self, what: str) -> None:
        self.view.calling = what

    def _trace(self) -> None:
        scale, file = self.scale, self._file
        if scale is None:
            return
        flaws, on_hide, on_floor = self.flaws.isChecked(), *map(self.places.called, CALLS)
        before = self.review.traced

        def work(control: TaskControl) -> object:
            return outline_from_photo(
                file,
                scale,
                flaws=flaws,
                before=before,
                on_hide=on_hide,
                on_floor=on_floor,
                tell=control.report,
                cancelled=lambda: control.cancelled,
            )

        self._start(work, self._traced)

    def _traced(self, found: PhotoOutline | None) -> None:
        if found is None:
            return
        self.review.show_found(found)
        self._page(1)

    def _page(self, number: int) -> None:
        self.fault.hide()
        self._pictures.setCurrentIndex(number)
        self._columns.setCurrentIndex(number)

    def _take(self) -> None:
        found = self.review.accepted
        if found is None:
            return
        name, leather = self.name.text().strip() or "New hide", self.leather.text().strip() or "leather"
        home = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.AppLocalDataLocation)
        folder = Path(home) / "pictures"
        self._start(lambda _: hide_of_outline(found, name=name, leather=leather, folder=folder), self._taken)

    def _taken(self, taken: PhotoHide | None) -> None:
        if taken is None:
            return
        self.made.emit(taken.hide, taken.photo)
        self.notified.emit(taken.words)
        self.accept()
