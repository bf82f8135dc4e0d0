"""An outline found in a photograph, looked at before it becomes a hide: mended with a brush, warnings accepted, flaws
that were suggested ticked.

Each warning is accepted by itself; until all are, the outline cannot be used.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, QSizeF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QImage,
    QKeySequence,
    QMouseEvent,
    QPainter,
    QPolygonF,
    QUndoCommand,
    QUndoStack,
)
from PySide6.QtWidgets import QCheckBox, QVBoxLayout, QWidget

from nestplan.desk.controls.fields import (
    Choice,
    LengthField,
    button,
    form,
    row_of,
    scrolled,
    set_role,
    soft,
)
from nestplan.desk.dialogs.called_places import CALLS, CalledPlaces, draw_places
from nestplan.desk.dialogs.flaw_ticks import FlawTicks
from nestplan.desk.dialogs.picture_view import PictureView
from nestplan.desk.editing.hide_from_photo import PhotoOutline
from nestplan.desk.plain_text import plain_label, plain_tip
from nestplan.desk.settings import Settings
from nestplan.desk.theme import current_theme, pen
from nestplan.errors import InputError
from nestplan.tasks.tracing import TracedPhoto, brushed, floor_of_place, place_of_floor

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from nestplan.intake.photo.flaws import FlawSuggestion

__all__ = ["OutlineReview", "OutlineView"]

_BRUSH = 30.0
"""Width of the brush at first, mm."""


class OutlineView(PictureView):
    """The floor from above with the outline over it; painting on it gives strokes in mm on the floor."""

    painted = Signal(object)
    called = Signal(object)
    """A place clicked as hide or floor, in pixels of the file."""

    def __init__(self) -> None:
        super().__init__("The hide found, from straight above")
        self._traced: TracedPhoto | None = None
        self._stroke: list[tuple[float, float]] = []
        self._flaws: list[tuple[NDArray[np.float64], bool]] = []
        self.shown_warning = -1
        self.brush_width = _BRUSH
        self.grows = True
        self.calling = ""
        """What a click calls its place (a key of `CALLS`); else the brush paints."""
        self.places = CalledPlaces(self)
        self.setCursor(Qt.CursorShape.CrossCursor)

    def show_traced(self, traced: TracedPhoto) -> None:
        """Show an outline over its picture."""
        if self._traced is None or traced.straight is not self._traced.straight:
            image = traced.straight.image
            height, width = image.shape[:2]
            made = QImage(image.tobytes(), width, height, 3 * width, QImage.Format.Format_RGB888)
            self.show_picture(made.copy(), (width, height), most=1600)
            seen = traced.straight.to_pixels(traced.outline.exterior)
            (left, top), (right, bottom) = seen.min(axis=0).tolist(), seen.max(axis=0).tolist()
            self.show_part(QRectF(left, top, right - left, bottom - top))
        self._traced = traced
        self.update()

    def show_flaws(self, flaws: Sequence[FlawSuggestion], accepted: Sequence[FlawSuggestion]) -> None:
        """Draw places that look spoiled, with their numbers; those that are accepted strongly."""
        self._flaws = [(flaw.ring, flaw in accepted) for flaw in flaws]
        self.update()

    def show_warning(self, number: int) -> None:
        """Draw the places of one warning strongly, or of none (-1)."""
        self.shown_warning = number
        self.update()

    def to_view(self, point: tuple[float, float]) -> QPointF:
        """Where a place on the floor, mm, is seen."""
        assert self._traced is not None
        box = self.box()
        ((column, row),) = self._traced.straight.to_pixels([point])
        scale = box.width() / self.extent[0]
        return QPointF(box.x() + (column + 0.5) * scale, box.y() + (row + 0.5) * scale)

    def _to_floor(self, spot: QPointF) -> tuple[float, float]:
        assert self._traced is not None
        box = self.box()
        scale = box.width() / self.extent[0]
        ((x, y),) = self._traced.straight.to_mm(
            [[(spot.x() - box.x()) / scale - 0.5, (spot.y() - box.y()) / scale - 0.5]]
        )
        return float(x), float(y)

    def press(self, event: QMouseEvent) -> None:
        if self._traced is None or event.button() != Qt.MouseButton.LeftButton:
            return
        if self.calling:
            self.called.emit(place_of_floor(self._traced, self._to_floor(event.position())))
        else:
            self._stroke = [self._to_floor(event.position())]
            self.update()

    def drag(self, event: QMouseEvent) -> None:
        if self._stroke:
            self._stroke.append(self._to_floor(event.position()))
            self.update()

    def release(self, event: QMouseEvent) -> None:
        stroke, self._stroke = self._stroke, []
        if stroke:
            self.painted.emit(stroke)
        self.update()

    def paint_over(self, painter: QPainter) -> None:
        if self._traced is not None:
            self._paint_flaws(painter)
            self._paint_outline(painter, self._traced)
            self._paint_stroke(painter)
            traced = self._traced
            draw_places(
                painter,
                ((what, self.to_view(floor_of_place(traced, place))) for what, place in self.places.all),
            )

    def _paint_flaws(self, painter: QPainter) -> None:
        theme = current_theme()
        for number, (ring, accepted) in enumerate(self._flaws, start=1):
            shape = QPolygonF([self.to_view((float(x), float(y))) for x, y in ring])
            style = Qt.PenStyle.SolidLine if accepted else Qt.PenStyle.DotLine
            for color, wider in ((theme.raised, 1.6), (theme.flaw, 0.0)):
                painter.setPen(pen(color, (2.4 if accepted else 1.4) + wider, style))
                painter.drawPolygon(shape)
            plate = QRectF(shape.boundingRect().topRight() + QPointF(2.0, -14.0), QSizeF(20.0, 15.0))
            painter.fillRect(plate, QColor(theme.raised))
            painter.drawText(plate, Qt.AlignmentFlag.AlignCenter, str(number))

    def _paint_outline(self, painter: QPainter, traced: TracedPhoto) -> None:
        theme = current_theme()
        for number, warning in enumerate(traced.outline.warnings):
            strong = number == self.shown_warning
            painter.setPen(pen(theme.alarm, 3.0 if strong else 1.2, Qt.PenStyle.DashLine))
            for place in warning.places:
                painter.drawPolygon(QPolygonF([self.to_view((float(x), float(y))) for x, y in place]))
        for width, color in ((3.5, theme.raised), (1.6, theme.accent)):
            painter.setPen(pen(color, width))
            for ring in (traced.outline.exterior, *traced.outline.holes):
                painter.drawPolygon(QPolygonF([self.to_view((float(x), float(y))) for x, y in ring]))

    def _paint_stroke(self, painter: QPainter) -> None:
        if not self._stroke or self._traced is None:
            return
        theme = current_theme()
        scale = self.box().width() / self.extent[0] / self._traced.straight.mm_per_pixel
        color = QColor(theme.good if self.grows else theme.alarm)
        color.setAlpha(130)
        thick = pen(theme.good, max(self.brush_width * scale, 2.0))
        thick.setColor(color)
        thick.setCapStyle(Qt.PenCapStyle.RoundCap)
        painter.setPen(thick)
        spots = [self.to_view(point) for point in self._stroke]
        painter.drawPolyline(QPolygonF(spots if len(spots) > 1 else spots * 2))


class _Outline(QUndoCommand):
    """Another outline: by a stroke of the brush, or found anew; `back` and `forth` show the one and the other."""

    def __init__(self, words: str, back: Callable[[], None], forth: Callable[[], None]) -> None:
        super().__init__(words)
        self._back, self._forth = back, forth

    def redo(self) -> None:
        self._forth()

    def undo(self) -> None:
        self._back()


class _Call(QUndoCommand):
    """One more place called hide or floor."""

    def __init__(self, places: CalledPlaces, what: str, place: tuple[float, float]) -> None:
        super().__init__(f"call {CALLS[what]}")
        self._places, self._what, self._place = places, what, place

    def redo(self) -> None:
        self._places.add(self._what, self._place)

    def undo(self) -> None:
        self._places.take_back()


class OutlineReview(QWidget):
    """The column beside the view: brush, undo, a tick for each warning and each flaw suggested.

    `ready` tells whether all warnings are accepted.
    """

    ready_changed = Signal(bool)

    def __init__(self, view: OutlineView, settings: Settings) -> None:
        super().__init__()
        self.view = view
        self._found: PhotoOutline | None = None
        """What was found, its outline as it is mended."""
        self.flaws = FlawTicks(settings)
        self.strokes = QUndoStack(self)
        self.brush = Choice(
            {
                "grow": "grows the outline",
                "cut": "cuts it back",
                **{what: f"calls {words}" for what, words in CALLS.items()},
            },
            tip="What painting or clicking on the picture does",
        )
        self.brush.edited.connect(self._brush)
        self.width_field = LengthField(settings, tip="Width of the brush")
        self.width_field.set_value(_BRUSH)
        self.width_field.edited.connect(self._widen)
        self.undo_button = button("Undo", self.strokes.undo, tip="Take the last stroke back (Ctrl+Z)")
        self.undo_button.setShortcut(QKeySequence(QKeySequence.StandardKey.Undo))
        self.redo_button = button("Redo", self.strokes.redo, tip="Paint it again (Ctrl+Y)")
        self.redo_button.setShortcut(QKeySequence(QKeySequence.StandardKey.Redo))
        self.strokes.canUndoChanged.connect(self.undo_button.setEnabled)
        self.strokes.canRedoChanged.connect(self.redo_button.setEnabled)
        self.undo_button.setEnabled(False)
        self.redo_button.setEnabled(False)
        self.fault = plain_label()
        self.fault.setWordWrap(True)
        set_role(self.fault, "alarm")
        self.fault.hide()
        self.ticks: list[QCheckBox] = []
        self._list = QVBoxLayout()
        self._list.setContentsMargins(0, 0, 0, 0)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(
            soft(
                "Check the line all round; the wheel zooms. Where it is wrong, paint on the picture, or click places "
                "that are hide or floor and find it again."
            )
        )
        column.addLayout(form(("The pointer", self.brush), ("Its width", self.width_field)))
        column.addLayout(row_of(self.undo_button, self.redo_button))
        column.addWidget(self.fault)
        told = QVBoxLayout()
        told.addLayout(self._list)
        told.addWidget(self.flaws)
        told.addStretch(1)
        column.addWidget(scrolled(told), 1)
        self.flaws.changed.connect(lambda: view.show_flaws(self.flaws.flaws, self.flaws.accepted))
        view.painted.connect(self._painted)
        view.called.connect(self._called)

    @property
    def traced(self) -> TracedPhoto | None:
        """The outline as it is mended; None before one is found."""
        return None if self._found is None else self._found.traced

    @property
    def ready(self) -> bool:
        """Whether every warning is accepted."""
        return self.traced is not None and all(tick.isChecked() for tick in self.ticks)

    @property
    def accepted(self) -> PhotoOutline | None:
        """The outline as it is mended, with the flaws that are ticked; None before one is found."""
        return None if self._found is None else replace(self._found, flaws=self.flaws.accepted)

    def show_found(self, found: PhotoOutline) -> None:
        """Show an outline that was just found, no warning accepted and no flaw; the first one, with no stroke.

        Of another one that was shown before, Undo brings back what was mended.
        """
        if self._found is None:
            self._begin(found)
        else:
            back, forth = partial(self._begin, self._found), partial(self._begin, found)
            self.strokes.push(_Outline("find the outline again", back, forth))

    def _begin(self, found: PhotoOutline) -> None:
        while (item := self._list.takeAt(0)) is not None:
            if (shown := item.widget()) is not None:
                shown.deleteLater()
        self.ticks = []
        if found.traced.outline.warnings:
            self._list.addWidget(
                soft("It may be wrong here. Look at each place; tick what is right or mended.")
            )
        for number, warning in enumerate(found.traced.outline.warnings):
            words = soft(warning.what)
            tick = QCheckBox(f"Place {number + 1}: looked at")
            tick.setToolTip(plain_tip(warning.mend))
            tick.setAccessibleDescription(warning.what)
            tick.toggled.connect(lambda _on, number=number: self._ticked(number))
            self.ticks.append(tick)
            self._list.addWidget(words)
            self._list.addWidget(tick)
        self._show(found)
        self.flaws.show_flaws(found.flaws, patterned=found.patterned)
        self.view.show_warning(0 if self.ticks else -1)
        self.ready_changed.emit(self.ready)

    def _show(self, found: PhotoOutline) -> None:
        self._found = found
        self.fault.hide()
        self.view.show_traced(found.traced)

    def _ticked(self, number: int) -> None:
        left = [each for each, tick in enumerate(self.ticks) if not tick.isChecked()]
        self.view.show_warning(left[0] if left else -1)
        self.ready_changed.emit(self.ready)

    def _brush(self, kind: str) -> None:
        self.view.grows = kind == "grow"
        self.view.calling = kind if kind in CALLS else ""
        self.width_field.setEnabled(not self.view.calling)

    def _called(self, place: tuple[float, float]) -> None:
        self.strokes.push(_Call(self.view.places, self.view.calling, place))

    def _widen(self, width: float) -> None:
        if width <= 0.0:
            self.width_field.refuse("A brush must be wider than nothing.")
        else:
            self.view.brush_width = width

    def _painted(self, stroke: list[tuple[float, float]]) -> None:
        found = self._found
        if found is None:
            return
        grows = self.view.grows
        try:
            after = brushed(found.traced, stroke, self.view.brush_width, grows=grows)
        except InputError as fault:
            self.fault.setText(f"{fault.what} {fault.mend}".strip())
            self.fault.show()
            return
        words = "grow the outline" if grows else "cut the outline back"
        self.strokes.push(
            _Outline(words, partial(self._show, found), partial(self._show, replace(found, traced=after)))
        )
