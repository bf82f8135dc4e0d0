"""The law of lacing: which way a lace goes through the holes of two edges or round one edge, and how long it is.

Plain geometry in mm, worked by us: straight runs from hole centre to hole centre, and the leather passed through at
every hole. The lace's own thickness, and what a knot takes up, belong to the tails. Which pieces are laced is said by
`laced_joins`.

With n pairs of holes, R from centre to centre across, p from hole to hole along, t of leather and two tails T, a join
of even rows takes

    criss-cross    R + 2 (n - 1) √(R² + p²) + 2 n t + 2 T
    straight bar   n R + (n - 1) p + 2 n t + 2 T
    ladder         R + 2 (n - 1) (R + p) + (4 n - 2) t + 2 T
    spiral         n R + (n - 1) √(R² + p²) + 2 n t + 2 T

and an edge with n holes p apart, d from the edge, in a stack t thick

    running        (n - 1) p + n t + 2 T
    whip           (n - 1) √((2 d + t)² + p²) + n t + 2 T

These follow from the routes below; nothing is computed from the formulas.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from nestplan.errors import InputError
from nestplan.model.registry import Registry

__all__ = [
    "EDGE_STITCHES",
    "LACE_PATHS",
    "EdgeStitch",
    "LacePath",
    "edge_lace_length",
    "lace_path_of",
    "lace_runs",
    "path_length",
]

Points = NDArray[np.float64]
Stop = tuple[int, int]
"""A hole: 0 on the left or 1 on the right, and the number of its pair from 0."""


@dataclass(frozen=True)
class LacePath:
    """A way through the holes of two edges. `words` says how the lace goes.

    `route` gives, for a number of pairs, the holes in the order in which they are passed: once for a lace with one
    working end, twice for one that is worked with both, both halves starting at the left hole of the first pair.
    `behind` tells the runs between two holes that lie behind the leather, where they are not seen.
    """

    name: str
    words: str
    route: Callable[[int], tuple[tuple[Stop, ...], ...]]
    behind: Callable[[Stop, Stop], bool]

    @property
    def working_ends(self) -> int:
        """1 or 2 ends that are worked through the holes."""
        return len(self.route(2))


def _criss_cross(pairs: int) -> tuple[tuple[Stop, ...], ...]:
    from_right, from_left = (tuple(((start + pair) % 2, pair) for pair in range(pairs)) for start in (1, 0))
    return ((0, 0), *from_right), from_left


def _straight_bar(pairs: int) -> tuple[tuple[Stop, ...], ...]:
    return (tuple((side, pair) for pair in range(pairs) for side in ((0, 1) if pair % 2 == 0 else (1, 0))),)


def _ladder(pairs: int) -> tuple[tuple[Stop, ...], ...]:
    halves = []
    for start in (1, 0):
        half, side = [(start, 0)], start
        for pair in range(1, pairs):
            half += [(side, pair), (1 - side, pair)]
            side = 1 - side
        halves.append(tuple(half))
    return ((0, 0), *halves[0]), halves[1]


def _spiral(pairs: int) -> tuple[tuple[Stop, ...], ...]:
    return (tuple((side, pair) for pair in range(pairs) for side in (0, 1)),)


LACE_PATHS: Registry[LacePath] = Registry(
    LacePath(
        "criss-cross",
        "a bar through the first pair, then both ends cross over at every pair",
        _criss_cross,
        lambda one, other: False,
    ),
    LacePath(
        "straight bar",
        "one end: a bar through every pair, up one side and the other in turn behind",
        _straight_bar,
        lambda one, other: one[1] != other[1],
    ),
    LacePath(
        "ladder",
        "a bar through the first pair, then both ends go up a hole, pass each other across, and so on",
        _ladder,
        lambda one, other: False,
    ),
    LacePath(
        "spiral",
        "one end: across every pair and slanting behind to the next, always from the same side",
        _spiral,
        lambda one, other: one[1] != other[1],
    ),
)
"""All paths, in the order in which lists show them."""

_FORMER_NAMES = {"crossover": "criss-cross", "bars": "straight bar", "zigzag": "spiral"}


@dataclass(frozen=True)
class EdgeStitch:
    """A stitch that laces an edge. `multiple` is the lace for each length of edge, as a rule of thumb; `around` says
    of a stitch whose length is worked out whether it goes round the edge from hole to hole; None: it follows the rule
    of thumb."""

    name: str
    multiple: float
    around: bool | None = None


EDGE_STITCHES: Registry[EdgeStitch] = Registry(
    EdgeStitch("running", 1.5, around=False),
    EdgeStitch("buck", 2.5),
    EdgeStitch("whip", 3.5, around=True),
    EdgeStitch("single loop", 6.5),
    EdgeStitch("double loop", 8.5),
    EdgeStitch("round braid", 8.0),
    EdgeStitch("triple loop", 9.0),
)
"""Multiples from running to round braid: a supplier's guide; triple loop: about 9, depends on hole spacing and edge
distance (kingsmerecrafts.info p. 97)."""


def lace_path_of(name: str, place: str = "path") -> LacePath:
    """The path of that name. Raises InputError if there is none, naming what a former name is called now."""
    if name in LACE_PATHS:
        return LACE_PATHS[name]
    if name in _FORMER_NAMES:
        now = _FORMER_NAMES[name]
        raise InputError(f"'{name}' is called '{now}' now.", place=place, mend=f"Write '{now}'.")
    raise InputError(
        f"There is no path called '{name}'.", place=place, mend=f"Take one of: {', '.join(LACE_PATHS.names)}."
    )


def lace_runs(path: LacePath, left: Points, right: Points) -> tuple[tuple[Points, tuple[bool, ...]], ...]:
    """The way of a lace through the holes `left` and `right` (n, 2), mm, without its tails: for each half its points
    (k, 2) and which of its k - 1 runs lie behind. The first bar belongs to the first half.

    Raises InputError for fewer than two pairs or rows that do not match.
    """
    left, right = np.asarray(left, dtype=float), np.asarray(right, dtype=float)
    if left.shape != right.shape or left.ndim != 2 or left.shape[1] != 2 or len(left) < 2:
        raise InputError(
            "The two edges need the same number of holes, two or more.",
            mend="Match the holes.",
            place="rows",
        )
    holes = np.stack((left, right))
    return tuple(
        (
            np.array([holes[side, pair] for side, pair in half]),
            tuple(path.behind(one, other) for one, other in pairwise(half)),
        )
        for half in path.route(len(left))
    )


def path_length(
    path: LacePath,
    left: Points,
    right: Points,
    *,
    tail: float = 0.0,
    thickness: tuple[float, float] = (0.0, 0.0),
) -> float:
    """Length of lace through the holes `left` and `right` (n, 2), mm, with two tails of `tail`, and at every hole
    passed the `thickness` of the left or the right edge.

    Raises InputError for rows that do not match.
    """
    runs = lace_runs(path, left, right)
    drawn = sum(_drawn(points) for points, _ in runs)
    stops = [stop for half in path.route(len(left)) for stop in half]
    if path.working_ends == 2:
        stops.remove((0, 0))  # where both halves start, passed once
    return drawn + sum(thickness[side] for side, _ in stops) + 2.0 * tail


def edge_lace_length(
    stitch: str,
    steps: Sequence[float],
    *,
    inset: float,
    thickness: float,
    closed: bool = False,
    tail: float = 0.0,
) -> float:
    """Length of lace along an edge whose holes stand `steps` mm apart, `inset` from the edge, through a stack of
    `thickness`, with two tails. `closed`: the last of the steps leads back to the first hole.

    Of stitches whose way is not worked out, the rule of thumb's multiple of the laced length. Raises InputError for
    a stitch that is not known or an edge without steps.
    """
    if stitch not in EDGE_STITCHES:
        raise InputError(
            f"There is no edge lacing called '{stitch}'.",
            mend=f"Take one of: {', '.join(EDGE_STITCHES.names)}.",
            place="stitch",
        )
    if not steps or not all(step > 0.0 for step in steps):
        raise InputError("A laced edge needs two holes or more.", mend="Add holes.", place="row")
    kind = EDGE_STITCHES[stitch]
    if kind.around is None:
        return kind.multiple * sum(steps) + 2.0 * tail
    round_edge = 2.0 * inset + thickness if kind.around else 0.0
    holes = len(steps) + (0 if closed else 1)
    return sum(float(np.hypot(round_edge, step)) for step in steps) + holes * thickness + 2.0 * tail


def _drawn(points: Points) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())
