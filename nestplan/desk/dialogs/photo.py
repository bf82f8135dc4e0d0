"""A photograph of a hide: its reference sheet found or marked by hand, then the hide taken from it."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QStandardPaths, Signal
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QVBoxLayout, QWidget

from nestplan.desk.background.task import TaskControl
from nestplan.desk.controls.fields import button, form, scrolled, text_field
from nestplan.desk.dialogs.sheet_photo import SheetPhotoDialog
from nestplan.desk.editing.hide_from_photo import PhotoHide, hide_from_photo
from nestplan.desk.settings import Settings

__all__ = ["PhotoDialog"]


class PhotoDialog(SheetPhotoDialog):
    """Asks for the reference and takes the hide; `made` carries the hide and the picture under it."""

    made = Signal(object, object)
    found_words = (
        "Found. Check that it is your sheet, of this size: every length hangs on it. Then take the hide."
    )
    failed_words = "Something went wrong inside nestplan. Mark the corners anew, or trace the hide by hand."

    def __init__(self, file: str, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(file, settings, parent)
        self.setWindowTitle(f"A hide from {Path(file).name}")
        self.name = text_field(tip="What the hide is called")
        self.name.set_value(Path(file).stem.replace("_", " "))
        self.leather = text_field(tip="The kind of leather jobs ask for", hint="e.g. cow side")
        self.take_button = button(
            "Take the hide", self._take, main=True, tip="Straighten the picture and follow the edge"
        )
        self.flaws = QCheckBox("Mark places that look spoiled")
        self.flaws.setToolTip("Suggestions only: look at each on the leather and take away what is sound")
        self.flaws.setChecked(True)
        side = QVBoxLayout()
        side.addWidget(self.words)
        side.addLayout(self._sheet_form())
        side.addWidget(self.find_button)
        side.addLayout(form(("Name", self.name), ("Leather", self.leather)))
        side.addWidget(self.flaws)
        side.addWidget(self.take_button)
        side.addWidget(self.progress)
        side.addWidget(self.fault)
        side.addWidget(self.leave)
        side.addStretch(1)
        column = scrolled(side)
        column.setFixedWidth(310)
        row = QHBoxLayout(self)
        row.addWidget(self.view, 1)
        row.addWidget(column)
        self._begin()

    def _refresh(self) -> None:
        super()._refresh()
        self.take_button.setEnabled(len(self.view.corners) == 4 and not self._busy)

    def _take(self) -> None:
        corners, size, file = list(self.view.corners), self._size, self._file
        name, leather = self.name.text().strip() or "New hide", self.leather.text().strip() or "leather"
        flaws = self.flaws.isChecked()
        home = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.AppLocalDataLocation)

        def work(control: TaskControl) -> object:
            return hide_from_photo(
                file,
                corners,
                size,
                name=name,
                leather=leather,
                flaws=flaws,
                folder=Path(home) / "pictures",
                tell=control.report,
                cancelled=lambda: control.cancelled,
            )

        self._start(work, self._taken)

    def _taken(self, taken: PhotoHide | None) -> None:
        if taken is None:
            return
        self.made.emit(taken.hide, taken.photo)
        self.notified.emit(taken.words)
        self.accept()
