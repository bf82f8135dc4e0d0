"""A photograph of a hide: its sheet found or marked by hand, the outline found and looked at, then the hide taken."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from PySide6.QtCore import QPointF, QRectF, QStandardPaths, Qt, Signal
from PySide6.QtGui import QColor, QImageReader, QMouseEvent, QPainter, QPaintEvent, QPixmap
from PySide6.QtWidgets import (
    QCheckBox,
    QDialog,
    QHBoxLayout,
    QProgressBar,
    QStackedLayout,
    QVBoxLayout,
    QWidget,
)

from nestplan.desk.background.task import BackgroundTask, TaskControl
from nestplan.desk.controls.fields import Choice, LengthField, button, form, set_role, soft, text_field
from nestplan.desk.dialogs.traced_outline import OutlineReview, OutlineView
from nestplan.desk.editing.hide_from_photo import (
    PhotoHide,
    PhotoOutline,
    hide_of_outline,
    outline_from_photo,
)
from nestplan.desk.plain_text import plain_label
from nestplan.desk.settings import Settings
from nestplan.desk.theme import current_theme, pen
from nestplan.errors import NestplanError
from nestplan.tasks.tracing import find_sheet

__all__ = ["PhotoDialog"]

_SHEETS = {
    "a4": "A4 sheet, 210 × 297 mm",
    "letter": "Letter sheet, 8 1/2 × 11 in",
    "a3": "A3 sheet, 297 × 420 mm",
    "own": "board of another size",
}
_SIZES = {"a4": (210.0, 297.0), "letter": (215.9, 279.4), "a3": (297.0, 420.0)}


class CornersView(QWidget):
    """The picture with four corners that can be dragged; places are pixels of the file."""

    moved = Signal()

    def __init__(self, file: str) -> None:
        super().__init__()
        reader = QImageReader(file)
        reader.setAutoTransform(True)
        image = reader.read()
        self.readable = not image.isNull()
        self.full = (image.width() or 1, image.height() or 1)
        small = image.scaled(1600, 1600, Qt.AspectRatioMode.KeepAspectRatio) if self.readable else image
        self._picture = QPixmap.fromImage(small)
        self.corners: list[tuple[float, float]] = []
        self._held = -1
        self.setMinimumSize(560, 460)
        self.setAccessibleName("The photograph")

    def set_corners(self, corners: list[tuple[float, float]]) -> None:
        """Mark the four corners of the reference."""
        self.corners = list(corners)
        self.update()
        self.moved.emit()

    def _box(self) -> QRectF:
        scale = min(self.width() / self.full[0], self.height() / self.full[1])
        width, height = self.full[0] * scale, self.full[1] * scale
        return QRectF((self.width() - width) / 2, (self.height() - height) / 2, width, height)

    def to_view(self, at: tuple[float, float]) -> QPointF:
        """Where a pixel of the file is seen."""
        box = self._box()
        return QPointF(
            box.x() + at[0] * box.width() / self.full[0], box.y() + at[1] * box.height() / self.full[1]
        )

    def _to_file(self, point: QPointF) -> tuple[float, float]:
        box = self._box()
        x = (point.x() - box.x()) * self.full[0] / box.width()
        y = (point.y() - box.y()) * self.full[1] / box.height()
        return (min(max(x, 0.0), self.full[0] - 1.0), min(max(y, 0.0), self.full[1] - 1.0))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        near = [
            (QPointF(self.to_view(at) - event.position()).manhattanLength(), n)
            for n, at in enumerate(self.corners)
        ]
        if near and min(near)[0] < 22:
            self._held = min(near)[1]
        elif len(self.corners) < 4:
            self.corners.append(self._to_file(event.position()))
            self._held = len(self.corners) - 1
        self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._held >= 0:
            self.corners[self._held] = self._to_file(event.position())
            self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self._held = -1
        self.moved.emit()

    def paintEvent(self, event: QPaintEvent) -> None:
        theme = current_theme()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.fillRect(self.rect(), QColor(theme.table))
        painter.drawPixmap(self._box(), self._picture, QRectF(self._picture.rect()))
        spots = [self.to_view(at) for at in self.corners]
        painter.setPen(pen(theme.alarm, 2.0, Qt.PenStyle.DashLine))
        if len(spots) > 1:
            painter.drawPolygon(spots) if len(spots) > 2 else painter.drawPolyline(spots)
        painter.setBrush(QColor(theme.raised))
        painter.setPen(pen(theme.alarm, 2.0))
        for number, spot in enumerate(spots, start=1):
            painter.drawEllipse(spot, 8, 8)
            painter.drawText(
                QRectF(spot.x() - 8, spot.y() - 8, 16, 16), Qt.AlignmentFlag.AlignCenter, str(number)
            )
        painter.end()


class PhotoDialog(QDialog):
    """Asks for the reference and takes the hide; `made` carries the hide and the picture under it."""

    made = Signal(object, object)
    notified = Signal(str)
    error_reported = Signal(object)

    def __init__(self, file: str, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._file = file
        self._task: BackgroundTask | None = None
        self.setWindowTitle(f"A hide from {Path(file).name}")
        self.view = CornersView(file)
        self.view.moved.connect(self._refresh)
        self.sheet = Choice(_SHEETS, tip="What lies on or beside the hide, flat, all four corners in sight")
        self.width_field = LengthField(settings, tip="One side of the board")
        self.height_field = LengthField(settings, tip="The other side of the board")
        self.width_field.set_value(210.0)
        self.height_field.set_value(297.0)
        self.name = text_field(tip="What the hide is called")
        self.name.set_value(Path(file).stem.replace("_", " "))
        self.leather = text_field(tip="The kind of leather jobs ask for", hint="cow side")
        self.find_button = button("Find the sheet", self._find, tip="Look for the sheet in the picture")
        self.take_button = button(
            "Find the hide", self._trace, main=True, tip="Straighten the picture and follow the edge"
        )
        self.outline_view = OutlineView()
        self.review = OutlineReview(self.outline_view, settings)
        self.review.ready_changed.connect(self._refresh)
        self.use_button = button("Use this hide", self._take, main=True, tip="Lay it on the table")
        self.back_button = button("Back", self._back, tip="To the corners of the sheet")
        self._found_outline: PhotoOutline | None = None
        self.leave = button("Cancel", self.reject)
        self.words = soft(
            "Mark the four corners of the sheet, or let it be found; drag a corner to correct it."
        )
        self.flaws = QCheckBox("Mark places that look spoiled")
        self.flaws.setToolTip("Suggestions only: look at each on the leather and take away what is sound")
        self.flaws.setChecked(True)
        self.progress = QProgressBar()
        self.progress.setRange(0, 0)
        self.progress.setTextVisible(False)
        self.progress.setFixedHeight(8)
        self.progress.hide()
        self.fault = plain_label()
        self.fault.setWordWrap(True)
        set_role(self.fault, "alarm")
        self.fault.hide()
        self.sheet.given.connect(self._sheet)
        self._pictures, self._columns = QStackedLayout(), QStackedLayout()
        for view, column in ((self.view, self._sheet_column()), (self.outline_view, self._outline_column())):
            self._pictures.addWidget(view)
            self._columns.addWidget(column)
        column = QWidget()
        below = QVBoxLayout(column)
        below.addLayout(self._columns, 1)
        below.addWidget(self.progress)
        below.addWidget(self.fault)
        below.addWidget(self.leave)
        column.setFixedWidth(310)
        row = QHBoxLayout(self)
        row.addLayout(self._pictures, 1)
        row.addWidget(column)
        if not self.view.readable:
            self._show_error("This picture cannot be read. Save it as JPEG or PNG and try again.")
        self._sheet("a4")

    def _sheet_column(self) -> QWidget:
        column = QWidget()
        side = QVBoxLayout(column)
        side.setContentsMargins(0, 0, 0, 0)
        side.addWidget(self.words)
        side.addLayout(
            form(
                ("Reference", self.sheet),
                ("One side", self.width_field),
                ("Other side", self.height_field),
            )
        )
        side.addWidget(self.find_button)
        side.addLayout(form(("Name", self.name), ("Leather", self.leather)))
        side.addWidget(self.flaws)
        side.addWidget(self.take_button)
        side.addStretch(1)
        return column

    def _outline_column(self) -> QWidget:
        column = QWidget()
        side = QVBoxLayout(column)
        side.setContentsMargins(0, 0, 0, 0)
        side.addWidget(self.review, 1)
        side.addWidget(self.use_button)
        side.addWidget(self.back_button)
        return column

    @property
    def _size(self) -> tuple[float, float]:
        return (self.width_field.value, self.height_field.value)

    def _sheet(self, sheet: str) -> None:
        own = sheet == "own"
        if not own:
            self.width_field.set_value(_SIZES[sheet][0])
            self.height_field.set_value(_SIZES[sheet][1])
        self.width_field.setEnabled(own)
        self.height_field.setEnabled(own)
        self._refresh()

    def _refresh(self) -> None:
        busy = self._task is not None and self._task.running
        self.take_button.setEnabled(len(self.view.corners) == 4 and not busy)
        self.find_button.setEnabled(self.view.readable and not busy)
        self.use_button.setEnabled(self.review.ready and not busy)
        self.back_button.setEnabled(not busy)
        self.progress.setVisible(busy)

    def _find(self) -> None:
        size, file = self._size, self._file
        self._start(lambda _: find_sheet(file, size), self._found)

    def _found(self, found: tuple[Sequence[tuple[float, float]], float]) -> None:
        self.view.set_corners(list(found[0]))
        self.words.setText(
            "Found. Check that it is your sheet, of this size: every length hangs on it. Then take the hide."
        )

    def _trace(self) -> None:
        corners, size, file = list(self.view.corners), self._size, self._file
        flaws = self.flaws.isChecked()

        def work(control: TaskControl) -> object:
            return outline_from_photo(
                file,
                corners,
                size,
                flaws=flaws,
                tell=control.report,
                cancelled=lambda: control.cancelled,
            )

        self._start(work, self._traced)

    def _traced(self, found: PhotoOutline | None) -> None:
        if found is None:
            return
        self._found_outline = found
        self._page(1)
        self.review.show_traced(found.traced)

    def _back(self) -> None:
        self._page(0)

    def _page(self, number: int) -> None:
        self.fault.hide()
        self._pictures.setCurrentIndex(number)
        self._columns.setCurrentIndex(number)

    def _take(self) -> None:
        found, traced = self._found_outline, self.review.traced
        if found is None or traced is None:
            return
        name, leather = self.name.text().strip() or "New hide", self.leather.text().strip() or "leather"
        home = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.AppLocalDataLocation)
        folder = Path(home) / "pictures"
        self._start(
            lambda _: hide_of_outline(found, traced, name=name, leather=leather, folder=folder), self._taken
        )

    def _taken(self, taken: PhotoHide | None) -> None:
        if taken is None:
            return
        self.made.emit(taken.hide, taken.photo)
        self.notified.emit(taken.words)
        self.accept()

    def _start(self, work: Callable[[TaskControl], object], done: Callable[[Any], None]) -> None:
        self.fault.hide()
        self._task = BackgroundTask(work, parent=self)
        self._task.reported.connect(lambda words: self.words.setText(f"{words[:1].upper()}{words[1:]} …"))
        self._task.done.connect(done)
        self._task.failed.connect(self._failed)
        self._task.ended.connect(self._refresh)
        self._task.start()
        self._refresh()

    def _failed(self, error: object) -> None:
        if isinstance(error, NestplanError):
            self._show_error(f"{error.what} {error.mend}".strip())
        else:
            self._show_error(
                "Something went wrong inside nestplan. Mark the corners anew, or trace the hide by hand."
            )
            self.error_reported.emit(error)

    def _show_error(self, words: str) -> None:
        self.fault.setText(words)
        self.fault.show()

    def done(self, result: int) -> None:
        if self._task is not None:
            self._task.finish()
        super().done(result)
