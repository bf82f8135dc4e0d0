"""The way of a lace drawn to scale, seen from the grain side: a laced join between its two edges, or a laced edge.

What is seen of the lace is solid, what lies behind the leather is dashed; of two working ends the second is drawn
hollow. Holes carry the number they have in their row; where the lace starts and comes out is written beside it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from nestplan.drawing.primitives import Anchor, Fill, LineStyle, Picture, Points
from nestplan.model.laced_joins import WorkedEdge, WorkedJoin
from nestplan.model.lacing import EDGE_STITCHES, LACE_PATHS, lace_runs

__all__ = ["draw_edge", "draw_join", "route_words"]

_Placing = Callable[[Points], Points]
_LEATHER = Fill("#e4e4e4")
_EDGE = LineStyle(0.3)
_LETTERS = 2.6
"""Size of the numbers and words, mm."""
_LACE = 1.1
"""Width of the lace as drawn, mm."""
_BESIDE = 10.0
"""Leather drawn beyond the holes, mm, with room for their numbers."""
_DASH = (1.6, 1.1)
_MOST_EDGE_HOLES = 14
"""So many holes of a laced edge are drawn at most; the rest go on alike."""


def draw_join(worked: WorkedJoin, width: float, height: float) -> Picture:
    """A laced join at the gap it is worn at, as large as it fits into `width` × `height` mm, its origin at the left
    below. Raises InputError for a join whose rows do not match."""
    left, right = worked.columns(worked.join.gap)
    low = min(float(left[:, 1].min()), float(right[:, 1].min()))
    high = max(float(left[:, 1].max()), float(right[:, 1].max()))
    across = float(right[:, 0].max() - left[:, 0].min())
    scale = min((height - 14.0) / max(high - low, 1.0), (width - 2 * _BESIDE) / max(across, 1.0))
    shift = np.array((_BESIDE - float(left[:, 0].min()) * scale, 7.0 - low * scale))

    def placed(points: Points) -> Points:
        moved: Points = points * scale + shift
        return moved

    picture = Picture()
    _leather(picture, worked, placed, (low, high))
    for number, (points, behind) in enumerate(lace_runs(LACE_PATHS[worked.join.path], left, right)):
        _draw_lace(picture, placed(points), behind, hollow=number == 1)
    for side, column in enumerate((placed(left), placed(right))):
        _holes(picture, column, worked.numbers[side], -1.0 if side == 0 else 1.0)
    for side, places in enumerate(worked.skipped):
        x = np.interp(places, worked.along[side], (left, right)[side][:, 0])
        for at_x, at_y in placed(np.column_stack((x, places))):
            picture.circle(at_x, at_y, 0.7, LineStyle(0.2), Fill("#ffffff"), layer="holes")
    _ends(picture, worked, placed)
    return picture


def route_words(worked: WorkedJoin) -> list[str]:
    """The way of the lace hole by hole, a line for each working end, such as `left 1, right 1, left 2, right 2`."""
    halves = LACE_PATHS[worked.join.path].route(worked.pairs)
    names = ("",) if len(halves) == 1 else ("first end: ", "second end: ")
    return [
        name + ", ".join(f"{('left', 'right')[side]} {worked.numbers[side][pair]}" for side, pair in half)
        for name, half in zip(names, halves, strict=True)
    ]


def draw_edge(worked: WorkedEdge, width: float) -> Picture | None:
    """A laced edge, its first holes as large as they fit into `width` mm, its origin at the left below; None for a
    stitch whose way is not worked out."""
    around = EDGE_STITCHES[worked.edge.stitch].around
    if around is None:
        return None
    shown = min(worked.holes, _MOST_EDGE_HOLES)
    along = np.concatenate(([0.0], np.cumsum(worked.steps[: shown - 1])))
    scale = min((width - 20.0) / max(float(along[-1]), 1.0), 2.0)
    depth = max(worked.inset * scale, 3.0)
    x = 6.0 + along * scale
    picture = Picture()
    right = float(x[-1]) + 8.0
    top = 6.0 + depth
    picture.area([(0.0, 0.0), (right, 0.0), (right, top), (0.0, top)], None, _LEATHER, layer="leather")
    picture.line([(0.0, top), (right, top)], _EDGE, layer="leather")
    for number, (one, other) in enumerate(pairwise(x)):
        if around:
            over = (one + other) / 2.0
            _draw_lace(picture, np.array([(one, 6.0), (over, top + 0.6)]), (False,))
            _draw_lace(picture, np.array([(over, top + 0.6), (other, 6.0)]), (True,))
        else:
            _draw_lace(picture, np.array([(one, 6.0), (other, 6.0)]), (number % 2 == 1,))
    for number, spot in enumerate(x, start=1):
        picture.circle(float(spot), 6.0, 0.8, LineStyle(0.2), Fill("#ffffff"), layer="holes")
        picture.text(float(spot), 1.6, str(number), _LETTERS, anchor="middle", layer="numbers")
    if shown < worked.holes:
        picture.text(right + 1.5, 5.2, f"… to {worked.holes}", _LETTERS, layer="numbers")
    return picture


def _leather(picture: Picture, worked: WorkedJoin, placed: _Placing, reach: tuple[float, float]) -> None:
    """The two edges, the leather behind them, and whose they are."""
    low, high = reach
    names = [piece.name for piece in worked.pieces]
    if len(worked.join.rows) == 1:
        names = [f"{name}, {hand}" for name, hand in zip(names, _hands(worked), strict=True)]
    spread = worked.join.spread
    for side in (0, 1):
        gaps = (0.0, 0.0) if side == 0 else (worked.join.gap, worked.join.gap + spread)
        edge = placed(np.array([(gaps[0], low), (gaps[1], high)]))
        outward = -1.0 if side == 0 else 1.0
        holes = placed(worked.columns(worked.join.gap)[side])
        far = float((holes[:, 0] * outward).max()) * outward + outward * _BESIDE
        below, above = edge[0] - (0.0, 4.0), edge[1] + (0.0, 4.0)
        picture.area([below, above, (far, above[1]), (far, below[1])], None, _LEATHER, layer="leather")
        picture.line([below, above], _EDGE, layer="leather")
        picture.text(
            far + (2.9 if side == 0 else -0.8),
            float(below[1] + above[1]) / 2.0,
            names[side],
            _LETTERS,
            anchor="middle",
            angle=90.0,
            layer="names",
        )


def _hands(worked: WorkedJoin) -> tuple[str, str]:
    """Which of a pair lies left and which right of the lace: the left is the piece as drawn, and has its row at its
    right edge only if the row is drawn there."""
    piece, name = worked.pieces[0], worked.join.rows[0].row
    marks = piece.marks_of_rows[[row.name for row in piece.rows].index(name)]
    middle = float(piece.ring[:, 0].min() + piece.ring[:, 0].max()) / 2.0
    at_right = float(np.mean([mark.at[0] for mark in marks])) >= middle
    return ("left", "right") if at_right else ("right", "left")


def _draw_lace(picture: Picture, points: Points, behind: Sequence[bool], *, hollow: bool = False) -> None:
    for start, end, hidden in zip(points, points[1:], behind, strict=False):
        if hidden:
            picture.line([start, end], LineStyle(0.5 * _LACE, dash=_DASH), layer="lace")
            continue
        picture.line([start, end], LineStyle(_LACE + 0.5, "#ffffff"), layer="lace")
        picture.line([start, end], LineStyle(_LACE), layer="lace")
        if hollow:
            picture.line([start, end], LineStyle(_LACE - 0.5, "#ffffff"), layer="lace")


def _holes(picture: Picture, column: Points, numbers: Sequence[int], outward: float) -> None:
    for (x, y), number in zip(column, numbers, strict=True):
        picture.circle(x, y, 0.9, LineStyle(0.25), Fill("#ffffff"), layer="holes")
        anchor: Anchor = "right" if outward < 0 else "left"
        picture.text(
            x + outward * 2.0, y - 0.9, str(number), _LETTERS, anchor=anchor, halo="#ffffff", layer="numbers"
        )


def _ends(picture: Picture, worked: WorkedJoin, placed: _Placing) -> None:
    """The words where the lace starts and where its ends come out."""
    left, right = worked.columns(worked.join.gap)
    halves = LACE_PATHS[worked.join.path].route(worked.pairs)
    columns = (placed(left), placed(right))
    words = {halves[0][0]: "start"} if len(halves) == 1 else {halves[0][0]: "middle of the lace"}
    for name, half in zip(("end",) if len(halves) == 1 else ("first end", "second end"), halves, strict=True):
        words[half[-1]] = name
    for (side, pair), name in words.items():
        x, y = columns[side][pair]
        low = pair == 0
        picture.text(
            x,
            y - 6.6 if low else y + 4.8,
            name,
            _LETTERS,
            anchor="middle",
            bold=True,
            halo="#ffffff",
            layer="numbers",
        )
