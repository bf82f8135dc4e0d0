"""What every dialog about a photograph has: the picture, the sheet of known size in it, and work beside the window."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QImageReader, QKeyEvent, QMouseEvent, QPainter
from PySide6.QtWidgets import QDialog, QFormLayout, QHBoxLayout, QLayout, QProgressBar, QVBoxLayout, QWidget

from nestplan.desk.background.task import BackgroundTask, TaskControl
from nestplan.desk.controls.fields import Choice, LengthField, button, form, scrolled, set_role, soft
from nestplan.desk.controls.scrolled_dialog import FRAME
from nestplan.desk.dialogs.called_places import CalledPlaces, draw_places
from nestplan.desk.dialogs.picture_view import PictureView
from nestplan.desk.plain_text import plain_label
from nestplan.desk.settings import Settings
from nestplan.desk.table.zooming import ARROWS
from nestplan.desk.theme import current_theme, pen
from nestplan.errors import NestplanError
from nestplan.tasks.tracing import (
    ClickedSheet,
    FoundSheet,
    PrintedMarks,
    Scale,
    SheetInPhoto,
    find_marks,
    find_sheet,
)

__all__ = ["COLUMN_WIDTH", "CornersView", "SheetPhotoDialog"]

_SHEETS = {
    "a4": "A4 sheet, 210 × 297 mm",
    "letter": "Letter sheet, 8 1/2 × 11 in",
    "a3": "A3 sheet, 297 × 420 mm",
    "own": "board of another size",
    "marks": "printed marks round it",
}
_SIZES = {"a4": (210.0, 297.0), "letter": (215.9, 279.4), "a3": (297.0, 420.0)}
_DRAG_TOLERANCE = 0.05
"""How far a corner set by hand may be moved onto the sheet's edges, as a share of the picture's longer side."""

_SIZE = QSize(1040, 680)
"""What a photograph and the column beside it take where the screen has the room."""
COLUMN_WIDTH = 330
"""Pixels of the column beside a photograph."""


class CornersView(PictureView):
    """The picture with four corners that can be dragged; places are pixels of the file."""

    moved = Signal()

    def __init__(self, file: str) -> None:
        super().__init__("The photograph")
        reader = QImageReader(file)
        reader.setAutoTransform(True)
        image = reader.read()
        self.readable = not image.isNull()
        if self.readable:
            self.show_picture(image, (image.width(), image.height()), most=1600)
        self.corners: list[tuple[float, float]] = []
        self.others: tuple[tuple[tuple[float, float], ...], ...] = ()
        """Further sheets, or marks, that were found."""
        self.calling = ""
        """What the places clicked are called (a key of `CALLS`); else clicks mark corners."""
        self.places = CalledPlaces(self)
        self.places.changed.connect(self.update)
        self._held = -1
        self._taken = -1  # by the keyboard

    def set_corners(
        self,
        corners: Sequence[tuple[float, float]],
        others: tuple[tuple[tuple[float, float], ...], ...] = (),
    ) -> None:
        """Mark the four corners of the reference, and show others that are used with it."""
        self.corners, self.others = list(corners), others
        self._taken = -1
        self.update()
        self.moved.emit()

    def to_view(self, at: tuple[float, float]) -> QPointF:
        """Where a pixel of the file is seen."""
        box = self.box()
        return QPointF(
            box.x() + at[0] * box.width() / self.extent[0], box.y() + at[1] * box.height() / self.extent[1]
        )

    def _to_file(self, point: QPointF) -> tuple[float, float]:
        box = self.box()
        x = (point.x() - box.x()) * self.extent[0] / box.width()
        y = (point.y() - box.y()) * self.extent[1] / box.height()
        return self._in_picture(x, y)

    def _in_picture(self, x: float, y: float) -> tuple[float, float]:
        return (min(max(x, 0.0), self.extent[0] - 1.0), min(max(y, 0.0), self.extent[1] - 1.0))

    def press(self, event: QMouseEvent) -> None:
        if self.calling:
            self.places.add(self.calling, self._to_file(event.position()))
            return
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

    def drag(self, event: QMouseEvent) -> None:
        if self._held >= 0:
            self._move(self._held, self._to_file(event.position()))

    def _move(self, number: int, to: tuple[float, float]) -> None:
        """Move a corner; what was found with the old one no longer counts."""
        self.corners[number], self.others = to, ()
        self.update()

    def release(self, event: QMouseEvent) -> None:
        self._held = -1
        self.moved.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.text() in ("1", "2", "3", "4") and int(event.text()) <= len(self.corners):
            self._taken = int(event.text()) - 1
            self.update()
        elif (
            event.key() in ARROWS
            and not event.modifiers() & Qt.KeyboardModifier.ControlModifier
            and self._taken >= 0
        ):
            across, down = ARROWS[Qt.Key(event.key())]
            # By one pixel of the file, with Shift by ten.
            step = 10.0 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1.0
            x, y = self.corners[self._taken]
            self._move(self._taken, self._in_picture(x + step * across, y + step * down))
            self.moved.emit()
        else:
            super().keyPressEvent(event)

    def paint_over(self, painter: QPainter) -> None:
        theme = current_theme()
        spots = [self.to_view(at) for at in self.corners]
        painter.setBrush(Qt.BrushStyle.NoBrush)
        # Light below dark, so that it is seen on any floor.
        for color, wider in ((theme.raised, 2.0), (theme.alarm, 0.0)):
            painter.setPen(pen(color, 1.6 + wider))
            if len(spots) > 1:
                painter.drawPolygon(spots) if len(spots) > 2 else painter.drawPolyline(spots)
            for number, spot in enumerate(spots):
                # Open in the middle: the corner itself stays in sight.
                painter.drawEllipse(spot, 8, 8)
                if number == self._taken:
                    painter.drawEllipse(spot, 12, 12)
        painter.setPen(pen(theme.good, 1.6))
        for ring in self.others:
            painter.drawPolygon([self.to_view(at) for at in ring])
        painter.setPen(pen(theme.alarm, 1.6))
        for number, spot in enumerate(spots, start=1):
            plate = QRectF(spot.x() + 9, spot.y() - 25, 16, 16)
            painter.fillRect(plate, QColor(theme.raised))
            painter.drawText(plate, Qt.AlignmentFlag.AlignCenter, str(number))
        draw_places(painter, ((what, self.to_view(at)) for what, at in self.places.all))


class SheetPhotoDialog(QDialog):
    """Asks for the sheet in a photograph. What is done with it then is its heirs'; `found_words` are said when it was
    found, `failed_words` where something goes wrong inside."""

    notified = Signal(str)
    error_reported = Signal(object)
    found_words = ""
    failed_words = "Something went wrong inside nestplan. Mark the corners anew."

    def __init__(self, file: str, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._file = file
        self._task: BackgroundTask | None = None
        self.view = CornersView(file)
        self.view.moved.connect(self._refresh)
        self.sheet = Choice(_SHEETS, tip="What lies on or beside the hide, flat, all four corners in sight")
        self.width_field = LengthField(settings, tip="One side of the board")
        self.height_field = LengthField(settings, tip="The other side of the board")
        self.width_field.set_value(210.0)
        self.height_field.set_value(297.0)
        self.find_button = button("Find it", self._find, tip="Look for the sheet or the marks in the picture")
        self._found_sheet: tuple[tuple[float, float], tuple[tuple[float, float], ...]] | None = None
        self.leave = button("Cancel", self.reject)
        self.words = soft(
            "Mark the four corners of the sheet, or let it be found; drag a corner to correct it. The wheel zooms; "
            "the keys 1 to 4 take a corner and the arrows move it."
        )
        self.progress = QProgressBar()
        self.progress.setRange(0, 0)
        self.progress.setTextVisible(False)
        self.progress.setFixedHeight(8)
        self.progress.hide()
        self.fault = plain_label()
        self.fault.setWordWrap(True)
        set_role(self.fault, "alarm")
        self.fault.hide()
        self.sheet.edited.connect(self._sheet)

    def _sheet_form(self) -> QFormLayout:
        return form(
            ("Reference", self.sheet), ("One side", self.width_field), ("Other side", self.height_field)
        )

    def _lay_out(self, pictures: QWidget, *column: QWidget | QLayout) -> None:
        """Put the pictures beside a column that scrolls and, below it, what stays in sight."""
        side = QVBoxLayout()
        for part in column:
            side.addLayout(part) if isinstance(part, QLayout) else side.addWidget(part)
        side.addStretch(1)
        self._put_beside(pictures, scrolled(side))

    def _put_beside(self, pictures: QWidget | QLayout, upper: QWidget | QLayout) -> None:
        """Put the pictures beside `upper`, and below that how far the work is, what is wrong and Cancel."""
        beside = QWidget()
        beside.setFixedWidth(COLUMN_WIDTH)
        column, foot = QVBoxLayout(beside), QVBoxLayout()
        column.setContentsMargins(0, 0, 0, 0)
        foot.setContentsMargins(14, 0, 14, 12)
        for widget in (self.progress, self.fault, self.leave):
            foot.addWidget(widget)
        row = QHBoxLayout(self)
        for box, part in ((column, upper), (row, pictures)):
            box.addLayout(part, 1) if isinstance(part, QLayout) else box.addWidget(part, 1)
        column.addLayout(foot)
        row.addWidget(beside)
        self._begin()

    def _begin(self) -> None:
        """To be called when all is laid out."""
        self.resize(_SIZE.boundedTo(self.screen().availableSize() - FRAME))
        if not self.view.readable:
            self._show_error("This picture cannot be read. Save it as JPEG or PNG and try again.")
        self._sheet("a4")

    @property
    def _size(self) -> tuple[float, float]:
        return (self.width_field.value, self.height_field.value)

    @property
    def scale(self) -> Scale | None:
        """What gives the picture its scale; None until that is marked or found.

        A sheet left as it was found is looked for again, with all others of its size.
        """
        if self.sheet.value == "marks":
            return PrintedMarks()
        corners = tuple(self.view.corners)
        if len(corners) < 4:
            return None
        if self._found_sheet is not None and self._found_sheet == (self._size, corners):
            return FoundSheet(self._size)
        return ClickedSheet(self._size, corners, tolerance=_DRAG_TOLERANCE)

    @property
    def _busy(self) -> bool:
        return self._task is not None and self._task.running

    def _sheet(self, sheet: str) -> None:
        own = sheet == "own"
        if sheet in _SIZES:
            self.width_field.set_value(_SIZES[sheet][0])
            self.height_field.set_value(_SIZES[sheet][1])
        self.width_field.setEnabled(own)
        self.height_field.setEnabled(own)
        self.view.set_corners([] if sheet == "marks" else self.view.corners)
        self._refresh()

    def _refresh(self) -> None:
        self.find_button.setEnabled(self.view.readable and not self._busy)
        self.progress.setVisible(self._busy)

    def _find(self) -> None:
        size, file = self._size, self._file
        if self.sheet.value == "marks":
            self._start(lambda _: find_marks(file), self._marks_found)
        else:
            self._start(lambda _: find_sheet(file, size), lambda found: self._found(size, found))

    def _marks_found(self, marks: tuple[tuple[tuple[float, float], ...], ...]) -> None:
        self.view.set_corners([], marks)
        self.words.setText(f"{len(marks)} marks found. The scale is read from all of them together.")

    def _found(self, size: tuple[float, float], found: SheetInPhoto) -> None:
        self._found_sheet = size, found.corners
        self.view.set_corners(found.corners, found.others)
        others = len(found.others)
        also = f" {others} more of its size give{'s' * (others == 1)} the scale with it." if others else ""
        self.words.setText(self.found_words + also)

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
            self._show_error(self.failed_words)
            self.error_reported.emit(error)

    def _show_error(self, words: str) -> None:
        self.fault.setText(words)
        self.fault.show()

    def done(self, result: int) -> None:
        if self._task is not None:
            self._task.finish()
        super().done(result)
