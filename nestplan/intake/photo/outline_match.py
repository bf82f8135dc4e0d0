"""How one outline lies on another: turn, shift, and a little stretch, whatever has changed at some places.

Iterated closest points (Besl and McKay 1992) from several starting turns, with the residuals trimmed (Chetverikov et
al. 2002, "The trimmed iterative closest point algorithm"): edges that lie elsewhere now do not pull on the rest.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from nestplan.geometry.ring import area, centroid

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = [
    "OutlineMatch",
    "Slant",
    "alike_in_size",
    "match_outlines",
    "matches",
    "mirror_image",
    "slant_between",
]

STARTS = 36
"""Starting turns all round: edges with few features pull together from 5 degrees off at least."""
ROUGH_POINTS, FINE_POINTS = 160, 600
"""Points along an outline while starts are compared, and in the end."""
LEAST_CHANGE = 1.5
"""Distance, mm, up to which no place of an edge is taken for changed."""
SLANT_SPREAD, STRETCH_SPREAD = 1.7e-6, 0.002
"""What is believed before outlines are looked at: standard deviations of a slant that is left, 1/mm (1.7 mm at the ends
of 2 m; between photographs beside single sheets up to 5e-6), and of a stretch."""
_SLANT_ROUNDS, _SLANT_POINTS, _SOFT, _CUT = 12, 800, 1.5, (3.0, 2.0)
"""Rounds of nearest points, points along the first outline, from how many mm on a place pulls less, and how near (mm)
it must lie at least to count: while the slant is sought, and in the end."""
_KEPT_STARTS = 4
_ROUNDS, _FINE_ROUNDS = 12, 40


@dataclass(frozen=True, eq=False)
class OutlineMatch:
    """Points of the first outline go to `points @ matrix.T + shift` on the second.

    `residual`: root mean square distance, mm, of the share of its points that was kept; `distances` (n,) those of
    points all along it after laying, and `points` (n, 2) where these are on the second's table; `kept` the share that
    was not taken for changed.
    """

    matrix: Floats
    shift: Floats
    residual: float
    points: Floats
    distances: Floats
    kept: float = 1.0

    def moved(self, points: Floats) -> Floats:
        """Places (n, 2) of the first outline's table on the second's."""
        return np.asarray(points @ self.matrix.T + self.shift)

    @property
    def turn(self) -> float:
        """Degrees by which the first is turned (after mirroring, where it is mirrored)."""
        return float(np.degrees(np.arctan2(self.matrix[1, 0], self.matrix[0, 0])))

    @property
    def stretch(self) -> tuple[float, float]:
        """How much longer things become along the two main directions, the greater first; 1 is unchanged."""
        values = np.linalg.svd(self.matrix, compute_uv=False)
        return float(values[0]), float(values[1])


@dataclass(frozen=True, eq=False)
class Slant:
    """What is left of perspective in a photograph drawn as from straight above: places at `x` from its `middle` (2,)
    are drawn at `x / (1 + x @ rise)`, `rise` (2,) in 1/mm."""

    middle: Floats
    rise: Floats

    def seen(self, points: Floats) -> Floats:
        """Where places (n, 2) of the true floor were drawn."""
        off = points - self.middle
        return np.asarray(off / (1 + off @ self.rise)[:, None] + self.middle)

    def straightened(self, points: Floats) -> Floats:
        """Where places (n, 2) as they were drawn truly lie."""
        off = points - self.middle
        return np.asarray(off / (1 - off @ self.rise)[:, None] + self.middle)

    @property
    def straightening(self) -> Floats:
        """The homography (3, 3) that `straightened` is."""
        across = float(self.rise @ self.middle)
        return np.block(
            [
                [np.eye(2) - np.outer(self.middle, self.rise), (self.middle * across)[:, None]],
                [-self.rise[None], np.array([[1.0 + across]])],
            ]
        )


def mirror_image(points: Floats) -> Floats:
    """Points (n, 2) mirrored across the y axis, in reversed order."""
    return np.asarray(points[::-1] * (-1.0, 1.0))


def match_outlines(
    first: Floats, second: Floats, *, keep: float = 1.0, affine: bool = False, starts: int = STARTS
) -> OutlineMatch:
    """How the ring `first` (n, 2) lies best on the ring `second`, mm; see `matches`."""
    done = matches(first, second, keep=keep, affine=affine, starts=starts)
    return min(done, key=lambda match: match.residual)


def matches(
    first: Floats, second: Floats, *, keep: float = 1.0, affine: bool = False, starts: int = STARTS
) -> list[OutlineMatch]:
    """The ways in which the ring `first` (n, 2) lies well on the ring `second`, mm, each with another turn.

    `keep` is the share of the edge that is believed to be the same on both; with `affine` a stretch is allowed in the
    end. Mirror a ring beforehand (`mirror_image`) to compare it with a mirror image.
    """
    from scipy.spatial import cKDTree

    rough, fine = _along(first, ROUGH_POINTS), _along(first, FINE_POINTS)
    target = _along(second, 4 * ROUGH_POINTS)
    tree = cKDTree(target)
    middle, other = np.array(centroid(first)), np.array(centroid(second))
    trials = []
    for angle in np.arange(starts) * 2 * np.pi / starts:
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        matrix, shift = turn, other - turn @ middle
        residual = np.inf
        for _ in range(_ROUNDS):
            laid = rough @ matrix.T + shift
            distance, nearest = tree.query(laid)
            kept = _kept(distance, keep)
            residual = float(np.sqrt((distance[kept] ** 2).mean()))
            matrix, shift = _rigid(rough[kept], target[nearest[kept]])
        trials.append((residual, matrix, shift))
    trials.sort(key=lambda trial: trial[0])
    dense = _along(second, 8 * FINE_POINTS)
    fine_tree = cKDTree(dense)
    return [
        _refined(fine, dense, fine_tree, start, keep, affine=affine)
        for start in _apart(trials)[:_KEPT_STARTS]
    ]


def _apart(trials: list[tuple[float, Floats, Floats]]) -> list[tuple[float, Floats, Floats]]:
    """The best trials of those that came to different turns."""
    chosen: list[tuple[float, Floats, Floats]] = []
    for trial in trials:
        turns = [float(np.trace(trial[1].T @ other[1])) / 2 for other in chosen]
        if all(cosine < np.cos(np.radians(8)) for cosine in turns):
            chosen.append(trial)
    return chosen


def _refined(
    fine: Floats,
    dense: Floats,
    tree: object,
    start: tuple[float, Floats, Floats],
    keep: float,
    *,
    affine: bool,
) -> OutlineMatch:
    from scipy.spatial import cKDTree

    assert isinstance(tree, cKDTree)
    _, matrix, shift = start
    tangent = np.roll(dense, -1, axis=0) - np.roll(dense, 1, axis=0)
    normal = (
        np.column_stack([tangent[:, 1], -tangent[:, 0]]) / np.maximum(np.hypot(*tangent.T), 1e-9)[:, None]
    )
    for number in range(_FINE_ROUNDS):
        laid = fine @ matrix.T + shift
        distance, nearest = tree.query(laid)
        free = affine and number >= _FINE_ROUNDS // 3
        kept = _unchanged(distance) if keep < 1.0 and number >= _FINE_ROUNDS // 4 else _kept(distance, keep)
        step, slide = _to_lines(laid[kept], dense[nearest[kept]], normal[nearest[kept]], affine=free)
        matrix, shift = step @ matrix, step @ shift + slide
        if not free:
            # A turn and shift to first order grows a little; the nearest true turn is taken.
            u, _, vt = np.linalg.svd(matrix)
            matrix = u @ vt
    laid = fine @ matrix.T + shift
    distance, _ = tree.query(laid)
    kept = _unchanged(distance) if keep < 1.0 else _kept(distance, keep)
    residual = float(np.sqrt((distance[kept] ** 2).mean()))
    return OutlineMatch(matrix, shift, residual, laid, distance, float(kept.mean()))


def _unchanged(distance: Floats) -> NDArray[np.bool_]:
    """Which points lie as near as most do: the others are taken for changed."""
    return np.asarray(distance <= max(3.0 * float(np.median(distance)), LEAST_CHANGE))


def _kept(distance: Floats, keep: float) -> NDArray[np.bool_]:
    if keep >= 1.0:
        return np.ones(len(distance), dtype=bool)
    return np.asarray(distance <= np.quantile(distance, keep))


def _rigid(source: Floats, target: Floats) -> tuple[Floats, Floats]:
    """The turn (2, 2) and shift (2,) that lay points onto others best (Kabsch 1976)."""
    a, b = source - source.mean(axis=0), target - target.mean(axis=0)
    angle = np.arctan2(float((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum()), float((a * b).sum()))
    matrix = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return matrix, target.mean(axis=0) - matrix @ source.mean(axis=0)


def _to_lines(points: Floats, near: Floats, normal: Floats, *, affine: bool) -> tuple[Floats, Floats]:
    """A small step (matrix (2, 2) and shift) that brings points onto the lines through `near` square to `normal`
    (Chen and Medioni 1991): edges slide along each other. About the points' middle, lightly held."""
    middle = points.mean(axis=0)
    off = points - middle
    scale = max(float(np.hypot(*off.T).mean()), 1e-9)
    x, y = (off / scale).T
    nx, ny = normal.T
    if affine:
        rows = np.column_stack([nx * x, nx * y, ny * x, ny * y, nx, ny])
    else:
        rows = np.column_stack([ny * x - nx * y, nx, ny])
    wanted = ((near - points) * normal).sum(axis=1)
    hold = np.eye(rows.shape[1]) * 1e-3 * len(points)
    step = np.linalg.solve(rows.T @ rows + hold, rows.T @ wanted)
    if affine:
        matrix = np.eye(2) + step[:4].reshape(2, 2) / scale
        slide = step[4:]
    else:
        angle = float(step[0]) / scale
        matrix = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        slide = step[1:]
    return matrix, middle + slide - matrix @ middle


