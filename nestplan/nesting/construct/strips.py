"""Strips: straps and lace cut side by side from a straight edge.

Pure geometry. The usable area comes in as a polygon from which flaws and their margins are already taken
away; strips come out as rectangles that share their long cuts. Which strips a job wants, and on which
hide, is decided in `straps`; lace cut round and round from a disc is in `spirals`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from nestplan.nesting.arrays.strip_kernels import best_stack, count_rows, free_intervals

Ring = NDArray[np.float64]

GRID = 8
"""Row starts are tried at every width / GRID; equal widths share the grid, so their rows line up."""
ANGLES = 9
REACH = 1e-5
"""mm a strip may be longer than its interval: the kernel's allowance for rounding, far below the audit's."""
HAIR = 4e-4
"""mm left between strips that lie askew to the axes, since a plan's coordinates are rounded to 0.1 µm and two
long strips would else overlap by a sliver. Along an axis they round alike and need none."""
ORIGINS = 6
"""Lines that rows may be counted from: the area's lowest and highest points, and edges already struck."""


@dataclass(frozen=True)
class StripWish:
    """`count` equal strips, mm. With `least_part` set a strip may be joined from up to `most_parts` parts
    at least that long, each join losing `overlap`."""

    kind: int
    width: float
    length: float
    count: int
    least_part: float | None = None
    overlap: float = 0.0
    most_parts: int = 2


@dataclass(frozen=True)
class StripPart:
    """One rectangle of leather: a whole strip, or one part of a joined strip.

    `ring` (4, 2) mm starts at the strip's own corner (0, 0); `angle` is the direction of its length;
    `x`, `y` where that corner lies; `bundle` numbers the straight edge it is cut from.
    """

    kind: int
    copy: int
    part: int
    x: float
    y: float
    angle: float
    length: float
    width: float
    bundle: int

    @property
    def ring(self) -> Ring:
        turn = math.radians(self.angle)
        along = np.array([math.cos(turn), math.sin(turn)])
        across = np.array([-along[1], along[0]])
        corner = np.array([self.x, self.y])
        long, wide = along * self.length, across * self.width
        return np.array([corner, corner + long, corner + long + wide, corner + wide])


@dataclass(frozen=True)
class StripLayout:
    """Strips laid on one area: the parts, the strips wanted but not laid (kind, count), and the number of
    straight edges to be struck."""

    parts: tuple[StripPart, ...]
    missing: tuple[tuple[int, int], ...]
    bundles: int

    def laid(self, kind: int) -> int:
        """Strips of a kind that were laid, joined ones counted once."""
        return len({part.copy for part in self.parts if part.kind == kind})


def lay_strips(
    area: Any, wishes: Iterable[StripWish], *, direction: float = 0.0, tolerance: float = 0.0
) -> StripLayout:
    """The most strips, side by side with shared cuts, that `area` holds along one direction.

    `area` is a shapely Polygon or MultiPolygon, mm; `direction` an axis in degrees, `tolerance` how far the
    strips may turn from it. The sweep of a row is exact: its free intervals are what no edge of the area
    crosses over the row's whole width. Wide and long strips come first. If all are laid, the turn with the
    fewest straight edges, and nearest to `direction`, wins.
    """
    wanted = tuple(sorted(wishes, key=lambda w: (-w.width, -w.length, w.kind)))
    if area.is_empty or not wanted:
        return StripLayout((), tuple((w.kind, w.count) for w in wanted if w.count), 0)
    best: StripLayout | None = None
    best_rank: tuple[float, ...] = ()
    for angle in _turns(area, direction, tolerance):
        layout = _lay_along(area, wanted, angle)
        lengths = {w.kind: w.width * w.length for w in wanted}
        short = sum(count * lengths[kind] for kind, count in layout.missing)
        rank = (
            short,
            float(layout.bundles),
            len(layout.parts),
            abs(_axis_difference(angle, direction)),
            angle,
        )
        if best is None or rank < best_rank:
            best, best_rank = layout, rank
    assert best is not None
    return best


def most_strips(
    area: Any, width: float, length: float, *, direction: float = 0.0, tolerance: float = 0.0
) -> int:
    """How many strips of width x length the area holds along a direction, mm and degrees."""
    count = int(area.area / (width * length)) + 1
    return lay_strips(
        area, [StripWish(0, width, length, count)], direction=direction, tolerance=tolerance
    ).laid(0)


def _turns(area: Any, direction: float, tolerance: float) -> list[float]:
    """Directions to try: an even fan over the tolerance, and those of the area's long straight edges."""
    tolerance = min(tolerance, 90.0)
    if tolerance <= 0.0:
        return [direction]
    fan = {round(direction + t, 9) for t in np.linspace(-tolerance, tolerance, ANGLES)}
    edges = _edges(area, 0.0)
    spans = edges[:, 2:] - edges[:, :2]
    lengths = np.hypot(spans[:, 0], spans[:, 1])
    for i in np.argsort(-lengths, kind="stable")[:4]:
        turn = _axis_difference(math.degrees(math.atan2(spans[i, 1], spans[i, 0])), direction)
        if abs(turn) <= tolerance and lengths[i] > 50.0:
            fan.add(round(direction + turn, 9))
    return sorted(fan)


