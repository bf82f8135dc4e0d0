"""What is laced in an article: joins between two rows of holes, and edges along one row, with the lace they take.

The way of the lace and its length are `lacing`'s; here it is said which rows, how far apart, and with which tails.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from nestplan.errors import InputError, told_length
from nestplan.model.lacing import EDGE_STITCHES, edge_lace_length, lace_path_of, path_length
from nestplan.model.marks import Mark
from nestplan.model.piece import Piece
from nestplan.model.values import (
    EdgeStitchName,
    LacePathName,
    Length,
    Name,
    Record,
    need,
    need_finite,
    need_range,
    need_word,
)

__all__ = [
    "LacedEdge",
    "LacedJoin",
    "LacedRow",
    "WearerRange",
    "WorkedEdge",
    "WorkedJoin",
    "check_lacing",
    "wearer_range",
    "worked_edge",
    "worked_join",
]

Points = NDArray[np.float64]
Finish = Literal["bow", "hidden"]

USUAL_TAILS: dict[Finish, float] = {"bow": 220.0, "hidden": 45.0}
"""mm left at each end where nothing else is said: to tie a bow, or to be tucked under (our own figures)."""

_WIDEST_GAP = 2_000.0
_MOST_TIMES = 1_000
"""Bounds beyond any real join."""


class LacedRow(Record, frozen=True, kw_only=True):
    """A row of a piece that is laced; `skip` names holes that the lace leaves out, counted from 1 at its start. It is
    laced from its start to its end, or `backward`."""

    piece: Name
    row: Name
    skip: tuple[int, ...] = ()
    backward: bool = False


class LacedJoin(Record, frozen=True, kw_only=True):
    """Two edges laced together, hole by hole from the start of both rows (of one laced `backward`, from its end).
    `rows` names the two; a single row of a pair is laced to the same row of its mate.

    The edges stand `gap` apart when worn, `closed` apart at the least and `widest` at the most (left out: as worn);
    with `spread` the gap is so much wider at the last pair than at the first. The lace goes by `path`; `finish` says
    how its ends are made fast and `tail` what is left for it at each end (left out: what is usual for the finish).
    `count` times it is in one set.
    """

    name: Name
    rows: tuple[LacedRow, ...]
    path: LacePathName = "criss-cross"
    gap: Length = 0.0
    closed: Length = 0.0
    widest: Length | None = None
    spread: Length = 0.0
    finish: Finish = "bow"
    tail: Length | None = None
    count: int = 1
    note: str = ""

    def __post_init__(self) -> None:
        lace_path_of(self.path)
        need(
            1 <= len(self.rows) <= 2,
            "A laced join has two rows, or one of a pair that is laced to its mate.",
            place="rows",
            mend="Name one or two.",
        )
        need_finite("gap", self.gap, self.closed, self.widest, self.spread, self.tail)
        for place, amount in (
            ("gap", self.gap),
            ("closed", self.closed),
            ("widest", self.widest),
            ("spread", self.spread),
            ("tail", self.tail),
        ):
            need_range(place, amount, 0.0, _WIDEST_GAP)
        need(
            self.closed <= self.gap <= self.widest_gap,
            f"The gap runs from {told_length(self.closed)} closed over {told_length(self.gap)} worn to "
            f"{told_length(self.widest_gap)} at the widest.",
            place="gap",
            mend="Give closed ≤ gap ≤ widest.",
        )
        need_range("count", self.count, 1, _MOST_TIMES, "")

    @property
    def widest_gap(self) -> float:
        """The widest gap it is opened to, mm, for which the lace must do."""
        return self.gap if self.widest is None else self.widest

    @property
    def tail_length(self) -> float:
        """What is left at each end, mm."""
        return USUAL_TAILS[self.finish] if self.tail is None else self.tail


class LacedEdge(Record, frozen=True, kw_only=True):
    """One edge laced along a row of holes, through all layers of its piece. `stitch` is how; `thickness` (mm) of the
    stack follows from the layers where it is left out. `finish`, `tail` and `count` are as in a laced join."""

    name: Name
    piece: Name
    row: Name
    stitch: EdgeStitchName = "whip"
    thickness: Length | None = None
    finish: Finish = "hidden"
    tail: Length | None = None
    count: int = 1
    note: str = ""

    def __post_init__(self) -> None:
        need_word("stitch", self.stitch, EDGE_STITCHES.names)
        need_finite("thickness", self.thickness, self.tail)
        need_range("thickness", self.thickness, 0.0, 1_000.0)
        need_range("tail", self.tail, 0.0, _WIDEST_GAP)
        need_range("count", self.count, 1, _MOST_TIMES, "")

    @property
    def tail_length(self) -> float:
        """What is left at each end, mm."""
        return USUAL_TAILS[self.finish] if self.tail is None else self.tail


@dataclass(frozen=True, eq=False)
class WorkedJoin:
    """A laced join with its holes. `along` are the places (n,) of the left and the right holes along their edges, mm,
    `insets` (n,) how far each is from its edge, `numbers` (n,) which of its row each is, counted from 1; `skipped` (k,)
    are the places of the holes left out. `thickness` is that of the leather left and right, None where a layer's is
    not stated (and then none is counted)."""

    join: LacedJoin
    pieces: tuple[Piece, Piece]
    along: tuple[Points, Points]
    insets: tuple[Points, Points]
    numbers: tuple[tuple[int, ...], tuple[int, ...]]
    skipped: tuple[Points, Points]
    thickness: tuple[float | None, float | None]

    @property
    def pairs(self) -> int:
        """Pairs of holes that are laced."""
        return len(self.along[0])

    def columns(self, gap: float) -> tuple[Points, Points]:
        """The left and the right holes (n, 2), mm, with the edges `gap` apart at the first pair; the left edge is at
        x = 0, and y runs along the edges."""
        left, right = self.along
        share = (left - left[0]) / (left[-1] - left[0])
        apart = gap + self.join.spread * share
        return np.column_stack((-self.insets[0], left)), np.column_stack((apart + self.insets[1], right))

    def length(self, gap: float) -> float:
        """Lace for one such join at a gap, mm, tails included."""
        left, right = self.columns(gap)
        thickness = (self.thickness[0] or 0.0, self.thickness[1] or 0.0)
        path = lace_path_of(self.join.path)
        return path_length(path, left, right, tail=self.join.tail_length, thickness=thickness)

    def spare(self, gap: float) -> float:
        """What of the lace is left over beside its tails when the join is worn at a gap, mm."""
        return self.length(self.join.widest_gap) - self.length(gap)

    @property
    def cut_length(self) -> float:
        """Lace to cut for one such join, mm: at its widest, up to a whole mm."""
        return float(math.ceil(self.length(self.join.widest_gap) - 1e-6))


@dataclass(frozen=True, eq=False)
class WorkedEdge:
    """A laced edge with its holes: `steps` from hole to hole, mm, `inset` the widest distance of one from the edge."""

    edge: LacedEdge
    piece: Piece
    steps: tuple[float, ...]
    inset: float
    closed: bool
    thickness: float | None

    @property
    def holes(self) -> int:
        """Holes that are laced."""
        return len(self.steps) + (0 if self.closed else 1)

    @property
    def cut_length(self) -> float:
        """Lace to cut for one such edge, mm, up to a whole mm."""
        length = edge_lace_length(
            self.edge.stitch,
            self.steps,
            inset=self.inset,
            thickness=self.thickness or 0.0,
            closed=self.closed,
            tail=self.edge.tail_length,
        )
        return float(math.ceil(length - 1e-6))


@dataclass(frozen=True)
class WearerRange:
    """What an article measures round its wearer, mm: with its laced joins closed, as worn, and at their widest."""

    closed: float
    worn: float
    widest: float


def wearer_range(pieces: Sequence[Piece], joins: Sequence[LacedJoin]) -> WearerRange | None:
    """The range of an article that is laced: its pieces' lines around, with a gap for every join between them; of one
    that spreads, the gap at the middle. None where no piece says what it makes up of the measure."""
    panels = sum(piece.copies_in_set * piece.around_length for piece in pieces)
    if not joins or panels <= 0.0:
        return None
    spread = sum(join.count * join.spread / 2.0 for join in joins)
    closed, worn, widest = (
        panels + spread + sum(join.count * gap for join, gap in zip(joins, gaps, strict=True))
        for gaps in (
            [join.closed for join in joins],
            [join.gap for join in joins],
            [join.widest_gap for join in joins],
        )
    )
    return WearerRange(closed, worn, widest)


def check_lacing(pieces: Mapping[str, Piece], joins: Sequence[LacedJoin], edges: Sequence[LacedEdge]) -> None:
    """Raise InputError, with its place in the article, for what cannot be laced: a piece or a row that is not there,
    spots in place of holes, a single row without a mate, rows that do not match."""
    for number, join in enumerate(joins):
        place = f"laced_joins[{number}]"
        for row, laced in enumerate(join.rows):
            _marks(pieces, laced, f"{place}.rows[{row}]")
        if len(join.rows) == 1:
            name = join.rows[0].piece
            need(
                pieces[name].pair,
                f"'{name}' is no pair, so the laced join '{join.name}' has no second row.",
                place=f"{place}.rows",
                mend='Name the other row, or say "pair": true of the piece.',
            )
        _need_match(pieces, join, place)
    for number, edge in enumerate(edges):
        _marks(pieces, LacedRow(piece=edge.piece, row=edge.row), f"laced_edges[{number}]")


def worked_join(
    join: LacedJoin, pieces: Mapping[str, Piece], thickness: Mapping[str, float | None]
) -> WorkedJoin:
    """A join with its holes; `thickness` has that of each layer, mm. Rows of unlike length meet in their middles.

    Raises InputError for rows that are not there or do not match.
    """
    check_lacing(pieces, (join,), ())
    both = (join.rows[0], join.rows[-1])
    owners = (pieces[both[0].piece], pieces[both[1].piece])
    every = [_along(pieces, laced) for laced in both]
    kept = [
        [hole for hole in _order(laced, len(along)) if hole + 1 not in laced.skip]
        for laced, along in zip(both, every, strict=True)
    ]
    left, right = (along[holes] for along, holes in zip(every, kept, strict=True))
    shift = (left[0] + left[-1] - right[0] - right[-1]) / 2.0
    every[1] = every[1] + shift
    insets = [
        _insets(owner, _marks(pieces, laced, ""))[holes]
        for owner, laced, holes in zip(owners, both, kept, strict=True)
    ]
    skipped = [np.delete(along, holes) for along, holes in zip(every, kept, strict=True)]
    numbers = [tuple(hole + 1 for hole in holes) for holes in kept]
    return WorkedJoin(
        join,
        owners,
        (left, right + shift),
        (insets[0], insets[1]),
        (numbers[0], numbers[1]),
        (skipped[0], skipped[1]),
        (_stack(owners[0], thickness), _stack(owners[1], thickness)),
    )


def worked_edge(
    edge: LacedEdge, pieces: Mapping[str, Piece], thickness: Mapping[str, float | None]
) -> WorkedEdge:
    """A laced edge with its holes; `thickness` has that of each layer, mm. Raises InputError for a row that is not
    there."""
    piece = pieces.get(edge.piece)
    marks = _marks(pieces, LacedRow(piece=edge.piece, row=edge.row), "")
    assert piece is not None
    closed = piece.row(edge.row).end is None
    stops = [mark.at for mark in (*marks, *(marks[:1] if closed else ()))]
    return WorkedEdge(
        edge,
        piece,
        tuple(math.dist(one, other) for one, other in pairwise(stops)),
        float(_insets(piece, marks).max()),
        closed,
        _stack(piece, thickness) if edge.thickness is None else edge.thickness,
    )


def _marks(pieces: Mapping[str, Piece], laced: LacedRow, place: str) -> tuple[Mark, ...]:
    """All marks of a laced row."""
    piece = pieces.get(laced.piece)
    if piece is None:
        raise InputError(
            f"The article has no piece '{laced.piece}'.",
            place=f"{place}.piece",
            mend=f"Use one of: {', '.join(pieces)}." if pieces else "Add the piece.",
        )
    names = [row.name for row in piece.rows]
    if laced.row not in names:
        raise InputError(
            f"'{laced.piece}' has no row '{laced.row}'.",
            place=f"{place}.row",
            mend=f"Use one of: {', '.join(names)}." if names else "Give the piece a row of holes.",
        )
    number = names.index(laced.row)
    need(
        piece.rows[number].kind.cuts,
        f"The row '{laced.row}' of '{laced.piece}' has spots; a lace needs holes or slits.",
        place=f"{place}.row",
        mend="Name another row.",
    )
    return piece.marks_of_rows[number]


def _need_match(pieces: Mapping[str, Piece], join: LacedJoin, place: str) -> None:
    """Raise InputError unless the rows of a join have the same number of holes, two or more, without those skipped."""
    counts = []
    for number, laced in enumerate(join.rows):
        every = len(_marks(pieces, laced, place))
        need(
            all(1 <= hole <= every for hole in laced.skip),
            f"The row '{laced.row}' of '{laced.piece}' has holes 1 to {every}.",
            place=f"{place}.rows[{number}].skip",
            mend="Correct what is skipped.",
        )
        counts.append(every - len(set(laced.skip)))
    need(
        len(set(counts)) == 1,
        f"The laced join '{join.name}' has {counts[0]} holes in '{join.rows[0].piece}' "
        f"and {counts[-1]} in '{join.rows[-1].piece}'.",
        place=f"{place}.rows",
        mend="Give both rows the same number, or say which holes are skipped.",
    )
    need(
        counts[0] >= 2,
        f"The laced join '{join.name}' has fewer than two pairs of holes.",
        place=f"{place}.rows",
        mend="Skip fewer holes.",
    )


def _along(pieces: Mapping[str, Piece], laced: LacedRow) -> Points:
    """Places (n,) of all holes of a row along it, mm, from where it is laced on."""
    spots = np.array([mark.at for mark in _marks(pieces, laced, "")])
    found: Points = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(spots, axis=0).T))))
    return found[-1] - found if laced.backward else found


def _order(laced: LacedRow, count: int) -> range:
    """The holes of a row, numbered from 0, in the order in which they are laced."""
    return range(count - 1, -1, -1) if laced.backward else range(count)


def _insets(piece: Piece, marks: Sequence[Mark]) -> Points:
    """How far each mark (n,) is from the edge of its piece, mm."""
    import shapely

    edge = shapely.LinearRing(piece.ring)
    found: Points = shapely.distance(edge, shapely.points([mark.at for mark in marks]))
    return np.round(found, 4)


def _stack(piece: Piece, thickness: Mapping[str, float | None]) -> float | None:
    """The layers of a piece on each other, mm, None where one is not stated."""
    layers = [thickness.get(cut.layer) for cut in piece.cuts]
    known = [layer for layer in layers if layer is not None]
    return sum(known) if len(known) == len(layers) else None