def _along(ring: Floats, count: int) -> Floats:
    """`count` points at equal steps along a ring."""
    closed = np.vstack([ring, ring[:1]])
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    at = np.linspace(0, arc[-1], count, endpoint=False)
    return np.column_stack([np.interp(at, arc, closed[:, k]) for k in range(2)])


def alike_in_size(first: Floats, second: Floats, share: float) -> bool:
    """Whether the areas of two rings differ by less than a share of them: a quick first look."""
    one, other = area(first), area(second)
    return abs(one - other) < share * max(one, other)


def slant_between(first: Floats, second: Floats, match: OutlineMatch) -> Slant:
    """The slant with which the ring `second` (n, 2), mm, was drawn, if the ring `first` is true and lies on it nearly
    as `match` says.

    Leather stretches by a hundredth, and evenly; a camera that is known badly draws one side of it larger than the
    other. Robust least squares of distances from the edge, places that have changed left out.
    """
    from scipy.optimize import least_squares
    from scipy.spatial import cKDTree

    fine, dense = _along(first, _SLANT_POINTS), _along(second, 8 * _SLANT_POINTS)
    tangent = np.roll(dense, -4, axis=0) - np.roll(dense, 4, axis=0)
    normal = np.column_stack([tangent[:, 1], -tangent[:, 0]]) / np.hypot(*tangent.T)[:, None]
    tree, middle = cKDTree(dense), np.array(centroid(second))
    size = float(np.sqrt(abs(area(second))))

    def laid(values: Floats, points: Floats) -> Floats:
        # Values of about one: changes of the matrix, the shift (mm) and the slant.
        moved = match.moved(points) - middle
        moved = moved @ (np.eye(2) + values[:4].reshape(2, 2) / size).T + values[4:6] + middle
        return Slant(middle, values[6:8] * SLANT_SPREAD).seen(moved)

    values = np.zeros(8)
    for number in range(_SLANT_ROUNDS):
        distance, nearest = tree.query(laid(values, fine))
        near = distance < max(3 * float(np.median(distance)), _CUT[number >= _SLANT_ROUNDS // 2])
        points, ends, ways = fine[near], dense[nearest[near]], normal[nearest[near]]

        def off(values: Floats, points: Floats = points, ends: Floats = ends, ways: Floats = ways) -> Floats:
            stretch = np.linalg.svd(
                (np.eye(2) + values[:4].reshape(2, 2) / size) @ match.matrix, compute_uv=False
            )
            aside = ((laid(values, points) - ends) * ways).sum(axis=1)
            return np.concatenate([aside, (stretch - 1) / STRETCH_SPREAD, values[6:8]])

        values = least_squares(off, values, loss="soft_l1", f_scale=_SOFT).x
    return Slant(middle, values[6:8] * SLANT_SPREAD)