def _axis_difference(angle: float, other: float) -> float:
    return (angle - other + 90.0) % 180.0 - 90.0


def _edges(area: Any, angle: float) -> NDArray[np.float64]:
    """Boundary edges (m, 4) of an area turned by -angle, so that strips run along x."""
    turn = math.radians(-angle)
    c, s = math.cos(turn), math.sin(turn)
    runs = []
    for polygon in getattr(area, "geoms", [area]):
        for line in (polygon.exterior, *polygon.interiors):
            points = shapely.get_coordinates(line) @ np.array([[c, s], [-s, c]])
            runs.append(np.hstack([points[:-1], points[1:]]))
    return np.ascontiguousarray(np.vstack(runs)) if runs else np.empty((0, 4))


@dataclass(frozen=True)
class _Row:
    """A free interval of a row, less the hair."""

    row: int
    start: float
    end: float
    bundle: int


def _lay_along(area: Any, wishes: Sequence[StripWish], angle: float) -> StripLayout:
    """Lay every wish in turn along one direction; what is laid is taken from the rows that follow."""
    edges = _edges(area, angle)
    low = float(min(edges[:, 1].min(), edges[:, 3].min()))
    high = float(max(edges[:, 1].max(), edges[:, 3].max()))
    struck = [low, high]
    hair = 0.0 if angle % 90.0 == 0.0 else HAIR
    parts: list[StripPart] = []
    missing: list[tuple[int, int]] = []
    bundles = 0
    for wish in wishes:
        best: list[StripPart] = []
        best_rank: tuple[int, ...] = (-wish.count, 0)
        for origin in _origins(struck, low, (wish.width + hair) / GRID):
            laid = _lay_wish(edges, origin, high, wish, angle, hair)
            rank = (len({p.copy for p in laid}) - wish.count, -len({p.bundle for p in laid}))
            if rank > best_rank:
                best, best_rank = laid, rank
        if best:
            edges = np.ascontiguousarray(np.vstack([edges, *(_part_edges(p, angle) for p in best)]))
            rows = sorted({round(_turned(p.x, p.y, -angle)[1], 6) for p in best})
            struck += [rows[0] - hair / 2, rows[-1] + wish.width + hair / 2]
            parts += [replace(p, bundle=p.bundle + bundles) for p in best]
            bundles += len({p.bundle for p in best})
        if best_rank[0] < 0:
            missing.append((wish.kind, -best_rank[0]))
    return StripLayout(tuple(parts), tuple(missing), bundles)


def _origins(struck: Sequence[float], low: float, step: float) -> list[float]:
    """Row origins at or just above `low` from which the struck lines are whole steps away, each one once."""
    found: list[float] = []
    for line in struck:
        shift = (line - low) % step
        shift = 0.0 if step - shift < 1e-7 else shift
        if len(found) < ORIGINS and all(abs(low + shift - other) > 1e-7 for other in found):
            found.append(low + shift)
    return found


def _lay_wish(
    edges: Any, origin: float, high: float, wish: StripWish, angle: float, hair: float
) -> list[StripPart]:
    """Whole strips first, then joined ones from what the rows still hold."""
    sweep = _Sweep.over(edges, origin, high, wish, angle, hair)
    if sweep.rows <= 0 or wish.count <= 0:
        return []
    laid, bundles = _whole_strips(sweep, wish)
    if len(laid) < wish.count and wish.least_part is not None:
        rest = np.ascontiguousarray(np.vstack([edges, *(_part_edges(p, angle) for p in laid)]))
        laid += _joined_strips(replace(sweep, edges=rest), wish, bundles, len(laid))
    return laid


@dataclass(frozen=True, eq=False)
class _Sweep:
    """Rows of one width across an area turned by -angle: row k lies from origin + k * step up to `width` above
    it. `width` includes the hair."""

    edges: Any
    origin: float
    step: float
    rows: int
    width: float
    angle: float
    hair: float

    @classmethod
    def over(
        cls, edges: Any, origin: float, high: float, wish: StripWish, angle: float, hair: float
    ) -> _Sweep:
        width = wish.width + hair
        rows = int((high - origin - width) / (width / GRID) + 1e-6) + 1
        return cls(edges, origin, width / GRID, rows, width, angle, hair)

    def counts(self, length: float) -> NDArray[np.int64]:
        counts = np.zeros(self.rows, np.int64)
        count_rows(self.edges, self.origin, self.step, self.rows, self.width, length + self.hair, counts)
        return counts

    def free(self, row: int) -> list[tuple[float, float]]:
        out = np.empty((self.edges.shape[0] + 1, 2), np.float64)
        low = self.origin + row * self.step
        found = free_intervals(self.edges, low, low + self.width, out)
        return [(float(a), float(b)) for a, b in out[:found]]

    def part(
        self, wish: StripWish, copy: int, part: int, start: float, row: int, length: float, bundle: int
    ) -> StripPart:
        low = self.origin + row * self.step
        x, y = _turned(start + self.hair / 2, low + self.hair / 2, self.angle)
        return StripPart(wish.kind, copy, part, x, y, self.angle, length, wish.width, bundle)


