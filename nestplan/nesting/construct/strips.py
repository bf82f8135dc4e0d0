"""Strips: straps and lace cut side by side from a straight edge.

Pure geometry. The usable area comes in as a polygon from which flaws and their margins are already taken away; strips
come out as rectangles that share their long cuts. Lace cut round and round from a disc is in `spirals`.
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

STEPS_PER_WIDTH = 8
"""Row starts are tried at every width / STEPS_PER_WIDTH; equal widths share the grid, so their rows line up."""
FAN = 9
"""Directions tried over the tolerance."""

LENGTH_SLACK = 1e-5
"""mm a strip may be longer than its interval: the kernel's allowance for rounding, far below the audit's."""
ROUNDING_GAP = 4e-4
"""mm left between strips that lie askew to the axes, since a plan's coordinates are rounded to 0.1 µm and two
long strips would else overlap by a sliver. Along an axis they round alike and need none."""
MOST_ORIGINS = 6
"""Lines that rows may be counted from: the area's lowest and highest points, and edges already cut."""


@dataclass(frozen=True)
class StripRequest:
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
    straight edges to be cut."""

    parts: tuple[StripPart, ...]
    missing: tuple[tuple[int, int], ...]
    bundles: int

    def laid(self, kind: int) -> int:
        """Strips of a kind that were laid, joined ones counted once."""
        return len({part.copy for part in self.parts if part.kind == kind})


def lay_strips(
    area: Any, requests: Iterable[StripRequest], *, direction: float = 0.0, tolerance: float = 0.0
) -> StripLayout:
    """The most strips, side by side with shared cuts, that `area` holds along one direction.

    `area` is a shapely Polygon or MultiPolygon, mm; `direction` an axis in degrees, `tolerance` how far the
    strips may turn from it. The sweep of a row is exact: its free intervals are what no edge of the area
    crosses over the row's whole width. Wide and long strips come first. If all are laid, the turn with the
    fewest straight edges, and nearest to `direction`, wins.
    """
    wanted = tuple(sorted(requests, key=lambda w: (-w.width, -w.length, w.kind)))
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


def _turns(area: Any, direction: float, tolerance: float) -> list[float]:
    """Directions to try: an even fan over the tolerance, and those of the area's long straight edges."""
    tolerance = min(tolerance, 90.0)
    if tolerance <= 0.0:
        return [direction]
    fan = {round(direction + t, 9) for t in np.linspace(-tolerance, tolerance, FAN)}
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
class _FreeRow:
    """A free interval of a row, less the gap for rounding."""

    row: int
    start: float
    end: float
    bundle: int


def _lay_along(area: Any, requests: Sequence[StripRequest], angle: float) -> StripLayout:
    """Lay every request in its turn along one direction; what is laid is taken from the rows that follow."""
    edges = _edges(area, angle)
    low = float(min(edges[:, 1].min(), edges[:, 3].min()))
    high = float(max(edges[:, 1].max(), edges[:, 3].max()))
    cut_lines = [low, high]
    rounding_gap = 0.0 if angle % 90.0 == 0.0 else ROUNDING_GAP
    parts: list[StripPart] = []
    missing: list[tuple[int, int]] = []
    bundles = 0
    for request in requests:
        best: list[StripPart] = []
        best_rank: tuple[int, ...] = (-request.count, 0)
        for origin in _origins(cut_lines, low, (request.width + rounding_gap) / STEPS_PER_WIDTH):
            laid = _lay_request(edges, origin, high, request, angle, rounding_gap)
            rank = (len({p.copy for p in laid}) - request.count, -len({p.bundle for p in laid}))
            if rank > best_rank:
                best, best_rank = laid, rank
        if best and request is not requests[-1]:
            edges = np.ascontiguousarray(np.vstack([edges, *(_part_edges(p, angle) for p in best)]))
            rows = sorted({round(_turned(p.x, p.y, -angle)[1], 6) for p in best})
            cut_lines += [rows[0] - rounding_gap / 2, rows[-1] + request.width + rounding_gap / 2]
        if best:
            parts += [replace(p, bundle=p.bundle + bundles) for p in best]
            bundles += len({p.bundle for p in best})
        if best_rank[0] < 0:
            missing.append((request.kind, -best_rank[0]))
    return StripLayout(tuple(parts), tuple(missing), bundles)


def _origins(cut_lines: Sequence[float], low: float, step: float) -> list[float]:
    """Row origins at or just above `low` from which the cut lines are whole steps away, each one once."""
    found: list[float] = []
    for line in cut_lines:
        shift = (line - low) % step
        shift = 0.0 if step - shift < 1e-7 else shift
        if len(found) < MOST_ORIGINS and all(abs(low + shift - other) > 1e-7 for other in found):
            found.append(low + shift)
    return found


def _lay_request(
    edges: Any, origin: float, high: float, request: StripRequest, angle: float, rounding_gap: float
) -> list[StripPart]:
    """Whole strips first, then joined ones from what the rows still hold."""
    sweep = _Sweep.over(edges, origin, high, request, angle, rounding_gap)
    if sweep.rows <= 0 or request.count <= 0:
        return []
    laid, bundles = _whole_strips(sweep, request)
    if len(laid) < request.count and request.least_part is not None:
        rest = np.ascontiguousarray(np.vstack([edges, *(_part_edges(p, angle) for p in laid)]))
        laid += _joined_strips(replace(sweep, edges=rest), request, bundles, len(laid))
    return laid


