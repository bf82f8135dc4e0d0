"""The largest rectangle inside an area with holes, at a given turn or at the best one found.

A grid of cells that the outline does not cross gives a rectangle that surely fits; then its middle, shape and
turn are bettered against the exact edges. Discs and openings are in `nestplan.geometry.inscribed`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from nestplan.errors import InputError, ShapeError

if TYPE_CHECKING:
    import shapely

__all__ = ["Rectangle", "largest_rectangle"]

Array = npt.NDArray[np.float64]

_CELLS_BY_DEFAULT = 64
_CELLS_TO_RANK = 24
_TURN_STEP = 5.0
_LONGEST_EDGES = 8
_TURNS_KEPT = 3
_EDGES_JUDGED = 40
_SAMPLES = 24
_ROUNDS = 40
_INSIDE_MM = 1e-6


@dataclass(frozen=True)
class Rectangle:
    """A rectangle: its `center` (x, y), its `width` along `angle`, its `height` across; mm and degrees in [0,
    180).

    `largest_rectangle` gives the longer side as the width.
    """

    center: tuple[float, float]
    width: float
    height: float
    angle: float

    @property
    def area(self) -> float:
        """Width times height, mm²."""
        return self.width * self.height

    @property
    def corners(self) -> Array:
        """The four corners (4, 2), counter-clockwise."""
        turn = math.radians(self.angle)
        along = np.array((math.cos(turn), math.sin(turn))) * self.width / 2
        across = np.array((-math.sin(turn), math.cos(turn))) * self.height / 2
        return np.array(self.center) + np.array(
            (-along - across, along - across, along + across, across - along)
        )


class _Frame(NamedTuple):
    """A rectangle in the search: middle, turn in radians, and the logarithm of width / height."""

    x: float
    y: float
    turn: float
    shape: float


def largest_rectangle(
    polygon: shapely.Polygon | shapely.MultiPolygon,
    *,
    angle: float | None = None,
    tolerance: float | None = None,
    polish: bool = True,
) -> Rectangle:
    """The largest rectangle found inside the area, its sides along `angle` degrees, or at the best turn found.

    It lies inside. At a given `angle` it is at least as large as the true largest one with `tolerance` mm
    taken off each side (by default 1/64 of the shorter extent of the area, and never finer than 1/256 of the
    longer), and usually within a thousandth of it; without `polish` it is left at that grid's best with its
    sides pushed out, in a fraction of the time. Without `angle`, turns of 5 degrees and those of the longest
    edges are ranked on a coarse grid and the best three bettered, without a guarantee. The same input gives
    the same output. Raises ShapeError for an empty area, InputError for a tolerance that is not positive.
    """
    if polygon.is_empty or polygon.area <= 0:
        raise ShapeError("Nothing fits in an empty area.")
    if tolerance is not None and not tolerance > 0:
        raise InputError(f"A tolerance is above zero, not {tolerance:g} mm.")
    start, end = _edges_of(polygon)
    turns = [math.radians(angle % 180.0)] if angle is not None else _turns_to_try(start, end)
    if len(turns) > _TURNS_KEPT:
        rough = [_grid_rectangle(start, end, turn, None, _CELLS_TO_RANK)[1] for turn in turns]
        turns = [turns[rank] for rank in np.argsort(-np.array(rough), kind="stable")[:_TURNS_KEPT]]
    found = []
    for turn in turns:
        frame = _grid_rectangle(start, end, turn, tolerance, _CELLS_BY_DEFAULT)[0]
        if frame is None:
            frame = _Frame(*_spot_inside(polygon), turn, 0.0)
        frame = _widened(frame, start, end)
        if polish:
            frame = _widened(_bettered(polygon, frame, start, end, turning=angle is None), start, end)
        found.append((float(_half_sizes(np.array([frame]), start, end)[0]), frame))
    reach, best = max(found, key=lambda entry: entry[0])
    return _rectangle(best, reach)


def _edges_of(polygon: shapely.Geometry) -> tuple[Array, Array]:
    """Starts and ends (n, 2) of all edges of the area's rings."""
    import shapely

    coordinates, owner = shapely.get_coordinates(
        shapely.get_rings(shapely.get_parts(polygon)), return_index=True
    )
    joined = owner[1:] == owner[:-1]
    return coordinates[:-1][joined], coordinates[1:][joined]


