"""A row of marks on a piece: holes, slits or spots along its edge or on a line, kept as one thing.

Its marks are worked out here and nowhere else; everything that shows, counts or checks marks takes them from
`Piece.all_marks`.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

from nestplan.errors import InputError, told_length
from nestplan.geometry.edge_line import line_along_edge, line_length, spots_along
from nestplan.geometry.reshape import nearest_spot
from nestplan.geometry.ring import FARTHEST_MM
from nestplan.model.mark_kinds import MARK_KINDS, MarkKind
from nestplan.model.marks import Mark, When
from nestplan.model.values import (
    LEAST_LENGTH,
    Length,
    MarkKindName,
    Name,
    Point,
    Record,
    need,
    need_finite,
    need_near,
    need_range,
    need_word,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["MOST_IN_ROW", "Row", "marks_of_row"]

MOST_IN_ROW = 1_000
"""More holes than any real row has."""

_NEAR_EDGE = 10.0
"""mm: a row along the edge starts and ends at most so much farther from it than its holes are."""
_NO_REASON = 0.01
"""mm: a row that is so much shorter has no hole less. Files round lengths to less, also where steps come out even."""


class Row(Record, frozen=True, kw_only=True):
    """Marks of one kind at equal distances, along the edge of a piece or on a straight line.

    Along the edge it runs from the spot of the edge nearest to `start` to that nearest to `end`, counter-clockwise as
    the piece is drawn or, with `clockwise`, the other way, round corners and curves, every mark `inset` from the
    edge; without `end` it goes all the way round. On a `line` it runs straight from `start` to `end`. Distances are
    measured along the line on which the marks lie.

    Either `pitch`, the distance from mark to mark, is given, or the `number` of marks. With a pitch there are as many
    as fit, and what is left over is shared equally by both ends; with a number the first stands at the start and the
    last at the end. `ends` is kept free at each end at least. `diameter`, `length`, `what`, `layers` and `when` are
    those of each mark; `angle` is that of a slit from the direction of the row: 0 along it, 90 across.
    """

    name: Name
    start: Point
    end: Point | None = None
    along: Literal["edge", "line"] = "edge"
    clockwise: bool = False
    inset: Length = 0.0
    pitch: Length | None = None
    number: int | None = None
    ends: Length = 0.0
    do: MarkKindName = "punch"
    diameter: Length | None = None
    length: Length | None = None
    angle: float = 0.0
    what: str = ""
    layers: tuple[Name, ...] = ()
    when: When | None = None

    def __post_init__(self) -> None:
        need_word("do", self.do, MARK_KINDS.names)
        need_near("start", [self.start])
        need_near("end", [self.end] if self.end is not None else [])
        _ = self.mark_at(self.start, 0.0)  # its kind and measures are those of a mark, and checked as such
        need_finite("inset", self.inset, self.ends)
        need_range("inset", self.inset, 0.0, FARTHEST_MM)
        need_range("ends", self.ends, 0.0, FARTHEST_MM)
        need_finite("pitch", self.pitch)
        need_range("pitch", self.pitch, LEAST_LENGTH, FARTHEST_MM)
        self._check_count()
        self._check_line()

    def _check_count(self) -> None:
        need(
            self.pitch is None or self.number is None,
            f"The row '{self.name}' has both a pitch and a number.",
            place="pitch",
            mend="Give the one or the other.",
        )
        need(
            self.pitch is not None or self.number is not None,
            f"The row '{self.name}' has neither a pitch nor a number.",
            place="pitch",
            mend="Give the distance from mark to mark, or how many there are.",
        )
        need(
            self.number is None or 2 <= self.number <= MOST_IN_ROW,
            f"A row has from 2 to {MOST_IN_ROW:,} marks.",
            place="number",
            mend="Change it; a single hole or slit is a mark.",
        )

    def _check_line(self) -> None:
        if self.along == "line":
            need(
                self.end is not None,
                f"The row '{self.name}' on a line has no end.",
                place="end",
                mend="Give the point where it ends.",
            )
            need(
                math.isclose(self.inset, 0.0) and not self.clockwise,
                "A row on a line has no edge to keep off or to go round.",
                place="inset",
                mend="Leave inset and clockwise out, or put the row along the edge.",
            )
        need(
            self.end is not None or math.isclose(self.ends, 0.0),
            "A row all the way round has no ends.",
            place="ends",
            mend="Leave it out, or say where the row ends.",
        )

    @property
    def kind(self) -> MarkKind:
        """The kind of its marks."""
        return MARK_KINDS[self.do]

    @property
    def size(self) -> float | None:
        """Diameter or length of each mark, mm, whichever its kind is measured by; None where a kind has no size."""
        return {"diameter": self.diameter, "length": self.length, None: None}[self.kind.measure]

    def mark_at(self, at: Point, direction: float) -> Mark:
        """One of its marks, at a spot where the row runs in `direction`, degrees. Raises InputError for a mark that
        cannot be, such as a hole without a diameter."""
        return Mark(
            at=at,
            do=self.do,
            diameter=self.diameter,
            length=self.length,
            angle=_turn(direction + self.angle) if self.kind.has_direction else 0.0,
            what=self.what,
            layers=self.layers,
            when=self.when,
        )


def marks_of_row(row: Row, ring: NDArray[np.float64]) -> tuple[Mark, ...]:
    """The marks of a row on a piece with the finished outline `ring` (n, 2), mm, counter-clockwise, from its start on.

    Raises InputError, with the place in the row, where it starts or ends far from the edge, where the piece is too
    narrow, and where there is no room for two marks.
    """
    line = _line_of(row, ring)
    distances = _distances(row, line_length(line))
    spots, directions = spots_along(line, distances)
    written = np.round(spots, 4).tolist()
    return tuple(
        row.mark_at((x, y), float(direction))
        for (x, y), direction in zip(written, np.round(directions, 4), strict=True)
    )


def _line_of(row: Row, ring: NDArray[np.float64]) -> NDArray[np.float64]:
    """The line on which its marks lie."""
    if row.along == "line" and row.end is not None:
        return np.array((row.start, row.end), dtype=np.float64)
    for place, spot in (("start", row.start), ("end", row.end)):
        if spot is None:
            continue
        away = nearest_spot(ring, spot)[2]
        if away > row.inset + _NEAR_EDGE:
            raise InputError(
                f"The row '{row.name}' runs along the edge, but this point is {told_length(away)} from it.",
                place=place,
                mend='Give a point of the edge, or lay the row on a line ("along": "line").',
            )
    return line_along_edge(ring, row.start, row.end, inset=row.inset, clockwise=row.clockwise)


def _distances(row: Row, length: float) -> list[float]:
    """How far from the start of its line each mark lies, mm. Raises InputError where there is no room for two."""
    closed = row.end is None
    room = length - 2.0 * row.ends
    if row.pitch is not None:
        steps = math.floor((room + _NO_REASON) / row.pitch)
        number = max(steps, 0) + (0 if closed else 1)
    else:
        number = row.number or 0
    need(
        number <= MOST_IN_ROW,
        f"The row '{row.name}' would have {number:,} marks; nestplan makes up to {MOST_IN_ROW:,}.",
        place="pitch",
        mend="Make the pitch larger.",
    )
    if number < 2 or room < LEAST_LENGTH * number:
        raise InputError(
            f"There is no room for two marks: the row '{row.name}' is {told_length(max(room, 0.0))} long.",
            place="pitch" if row.pitch is not None else "end",
            mend="Make the row longer, or the pitch smaller.",
        )
    if closed:
        return [place * length / number for place in range(number)]
    pitch = row.pitch if row.pitch is not None else room / (number - 1)
    first = (length - pitch * (number - 1)) / 2.0
    return [min(max(first + place * pitch, 0.0), length) for place in range(number)]


def _turn(angle: float) -> float:
    """The angle of a slit, degrees, from 0 to 180: both ways along it are one."""
    turned = round(angle % 180.0, 4)
    return 0.0 if turned == 180.0 else turned