@dataclass(frozen=True, eq=False)
class _Sweep:
    """Rows of one width across an area turned by -angle: row k lies from origin + k * step up to `width` above
    it. `width` includes the gap for rounding."""

    edges: Any
    origin: float
    step: float
    rows: int
    width: float
    angle: float
    rounding_gap: float

    @classmethod
    def over(
        cls, edges: Any, origin: float, high: float, request: StripRequest, angle: float, rounding_gap: float
    ) -> _Sweep:
        width = request.width + rounding_gap
        rows = int((high - origin - width) / (width / STEPS_PER_WIDTH) + 1e-6) + 1
        return cls(edges, origin, width / STEPS_PER_WIDTH, rows, width, angle, rounding_gap)

    def counts(self, length: float) -> NDArray[np.int64]:
        counts = np.zeros(self.rows, np.int64)
        count_rows(
            self.edges, self.origin, self.step, self.rows, self.width, length + self.rounding_gap, counts
        )
        return counts

    def free(self, row: int) -> list[tuple[float, float]]:
        out = np.empty((self.edges.shape[0] + 1, 2), np.float64)
        low = self.origin + row * self.step
        found = free_intervals(self.edges, low, low + self.width, out)
        return [(float(a), float(b)) for a, b in out[:found]]

    def part(
        self, request: StripRequest, copy: int, part: int, start: float, row: int, length: float, bundle: int
    ) -> StripPart:
        low = self.origin + row * self.step
        x, y = _turned(start + self.rounding_gap / 2, low + self.rounding_gap / 2, self.angle)
        return StripPart(request.kind, copy, part, x, y, self.angle, length, request.width, bundle)


def _whole_strips(sweep: _Sweep, request: StripRequest) -> tuple[list[StripPart], int]:
    bundles = 0
    parts: list[StripPart] = []
    before = -(10**9)
    for row in _choose_rows(sweep.counts(request.length), request.count):
        if len(parts) >= request.count:
            break
        bundles += row - before != STEPS_PER_WIDTH
        before = row
        length = request.length + sweep.rounding_gap
        for start, end in sweep.free(row):
            for n in range(min(int((end - start + LENGTH_SLACK) / length), request.count - len(parts))):
                parts.append(
                    sweep.part(request, len(parts), 0, start + n * length, row, request.length, bundles - 1)
                )
    return parts, bundles


def _choose_rows(counts: NDArray[np.int64], wanted: int) -> list[int]:
    """Row starts for `wanted` strips: one unbroken stack with the fewest rows if there is one, from the
    outermost such place; else the stack that holds the most, thinned from its poorest rows."""
    chosen = np.zeros(counts.shape[0], np.bool_)
    most = int(best_stack(counts, STEPS_PER_WIDTH, chosen))
    if most >= wanted and (run := _shortest_run(counts, wanted)):
        return run
    total = most
    starts = [int(k) for k in np.flatnonzero(chosen)]
    for k in sorted(starts, key=lambda k: (counts[k], k)):
        if total - counts[k] < wanted:
            break
        total -= int(counts[k])
        starts.remove(k)
    return starts


def _shortest_run(counts: NDArray[np.int64], wanted: int) -> list[int]:
    """The unbroken stack of fewest rows that holds so many strips, of equals the outermost; empty if there is none."""
    last_row = counts.shape[0] - 1
    best: tuple[int, int, int] | None = None
    for offset in range(min(STEPS_PER_WIDTH, counts.shape[0])):
        own = counts[offset::STEPS_PER_WIDTH]
        below = np.concatenate(([0], np.cumsum(own)))
        empty = np.append(np.flatnonzero(own == 0), len(own))
        firsts = np.arange(len(own))
        ends = np.searchsorted(below, below[:-1] + wanted)
        holds = ends <= empty[np.searchsorted(empty, firsts)]
        starts, lengths = offset + STEPS_PER_WIDTH * firsts[holds], (ends - firsts)[holds]
        rims = np.minimum(starts, last_row - starts - STEPS_PER_WIDTH * (lengths - 1))
        for rank in zip(lengths.tolist(), rims.tolist(), starts.tolist(), strict=True):
            best = rank if best is None else min(best, rank)
    if best is None:
        return []
    length, _, first = best
    return list(range(first, first + STEPS_PER_WIDTH * length, STEPS_PER_WIDTH))


def _joined_strips(sweep: _Sweep, request: StripRequest, bundles: int, copy: int) -> list[StripPart]:
    """Strips joined from parts of at least the least length, cut from the longest free intervals left."""
    assert request.least_part is not None
    chosen = np.zeros(sweep.rows, np.bool_)
    best_stack(sweep.counts(request.least_part), STEPS_PER_WIDTH, chosen)
    free: list[_FreeRow] = []
    before = -(10**9)
    for k in np.flatnonzero(chosen):
        bundles += int(k) - before != STEPS_PER_WIDTH
        before = int(k)
        for start, end in sweep.free(before):
            if end - start - sweep.rounding_gap + 1e-6 >= request.least_part:
                free.append(_FreeRow(before, start, end - sweep.rounding_gap, bundles - 1))
    parts: list[StripPart] = []
    for n in range(request.count - copy):
        cuts = _join_one(free, request.length, request.least_part, request.overlap, request.most_parts)
        if cuts is None:
            break
        for number, (row, length) in enumerate(cuts):
            parts.append(sweep.part(request, copy + n, number, row.start, row.row, length, row.bundle))
            free.remove(row)
            if row.end - row.start - length - sweep.rounding_gap >= request.least_part:
                free.append(replace(row, start=row.start + length + sweep.rounding_gap))
    return parts


def _join_one(
    free: Sequence[_FreeRow], length: float, least: float, overlap: float, most: int
) -> list[tuple[_FreeRow, float]] | None:
    """Rows and lengths, longest first, that make up one strip; None if they do not suffice."""
    cuts: list[tuple[_FreeRow, float]] = []
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
