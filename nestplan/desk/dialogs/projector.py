"""The dialog beside the work that sets up the projector view and goes through its steps."""

from __future__ import annotations

import numpy as np
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QVBoxLayout, QWidget

from nestplan.desk.controls.fields import Choice, LengthField, button, form, heading, row_of, section, soft
from nestplan.desk.controls.scrolled_dialog import ScrolledDialog
from nestplan.desk.document.document import Document
from nestplan.desk.document.plan_edits import marked_cut
from nestplan.desk.editing.cutting import steps_on_hide
from nestplan.desk.output.projecting import Phase, Projection
from nestplan.desk.output.projector_view import ProjectorView
from nestplan.desk.plain_text import plain_label
from nestplan.desk.settings import Settings
from nestplan.errors import InputError, NestplanError

__all__ = ["ProjectorDialog"]

_HOW = (
    "Lay a sheet or board flat on the table whose sides you have measured. Put the four marks on its corners, then A "
    "and B on the same spots of the leather. Then measure the square with a tape, also far from the middle: lenses "
    "bend."
)
_CAUTION = (
    "Do not look into the lamp; lead its cable where no foot catches it. Where the light and the cut sheet differ, "
    "stop and measure."
)


class ProjectorDialog(ScrolledDialog):
    """Screen, rectangle, corners, hide, steps. The view itself is a window on the projector's screen."""

    def __init__(self, document: Document, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Projector view")
        self._document, self._settings = document, settings
        self.view: ProjectorView | None = None
        self.projection = Projection((1280, 800))
        self.screen_choice = Choice(_screens(), tip="The screen that the projector shows")
        self.screen_choice.set_value(len(QGuiApplication.screens()) - 1)
        self.width_field = LengthField(settings, tip="The rectangle's side from mark 1 to mark 2")
        self.height_field = LengthField(settings, tip="The rectangle's side from mark 2 to mark 3")
        self.square = LengthField(
            settings,
            optional=True,
            hint="e.g. 1000 mm",
            tip="A square to be measured on the table; empty: none",
        )
        self.open_view = button(
            "Show it there", self.show_view, main=True, tip="Open the view on that screen"
        )
        self.phases = {
            "corners": button("1 Corners", lambda: self._go("corners"), tip="Set the four marks (C)"),
            "hide": button("2 Hide", lambda: self._go("hide"), tip="Find the hide with A and B (H)"),
            "cut": button("3 Cut", lambda: self._go("cut"), tip="Go through the pieces (P)"),
        }
        for made in self.phases.values():
            made.setCheckable(True)
        self.words = plain_label()
        self.words.setWordWrap(True)
        self.words.setMinimumHeight(self.words.fontMetrics().lineSpacing() * 4)
        self.back = button("Back", lambda: self._step(-1), tip="The step before (left arrow in the view)")
        self.next = button("Next", lambda: self._step(1), tip="The next step (right arrow or Space)")
        self.ticked = button("Cut, next", self.mark_cut, tip="Mark this step as cut and go on (Enter)")
        self.setMinimumWidth(420)
        column = QVBoxLayout()
        column.addWidget(heading("The plan on the table, full size"))
        column.addWidget(soft(_HOW))
        column.addLayout(
            form(
                ("Screen", self.screen_choice),
                ("Rectangle wide", self.width_field),
                ("Rectangle high", self.height_field),
                ("Square to check", self.square),
            )
        )
        column.addWidget(self.open_view)
        column.addLayout(row_of(*self.phases.values()))
        column.addWidget(section("Now"))
        column.addWidget(self.words)
        column.addLayout(row_of(self.back, self.next, self.ticked))
        column.addWidget(
            soft("In the view: Tab takes the next mark, arrows move it, with Shift ten times as far.")
        )
        column.addWidget(soft(_CAUTION))
        column.addStretch(1)
        self.set_contents(column)
        self.width_field.edited.connect(lambda _: self._resized())
        self.height_field.edited.connect(lambda _: self._resized())
        self.square.edited.connect(self._square)
        document.plan_changed.connect(lambda _: self._take_plan())
        document.hide_shown.connect(lambda _: self._take_plan())
        self._remember()
        self._take_plan()

    def _remember(self) -> None:
        """Take the rectangle and the corners of the last time."""
        kept = self._settings.projector
        rectangle, corners = kept.get("rectangle", [1000.0, 700.0]), kept.get("corners")
        self.projection = Projection(tuple(kept.get("size", (1280, 800))), tuple(rectangle))
        self.width_field.set_value(rectangle[0])
        self.height_field.set_value(rectangle[1])
        if corners is not None:
            try:
                self.projection.set_corners(np.array(corners))
            except InputError:
                return

    def show_view(self) -> None:
        """Open the view on the chosen screen."""
        screens = QGuiApplication.screens()
        screen = screens[min(self.screen_choice.value or 0, len(screens) - 1)]
        if self.view is None:
            self.view = ProjectorView(self.projection, self)
            self.view.changed.connect(self.refresh)
            self.view.cut.connect(self.mark_cut)
        self.view.setGeometry(screen.geometry())
        if len(screens) > 1:
            self.view.showFullScreen()
        else:
            self.view.show()
        self.view.activateWindow()
        self.refresh()

    def _keep(self) -> None:
        self._settings.projector = {
            "size": list(self.projection.size),
            "rectangle": list(self.projection.rectangle),
            "corners": self.projection.corners.tolist(),
        }

    def _take_plan(self) -> None:
        contents = self._document.contents
        self.projection.show(contents.plan, contents.job, self._document.hide)
        self.refresh()

    def _go(self, phase: Phase) -> None:
        self.projection.go(phase)
        self.refresh()

    def _step(self, by: int) -> None:
        self.projection.go("cut")
        self.projection.step(by)
        self.refresh()

    def mark_cut(self) -> None:
        """Mark the pieces of the step at hand as cut, and go on."""
        plan, steps = self._document.contents.plan, steps_on_hide(self._document)
        if plan is None or not steps:
            return
        placed = steps[self.projection.current][1]
        self._document.set_plan(f"Mark as cut: {placed[0].name}", marked_cut(plan, placed, True))
        self.projection.step(1)
        self.refresh()

    def _resized(self) -> None:
        try:
            self.projection.set_rectangle(self.width_field.value, self.height_field.value)
        except NestplanError as error:
            self.words.setText(str(error))
            return
        self.refresh()

    def _square(self, side: float | None) -> None:
        self.projection.square = side or 0.0
        self.refresh()

    def refresh(self) -> None:
        """Show where we are."""
        for phase, made in self.phases.items():
            made.setChecked(phase == self.projection.phase)
        self.words.setText(self.projection.words())
        cutting = self.projection.phase == "cut" and bool(self.projection.steps)
        for made in (self.back, self.next, self.ticked):
            made.setEnabled(cutting)
        if self.view is not None:
            self.view.update()
            self._keep()

    def done(self, result: int) -> None:
        """The view goes with the dialog."""
        if self.view is not None:
            self.view.close()
        super().done(result)


def _screens() -> dict[int, str]:
    return {
        number: f"{screen.name() or f'screen {number + 1}'}, {screen.size().width()} × {screen.size().height()}"
        for number, screen in enumerate(QGuiApplication.screens())
    }