def _spot_inside(polygon: shapely.Geometry) -> tuple[float, float]:
    import shapely

    circle = shapely.maximum_inscribed_circle(max(shapely.get_parts(polygon), key=lambda part: part.area))
    x, y = shapely.get_coordinates(circle)[0]
    return float(x), float(y)


def _turns_to_try(start: Array, end: Array) -> list[float]:
    """Turns in radians within a quarter: even steps, and the directions of the longest edges."""
    along = end - start
    longest = np.argsort(-np.hypot(along[:, 0], along[:, 1]), kind="stable")[:_LONGEST_EDGES]
    edges = np.degrees(np.arctan2(along[longest, 1], along[longest, 0])) % 90.0
    turns = np.unique(np.round(np.concatenate((np.arange(0.0, 90.0, _TURN_STEP), edges)), 6))
    return [math.radians(float(turn)) for turn in turns]


def _grid_rectangle(
    start: Array, end: Array, turn: float, tolerance: float | None, cells: int
) -> tuple[_Frame | None, float]:
    """The largest rectangle of whole grid cells inside the area at `turn`, and its area; None where no cell
    fits.
    """
    back = np.array(((math.cos(turn), -math.sin(turn)), (math.sin(turn), math.cos(turn))))
    a, b = start @ back, end @ back
    low, high = a.min(axis=0), a.max(axis=0)
    extent = high - low
    step = float(extent.min()) / cells if tolerance is None else tolerance
    step = max(step, float(extent.max()) / (4 * cells))
    count = np.maximum(1, np.ceil(extent / step)).astype(int)
    size = extent / count
    free = _free_cells((a - low) / size, (b - low) / size, int(count[0]), int(count[1]))
    left, right, bottom, top = _largest_block(free, float(size[0]), float(size[1]))
    if right <= left:
        return None, 0.0
    width, height = (right - left) * size[0], (top - bottom) * size[1]
    middle = (low + size * ((left + right) / 2, (bottom + top) / 2)) @ back.T
    return _Frame(float(middle[0]), float(middle[1]), turn, math.log(width / height)), float(width * height)


def _free_cells(a: Array, b: Array, columns: int, rows: int) -> npt.NDArray[np.bool_]:
    """Which unit cells (rows, columns) lie inside the area of the edges a to b (n, 2) and are crossed by
    none.
    """
    edge = [np.arange(len(a)), np.arange(len(a))]
    at = [np.zeros(len(a)), np.ones(len(a))]
    for axis in (0, 1):
        owner, line = _lines_crossed(a[:, axis], b[:, axis])
        edge.append(owner)
        at.append((line - a[owner, axis]) / (b[owner, axis] - a[owner, axis]))
    edges, params = np.concatenate(edge), np.concatenate(at)
    order = np.lexsort((params, edges))
    edges, params = edges[order], params[order]
    same = edges[1:] == edges[:-1]
    owner, middle = edges[1:][same], ((params[1:] + params[:-1]) / 2)[same]
    cells = np.floor(a[owner] + (b[owner] - a[owner]) * middle[:, None]).astype(int)
    crossed = np.zeros((rows, columns), dtype=bool)
    crossed[np.clip(cells[:, 1], 0, rows - 1), np.clip(cells[:, 0], 0, columns - 1)] = True

    owner, line = _lines_crossed(a[:, 1] - 0.5, b[:, 1] - 0.5)
    share = (line + 0.5 - a[owner, 1]) / (b[owner, 1] - a[owner, 1])
    x = a[owner, 0] + share * (b[owner, 0] - a[owner, 0])
    toggles = np.zeros((rows + 1, columns + 1), dtype=np.int64)
    np.add.at(toggles, (np.clip(line, 0, rows), np.clip(np.ceil(x - 0.5).astype(int), 0, columns)), 1)
    inside = np.cumsum(toggles[:rows, :columns], axis=1) % 2 == 1
    free: npt.NDArray[np.bool_] = inside & ~crossed
    return free