def _whole_strips(sweep: _Sweep, wish: StripWish) -> tuple[list[StripPart], int]:
    bundles = 0
    parts: list[StripPart] = []
    before = -(10**9)
    for row in _choose_rows(sweep.counts(wish.length), wish.count):
        if len(parts) >= wish.count:
            break
        bundles += row - before != GRID
        before = row
        length = wish.length + sweep.hair
        for start, end in sweep.free(row):
            for n in range(min(int((end - start + REACH) / length), wish.count - len(parts))):
                parts.append(
                    sweep.part(wish, len(parts), 0, start + n * length, row, wish.length, bundles - 1)
                )
    return parts, bundles


def _choose_rows(counts: NDArray[np.int64], wanted: int) -> list[int]:
    """Row starts for `wanted` strips: one unbroken stack with the fewest rows if there is one, from the
    outermost such place; else the stack that holds the most, thinned from its poorest rows."""
    best: list[int] | None = None
    for first in range(counts.shape[0]):
        total, k, run = 0, first, []
        while total < wanted and k < counts.shape[0] and counts[k] > 0:
            total += int(counts[k])
            run.append(k)
            k += GRID
        if total >= wanted:
            rim = min(first, counts.shape[0] - 1 - run[-1])
            rim_best = min(best[0], counts.shape[0] - 1 - best[-1]) if best else 0
            if best is None or (len(run), rim) < (len(best), rim_best):
                best = run
    if best is not None:
        return best
    chosen = np.zeros(counts.shape[0], np.bool_)
    total = int(best_stack(counts, GRID, chosen))
    starts = [int(k) for k in np.flatnonzero(chosen)]
    for k in sorted(starts, key=lambda k: (counts[k], k)):
        if total - counts[k] < wanted:
            break
        total -= int(counts[k])
        starts.remove(k)
    return starts


def _joined_strips(sweep: _Sweep, wish: StripWish, bundles: int, copy: int) -> list[StripPart]:
    """Strips joined from parts of at least the least length, cut from the longest free intervals left."""
    assert wish.least_part is not None
    chosen = np.zeros(sweep.rows, np.bool_)
    best_stack(sweep.counts(wish.least_part), GRID, chosen)
    free: list[_Row] = []
    before = -(10**9)
    for k in np.flatnonzero(chosen):
        bundles += int(k) - before != GRID
        before = int(k)
        for start, end in sweep.free(before):
            if end - start - sweep.hair + 1e-6 >= wish.least_part:
                free.append(_Row(before, start, end - sweep.hair, bundles - 1))
    parts: list[StripPart] = []
    for n in range(wish.count - copy):
        cuts = _join_one(free, wish.length, wish.least_part, wish.overlap, wish.most_parts)
        if cuts is None:
            break
        for number, (row, length) in enumerate(cuts):
            parts.append(sweep.part(wish, copy + n, number, row.start, row.row, length, row.bundle))
            free.remove(row)
            if row.end - row.start - length - sweep.hair >= wish.least_part:
                free.append(replace(row, start=row.start + length + sweep.hair))
    return parts


def _join_one(
    free: Sequence[_Row], length: float, least: float, overlap: float, most: int
) -> list[tuple[_Row, float]] | None:
    """Rows and lengths, longest first, that make up one strip; None if they do not suffice."""
    cuts: list[tuple[_Row, float]] = []
    need = length
    for row in sorted(free, key=lambda r: (r.start - r.end, r.row, r.start))[:most]:
        give = min(row.end - row.start, need)
        rest = need - give
        if rest > 1e-9 and rest + overlap < least:
            give = need - (least - overlap)
            rest = need - give
            if give < least:
                return None
        cuts.append((row, give))
        if rest <= 1e-9:
            return cuts
        need = rest + overlap
    return None


def _turned(x: float, y: float, angle: float) -> tuple[float, float]:
    turn = math.radians(angle)
    c, s = math.cos(turn), math.sin(turn)
    return c * x - s * y, s * x + c * y


def _part_edges(part: StripPart, angle: float) -> Any:
    """The four edges (4, 4) of a laid strip in the swept frame, to stand as a hole in the rows that follow.

    A hole that touches the area's edge or another strip is harmless: its own edges block its row, and the
    parity test beside it still tells inside from outside.
    """
    turn = math.radians(-angle)
    c, s = math.cos(turn), math.sin(turn)
    points = part.ring @ np.array([[c, s], [-s, c]])
    return np.hstack([points, np.roll(points, -1, axis=0)])
