"""Drawing a row of holes on a piece: two clicks on its edge, or two anywhere for a row on a straight line; and moving
an end of a row that is there.

As in `tracing`: no Qt here, and the marks that are shown are those the model makes of the row.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

from nestplan.desk.table.tracing import OverlayShape, PointerPosition, Tool
from nestplan.errors import NestplanError
from nestplan.geometry.edge_line import line_along_edge, shorter_is_clockwise
from nestplan.geometry.reshape import nearest_spot
from nestplan.model.mark_rows import Row, marks_of_row

__all__ = ["RowEndDrag", "RowTool", "moved_end", "row_ends"]

_LEAST_DRAG = 0.5
"""So much of how far a click may miss has to be moved before an end is dragged."""

Spot = tuple[float, float]
Ring = NDArray[np.float64]


@dataclass
class RowTool(Tool):
    """Click where the row starts, then where it ends. `done` gets both spots and whether it runs clockwise.

    Along the edge of `ring` both spots are those of the edge nearest to the clicks, and the row takes the shorter way
    between them; with shift held, the longer. With `on_edge` off it runs straight. `shown` gives the marks that such a
    row has, mm, or raises NestplanError for one that cannot be; `words` tells of so many of them.
    """

    ring: Ring
    done: Callable[[Spot, Spot, bool], None]
    shown: Callable[[Spot, Spot, bool], tuple[Spot, ...]]
    words: Callable[[int], str]
    on_edge: bool = True
    cancelled: Callable[[], None] | None = None
    start: Spot | None = None
    at: Spot | None = None
    _longer: bool = False

    @property
    def hint(self) -> str:  # type: ignore[override]
        """What to do next."""
        where = "on the edge " if self.on_edge else ""
        if self.start is None:
            return f"Click {where}where the row starts. Esc ends."
        shift = " Shift takes the longer way round." if self.on_edge else ""
        return f"Click {where}where it ends.{shift} Backspace goes back."

    @property
    def unfinished(self) -> bool:
        return self.start is not None

    def undo(self) -> bool:
        had, self.start = self.start is not None, None
        return had

    def press(self, pointer: PointerPosition) -> bool:
        spot = self._spot(pointer)
        if spot is None:
            return False
        if self.start is None:
            self.start = spot
            return True
        start, self.start, self.at = self.start, None, None
        self.done(start, spot, self._clockwise(start, spot, pointer.shift))
        return True

    def hover(self, pointer: PointerPosition) -> None:
        self.at, self._longer = self._spot(pointer), pointer.shift

    def drag(self, pointer: PointerPosition) -> None:
        self.hover(pointer)

    def key(self, key: str) -> bool:
        if key == "backspace" and self.start is not None:
            self.start = None
            return True
        if key != "escape":
            return False
        self.start = None
        if self.cancelled is not None:
            self.cancelled()
        return True

    def preview(self) -> tuple[OverlayShape, ...]:
        if self.at is None:
            return () if self.start is None else (OverlayShape("selected", (self.start,)),)
        if self.start is None:
            return (OverlayShape("selected", (self.at,)),)
        ends = OverlayShape("selected", (self.start, self.at))
        clockwise = self._clockwise(self.start, self.at, self._longer)
        try:
            marks = self.shown(self.start, self.at, clockwise)
        except NestplanError as error:
            return (ends, OverlayShape("words", (self.at,), error.what))
        return (
            OverlayShape("line", self._line(self.start, self.at, clockwise)),
            OverlayShape("handles", marks),
            ends,
            OverlayShape("words", (self.at,), self.words(len(marks))),
        )

    def _spot(self, pointer: PointerPosition) -> Spot | None:
        """Where a click would set an end of the row; None too far from the edge."""
        if not self.on_edge:
            return pointer.at
        _, spot, distance = nearest_spot(self.ring, pointer.at)
        return spot if distance <= 4.0 * pointer.tolerance else None

    def _line(self, start: Spot, end: Spot, clockwise: bool) -> tuple[Spot, ...]:
        if not self.on_edge:
            return (start, end)
        line = line_along_edge(self.ring, start, end, clockwise=clockwise)
        return tuple((float(x), float(y)) for x, y in line)

    def _clockwise(self, start: Spot, end: Spot, longer: bool) -> bool:
        """Whether the way that is wanted, the shorter or the longer, runs clockwise."""
        if not self.on_edge:
            return False
        return shorter_is_clockwise(self.ring, start, end) != longer


@dataclass
class RowEndDrag:
    """An end of a row that is dragged from `pressed` on: of a row along the edge of `ring` it keeps to the edge, of one
    on a line it goes anywhere. The row keeps the way it runs round the piece."""

    ring: Ring
    row: Row
    end: Literal["start", "end"]
    pressed: Spot
    at: Spot | None = None

    @classmethod
    def pressed_on(cls, ring: Ring, row: Row, pointer: PointerPosition) -> RowEndDrag | None:
        """The drag of the end of `row` that is under the pointer, itself or its outermost mark; None where none is."""
        marks = marks_of_row(row, ring)
        # A row all the way round has but a start; its last mark stands beside the first.
        outermost: tuple[tuple[Literal["start", "end"], Spot], ...] = (
            ("start", marks[0].at),
            ("end", marks[-1].at),
        )
        ends = row_ends(ring, row)
        for end, mark in outermost:
            if end in ends and (pointer.near(ends[end]) or pointer.near(mark)):
                return cls(ring, row, end, pointer.at)
        return None

    def move(self, pointer: PointerPosition) -> None:
        """Bring the end as far as the pointer has gone; a press that hardly moves is none."""
        if self.at is None and math.dist(self.pressed, pointer.at) < _LEAST_DRAG * pointer.tolerance:
            return
        x, y = row_ends(self.ring, self.row)[self.end]
        spot = (x + pointer.at[0] - self.pressed[0], y + pointer.at[1] - self.pressed[1])
        self.at = _on_row(self.ring, self.row, spot)

    @property
    def fields(self) -> dict[str, Spot]:
        """The fields of the row that are changed, in hundredths of a millimetre; none where nothing was moved."""
        if self.at is None:
            return {}
        return {self.end: moved_end(self.ring, self.row, self.at)}

    def preview(self, words: Callable[[int], str]) -> tuple[OverlayShape, ...]:
        """The marks that the row would have, and `words` of so many; or why it cannot be."""
        if self.at is None:
            return ()
        try:
            marks = marks_of_row(msgspec.structs.replace(self.row, **self.fields), self.ring)
        except NestplanError as error:
            return (OverlayShape("selected", (self.at,)), OverlayShape("words", (self.at,), error.what))
        return (
            OverlayShape("handles", tuple(mark.at for mark in marks)),
            OverlayShape("selected", (self.at,)),
            OverlayShape("words", (self.at,), words(len(marks))),
        )


def row_ends(ring: Ring, row: Row) -> dict[Literal["start", "end"], Spot]:
    """Where a row begins and ends: on the edge of `ring`, or of its line; one all the way round only begins."""
    ends: dict[Literal["start", "end"], Spot] = {"start": row.start}
    if row.end is not None:
        ends["end"] = row.end
    return {end: _on_row(ring, row, spot) for end, spot in ends.items()}


def moved_end(ring: Ring, row: Row, spot: Spot) -> Spot:
    """An end of a row that is brought to a spot: at the nearest place of the edge of `ring` if the row runs along it,
    in hundredths of a millimetre."""
    x, y = _on_row(ring, row, spot)
    return round(x, 2), round(y, 2)


def _on_row(ring: Ring, row: Row, spot: Spot) -> Spot:
    return nearest_spot(ring, spot)[1] if row.along == "edge" else spot
