"""The plan under a projector as the window keeps it: its four corners, where the hide lies, the step at hand.

Plain state, told what the hand does in pixels of the projector's picture and asked what to draw; no Qt. The
geometry (calibration, lines of a step) is `nestplan.sheets.projector`.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from nestplan.desk.document.plan_edits import marked_cut
from nestplan.drawing.table_projection import Calibration, calibrate, check_square
from nestplan.errors import InputError
from nestplan.geometry.pose import Pose
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Plan
from nestplan.sheets.projector import (
    ProjectedLine,
    ProjectorStep,
    hide_on_table,
    projected_lines,
    projector_steps,
)

__all__ = ["Phase", "Projection"]

Phase = Literal["corners", "hide", "cut"]
"""What is being done: the corners set, the hide found, or the steps gone through."""

_Points = NDArray[np.float64]


class Projection:
    """One projector's picture of `size` pixels. `chosen` is the handle that the keys move."""

    def __init__(self, size: tuple[int, int], rectangle: tuple[float, float] = (1000.0, 700.0)) -> None:
        self.size = size
        self.rectangle = rectangle
        self.phase: Phase = "corners"
        self.chosen = 0
        self.current = 0
        self.square = 0.0
        self.hide: Hide | None = None
        self.steps: tuple[ProjectorStep, ...] = ()
        self.corners = self._first_corners()
        self.on_hide: _Points = np.zeros((2, 2))
        self.on_table: _Points = np.zeros((2, 2))

    def _first_corners(self) -> _Points:
        """A rectangle of the right shape in the middle of the picture: lower left, then round against the clock."""
        width, height = self.size
        scale = min(0.6 * width / self.rectangle[0], 0.6 * height / self.rectangle[1])
        right, down = scale * self.rectangle[0] / 2, scale * self.rectangle[1] / 2
        x, y = width / 2, height / 2
        return np.array(
            ((x - right, y + down), (x + right, y + down), (x + right, y - down), (x - right, y - down))
        )

    @property
    def calibration(self) -> Calibration:
        """Where a millimetre of the table is in the picture."""
        return calibrate(self.corners, *self.rectangle)

    @property
    def pose(self) -> Pose:
        """Where the hide lies on the table."""
        return hide_on_table(self.on_hide, self.on_table)

    def resize(self, width: int, height: int) -> None:
        """The picture is of another size: the corners keep their share of it."""
        self.corners = self.corners * np.array((width, height)) / np.array(self.size)
        self.size = (width, height)

    def set_rectangle(self, width: float, height: float) -> None:
        """The rectangle on the table has these sides, mm.

        Raises InputError if one is not above zero.
        """
        calibrate(self.corners, width, height)
        self.rectangle = (width, height)

    def set_corners(self, corners: _Points) -> None:
        """Take corners that were set before.

        Raises InputError if they form no rectangle seen at a slant.
        """
        calibrate(corners, *self.rectangle)
        self.corners = np.array(corners, dtype=np.float64)

    def show(self, plan: Plan | None, job: Job | None, hide: Hide | None) -> None:
        """Show another plan or hide; the step stays where it is the same hide, else it is the first not yet cut."""
        other = hide is None or self.hide is None or hide.name != self.hide.name
        self.hide = hide
        self.steps = ()
        if hide is not None and plan is not None and job is not None:
            # Numbered as before the first cut, as on the printed sheet.
            self.steps = projector_steps(marked_cut(plan, plan.placements, False), job, hide)
        if other and hide is not None:
            self.on_hide = _two_spots(hide)
            low, high = hide.ring.min(axis=0), hide.ring.max(axis=0)
            self.on_table = self.on_hide - (low + high) / 2 + np.array(self.rectangle) / 2
            self.current = 0
        self.current = min(self.current, max(len(self.steps) - 1, 0))

    def handles(self) -> _Points:
        """The handles that can be moved in this phase, pixels (n, 2)."""
        if self.phase == "corners":
            return self.corners
        if self.phase == "hide" and self.hide is not None:
            return self.calibration.pixels(self.on_table)
        return np.zeros((0, 2))

    def grasp(self, pixel: tuple[float, float], reach: float = 40.0) -> bool:
        """Choose the handle nearest to a pixel. Whether there is one within `reach` pixels."""
        handles = self.handles()
        if not len(handles):
            return False
        away = np.hypot(*(handles - np.array(pixel)).T)
        if away.min() > reach:
            return False
        self.chosen = int(away.argmin())
        return True

    def move(self, pixel: tuple[float, float]) -> None:
        """Move the chosen handle to a pixel; a place that cannot be is not taken."""
        handles = self.handles().copy()
        if self.chosen >= len(handles):
            return
        handles[self.chosen] = pixel
        try:
            if self.phase == "corners":
                self.set_corners(handles)
            else:
                on_table = self.on_table.copy()
                on_table[self.chosen] = self.calibration.table(handles)[self.chosen]
                hide_on_table(self.on_hide, on_table)
                self.on_table = on_table
        except InputError:
            return

    def shift(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Move the whole hide as a spot of the table under pixel `start` is moved to pixel `end`."""
        if self.phase == "hide" and self.hide is not None:
            before, after = self.calibration.table(np.array((start, end)))
            self.on_table = self.on_table + (after - before)

    def nudge(self, dx: float, dy: float) -> None:
        """Move the chosen handle by so many pixels, right and down."""
        handles = self.handles()
        if self.chosen < len(handles):
            x, y = handles[self.chosen]
            self.move((float(x) + dx, float(y) + dy))

    def next_handle(self, step: int = 1) -> None:
        """Choose the next handle."""
        self.chosen = (self.chosen + step) % max(len(self.handles()), 1)

    def go(self, phase: Phase) -> None:
        """Turn to another phase."""
        self.phase, self.chosen = phase, 0

    def step(self, by: int) -> None:
        """Go on to the next step, or back."""
        self.current = min(max(self.current + by, 0), max(len(self.steps) - 1, 0))

    def lines(self) -> list[ProjectedLine]:
        """What to draw now; in the phase `corners` nothing but the handles and the rectangle."""
        if self.phase == "corners" or self.hide is None:
            return []
        steps, current = (self.steps, self.current) if self.phase == "cut" else ((), 0)
        return projected_lines(self.calibration, self.pose, self.hide, steps, current)

    def square_pixels(self) -> _Points | None:
        """The square to be measured with a tape, pixels (4, 2); None where it is not asked for."""
        return self.calibration.pixels(check_square(self.square)) if self.square > 0 else None

    def words(self) -> str:
        """What to do now, in words."""
        if self.phase == "corners":
            names = ("lower left", "lower right", "upper right", "upper left")
            return f"Move mark {self.chosen + 1} onto the {names[self.chosen % 4]} corner of the sheet on the table."
        if self.hide is None:
            return "There is no hide on the table."
        if self.phase == "hide":
            on_hide, on_table = (float(np.hypot(*(p[1] - p[0]))) for p in (self.on_hide, self.on_table))
            off = on_table - on_hide
            words = "Drag the outline onto the leather, then A and B onto the same spots of it."
            more = "further apart" if off > 0 else "closer"
            return f"{words} They are {abs(off):.0f} mm {more} than on the plan." if abs(off) >= 1 else words
        if not self.steps:
            return "Nothing is laid on this hide."
        step = self.steps[self.current]
        why = f" {step.reason[:1].upper()}{step.reason[1:]}." if step.reason else ""
        return f"{step.label} of {self.steps[-1].label.split('–')[-1]}: {step.words}.{why}"


def _two_spots(hide: Hide) -> _Points:
    """Two spots of a hide far apart that are easily found on the leather: A at the left, B at the right end."""
    ring = hide.ring
    axis = math.radians(hide.backbone_angle or 0.0)
    along = ring @ np.array((math.cos(axis), math.sin(axis)))
    pair = ring[[int(along.argmin()), int(along.argmax())]]
    return pair[np.argsort(pair[:, 0])] if abs(pair[0, 0] - pair[1, 0]) > 1 else pair