def _lines_crossed(a: Array, b: Array) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Pairs (edge, k) for every whole number k with min(a, b) < k <= max(a, b), edge by edge."""
    first = np.floor(np.minimum(a, b)).astype(np.int64) + 1
    count = np.floor(np.maximum(a, b)).astype(np.int64) - first + 1
    owner = np.repeat(np.arange(len(a)), count)
    rank = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    return owner, first[owner] + rank


def _largest_block(
    free: npt.NDArray[np.bool_], cell_width: float, cell_height: float
) -> tuple[int, int, int, int]:
    """Left, right, bottom and top (in cells, right and top past the end) of the largest all-free block."""
    rows, columns = free.shape
    column = np.arange(columns)
    best, block = 0.0, (0, 0, 0, 0)
    for bottom in range(rows):
        if (rows - bottom) * columns * cell_width * cell_height <= best:
            break
        clear = np.logical_and.accumulate(free[bottom:], axis=0)
        blocked = np.maximum.accumulate(np.where(clear, -1, column), axis=1)
        run = column - blocked
        last = np.argmax(run, axis=1)
        length = run[np.arange(len(run)), last]
        sizes = length * np.arange(1, len(run) + 1) * cell_width * cell_height
        top = int(np.argmax(sizes))
        if sizes[top] > best:
            right = int(last[top]) + 1
            best, block = float(sizes[top]), (right - int(length[top]), right, bottom, bottom + top + 1)
    return block


def _widened(frame: _Frame, start: Array, end: Array) -> _Frame:
    """The frame with its sides pushed out one after the other as far as the edges let them, the better order
    kept.
    """
    back = np.array(
        ((math.cos(frame.turn), -math.sin(frame.turn)), (math.sin(frame.turn), math.cos(frame.turn)))
    )
    middle = np.array((frame.x, frame.y))
    a, b = (start - middle) @ back, (end - middle) @ back
    reach = max(float(_half_sizes(np.array([frame]), start, end)[0]) - _INSIDE_MM, 0.0)
    sides = np.array((reach * math.exp(frame.shape / 2), reach * math.exp(-frame.shape / 2)))
    best, best_size = frame, -1.0
    for axes in ((0, 1), (1, 0)):
        low, high = -sides, sides.copy()
        for axis in axes:
            least, most = _clear_run(a, b, axis, low[1 - axis], high[1 - axis])
            low[axis], high[axis] = min(least, low[axis]), max(most, high[axis])
        width, height = high - low
        if width * height > best_size and height > 0 and width > 0:
            x, y = middle + ((low + high) / 2) @ back.T
            best_size = float(width * height)
            best = _Frame(float(x), float(y), frame.turn, math.log(width / height))
    return best


def _clear_run(a: Array, b: Array, axis: int, low: float, high: float) -> tuple[float, float]:
    """How far one can go from the origin down and up `axis` in the open band low..high before an edge is met."""
    across_a, across_b = a[:, 1 - axis], b[:, 1 - axis]
    met = (np.minimum(across_a, across_b) < high) & (np.maximum(across_a, across_b) > low)
    across_a, across_b = across_a[met], across_b[met]
    along_a, along_b = a[met, axis], b[met, axis]
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.nan_to_num((along_b - along_a) / (across_b - across_a), posinf=0.0, neginf=0.0)
    first = along_a + slope * (np.clip(across_a, low, high) - across_a)
    last = along_b + slope * (np.clip(across_b, low, high) - across_b)
    near, far = np.minimum(first, last), np.maximum(first, last)
    up, down = near[near > 0], far[far < 0]
    return float(down.max(initial=-math.inf)), float(up.min(initial=math.inf))


def _bettered(polygon: shapely.Geometry, frame: _Frame, start: Array, end: Array, *, turning: bool) -> _Frame:
    """The frame after random small changes, kept where they give a larger rectangle.

    A fixed seed, a step that halves when nothing is gained: a (1 + 24) evolution strategy (Rechenberg, 1973).
    Trials are judged by the edges nearest to the frame, the best of them then by all.
    """
    import shapely

    shapely.prepare(polygon)
    rng = np.random.default_rng(0)
    best = np.array(frame)
    distances = _distances(best[None], start, end)[0]
    reach = float(distances.min())
    width = math.sqrt(polygon.area) / 8
    steps = np.array((width, width, math.radians(2.0) if turning else 0.0, 0.2))
    shrink = 1.0
    for _ in range(_ROUNDS):
        near = np.argsort(distances, kind="stable")[:_EDGES_JUDGED]
        trials = best + rng.normal(size=(_SAMPLES, 4)) * steps * shrink
        trials = trials[shapely.contains_xy(polygon, trials[:, 0], trials[:, 1])]
        if len(trials):
            trial = trials[int(np.argmax(_half_sizes(trials, start[near], end[near])))]
            trial_distances = _distances(trial[None], start, end)[0]
            if trial_distances.min() > reach:
                best, distances, reach = trial, trial_distances, float(trial_distances.min())
                continue
        shrink /= 2
        if shrink < 1e-6:
            break
    return _Frame(*(float(value) for value in best))


def _half_sizes(frames: Array, start: Array, end: Array) -> Array:
    """For frames (k, 4) the greatest s (k,) at which half sides of s·e^(±shape/2) cross no edge."""
    sizes: Array = _distances(frames, start, end).min(axis=1)
    return sizes


def _distances(frames: Array, start: Array, end: Array) -> Array:
    """The distance (k, n) of each frame's middle from each edge in the frame's own maximum norm.

    It is convex along an edge, so least at an end or where a coordinate is zero or both are equal.
    """
    c, s = np.cos(frames[:, 2:3]), np.sin(frames[:, 2:3])
    half_width, half_height = np.exp(frames[:, 3:4] / 2), np.exp(-frames[:, 3:4] / 2)

    def seen(points: Array) -> tuple[Array, Array]:
        x, y = points[:, 0] - frames[:, :1], points[:, 1] - frames[:, 1:2]
        return (c * x + s * y) / half_width, (c * y - s * x) / half_height

    (ax, ay), (bx, by) = seen(start), seen(end)
    dx, dy = bx - ax, by - ay
    nearest = np.minimum(np.maximum(abs(ax), abs(ay)), np.maximum(abs(bx), abs(by)))
    for top, bottom in ((-ax, dx), (-ay, dy), (ay - ax, dx - dy), (-(ax + ay), dx + dy)):
        # Where nothing is crossed any place on the edge will do: it only adds a farther one.
        share = np.clip(top / np.where(bottom == 0, 1.0, bottom), 0.0, 1.0)
        nearest = np.minimum(nearest, np.maximum(abs(ax + share * dx), abs(ay + share * dy)))
    return nearest


def _rectangle(frame: _Frame, reach: float) -> Rectangle:
    """The frame as a Rectangle, the longer side its width, a hair inside the edges."""
    width = max(2.0 * reach * math.exp(frame.shape / 2) - _INSIDE_MM, 0.0)
    height = max(2.0 * reach * math.exp(-frame.shape / 2) - _INSIDE_MM, 0.0)
    turn = math.degrees(frame.turn)
    if height > width:
        width, height, turn = height, width, turn + 90.0
    return Rectangle((frame.x, frame.y), width, height, turn % 180.0)
