"""A noisy closed edge as few straight lines and circular arcs: straight edges straight, arcs smooth, corners sharp.

Dynamic programming over places where one stretch may end and the next begin finds the division of the edge whose
stretches fit best for what they cost (Pei and Horng 1996, "Optimum approximation of digital planar curves using
circular arcs", Pattern Recognition 29, from memory); what a stretch costs beside its misfit is Schwarz's criterion
(1978, "Estimating the dimension of a model"), so that the noise of the edge is the only figure to give. Circles are
fitted by Taubin's method (1991) in the form of Chernov's Newton iteration.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["EdgeFit", "Stretch", "edge_noise", "fit_circle", "fit_edge"]

LEAST_NOISE = 0.03
"""Standard error, mm, below which no point of an edge is believed: what is cut by hand is no straighter."""
NEIGHBOURS_ALIKE = 3.0
"""How many points in a row share their error: blur and coding smear it."""
LONGEST_RADIUS, SHORTEST_RADIUS = 4000.0, 0.7
"""Radii of arcs, mm; flatter ones are lines, tighter ones corners."""
CORNER = 9.0
"""Stretches that meet at a larger angle, degrees, meet in a sharp corner."""
MOST_CANDIDATES = 220
"""Places considered as ends of stretches: the work grows with their square."""
NEARLY_SMOOTH = 32.0
"""Stretches that meet at a smaller angle, degrees, may belong to one smooth edge."""
SMOOTH_AT_COST = 0.06
"""How far beyond their noise points may stray, mm in the mean square, where that makes a joint smooth: a free curve
is no row of arcs."""
ALIKE_ARCS = 0.5
"""Arcs whose radii differ by less, as a share of the shorter, are made to meet smoothly at their joint."""
_ONE_LINE = 0.03
"""Sine of the angle below which two lines in a row are one straight part."""
_NUDGE = 1e-5
_TANGENT_WEIGHT = 300.0
"""How much harder tangency is held than a point."""
_TOUCH_REACH = 8.0
"""How far from the division found a smooth joint may lie, as a multiple of the blur."""
_CLOSE_TO_CORNER = 6.0
"""How far from the points a corner may lie, as a multiple of the blur."""


@dataclass(frozen=True, eq=False)
class Stretch:
    """A line, or an arc about `centre` (2,) with `radius` mm (None: a line through `centre` along `way`).

    It holds the points `first` to `last` (last may pass the end of the ring and count on from its start).
    """

    first: int
    last: int
    centre: Floats
    way: Floats
    radius: float | None

    def nearest(self, point: Floats) -> Floats:
        """The place (2,) on the whole line or circle that is nearest to `point`."""
        if self.radius is None:
            return np.asarray(self.centre + self.way * float(self.way @ (point - self.centre)))
        off = point - self.centre
        return np.asarray(self.centre + off * (self.radius / max(float(np.hypot(*off)), 1e-9)))

    def tangent(self, point: Floats, along: Floats) -> Floats:
        """Unit tangent (2,) near `point`, turned to run with `along`."""
        if self.radius is None:
            way = self.way
        else:
            off = point - self.centre
            way = np.array([-off[1], off[0]]) / max(float(np.hypot(*off)), 1e-9)
        return np.asarray(way if float(way @ along) >= 0 else -way)


@dataclass(frozen=True, eq=False)
class EdgeFit:
    """The edge as drawn anew: `ring` (n, 2), mm, `corners` (m, 2) where it is sharp, and its `stretches`, whose numbers
    count the points given from the one numbered `start` on."""

    ring: Floats
    corners: Floats
    stretches: tuple[Stretch, ...]
    start: int = 0

    def straight_runs(self, count: int, trim: int) -> list[NDArray[np.intp]]:
        """Numbers of the given points (of `count`) along each straight part, `trim` left out at both ends; lines that
        go on nearly in one direction are one part."""
        runs: list[list[int]] = []
        way = np.zeros(2)
        for stretch in self.stretches:
            if stretch.radius is not None:
                way = np.zeros(2)
                continue
            if runs and abs(float(_cross(way, stretch.way))) < _ONE_LINE and way.any():
                runs[-1][1] = stretch.last
            else:
                runs.append([stretch.first, stretch.last])
            way = stretch.way
        return [
            (np.arange(first + trim, last - trim + 1) + self.start) % count
            for first, last in runs
            if last - first > 4 * trim
        ]


def edge_noise(points: Floats) -> float:
    """Standard error (mm) of points (n, 2) along a closed edge: how they stray from the middle of their neighbours.

    The median over the ring, so that corners do not count.
    """
    offsets = np.array([-5, -4, -3, 3, 4, 5])
    n = len(points)
    around = points[(np.arange(n)[:, None] + offsets) % n]
    middle = around.mean(axis=1)
    way = points[(np.arange(n) + 4) % n] - points[np.arange(n) - 4]
    norm = np.maximum(np.hypot(*way.T), 1e-9)
    off = points - middle
    away = np.abs(off[:, 0] * way[:, 1] - off[:, 1] * way[:, 0]) / norm
    # The middle of six neighbours has a sixth of a point's variance.
    return max(float(np.median(away)) * 1.4826 / float(np.sqrt(7 / 6)), LEAST_NOISE)


def fit_circle(points: Floats, weights: Floats | None = None) -> tuple[Floats, float]:
    """Centre (2,) and radius of the circle nearest to points (n, 2) by Taubin's fit."""
    middle = points.mean(axis=0)
    moments = _Moments.of(points - middle, weights)
    cx, cy, radius, _ = moments.circles(np.array([0]), np.array([len(points)]))
    return middle + np.array([cx[0], cy[0]]), float(radius[0])


def fit_edge(points: Floats, *, noise: float, blur: float, chord: float = 0.05) -> EdgeFit:
    """Lines and arcs through noisy points (n, 2), mm, along a closed edge at equal steps.

    `noise` is a point's standard error, mm; corners are rounded within `blur` mm and sharpened again. Arcs become
    chords that stray by at most `chord` mm.
    """
    noise = max(noise, LEAST_NOISE)
    step = float(np.median(np.hypot(*np.diff(points, axis=0).T)))
    trim = max(1, round(blur / max(step, 1e-6)))
    whole = _whole_circle(points, noise)
    if whole is not None:
        return _circle_fit(*whole, len(points), chord)
    start = _sharpest(points, max(2, 2 * trim))
    breaks = _divided(np.roll(points, -start, axis=0), noise, trim)
    if len(breaks) > 2:
        # A start in the middle of a stretch costs a break; the second round begins at a break that was wanted.
        again = int(breaks[len(breaks) // 2])
        start = (start + again) % len(points)
        breaks = _divided(np.roll(points, -start, axis=0), noise, trim)
    turned = np.roll(points, -start, axis=0)
    moments = _Moments.of(np.vstack([turned, turned]) - turned.mean(axis=0), None)
    breaks = _adjusted(breaks, moments, len(points), noise, trim)
    stretches = _stretches(breaks, moments, turned, noise, trim)
    stretches, smooth = _made_tangent(stretches, turned, noise, trim)
    return replace(_joined(stretches, turned, blur, chord, smooth), start=start)


@dataclass(frozen=True, eq=False)
class _Moments:
    """Running sums (n + 1, 10) of powers of points, so that any stretch's fit takes no loop: 1, x, y, xx, yy, xy, xz,
    yz, zz, z with z = xx + yy."""

    sums: NDArray[np.longdouble]

    @classmethod
    def of(cls, points: Floats, weights: Floats | None) -> _Moments:
        x, y = points.astype(np.longdouble).T
        z = x * x + y * y
        w = np.ones(len(points)) if weights is None else weights
        rows = np.column_stack([np.ones_like(x), x, y, x * x, y * y, x * y, x * z, y * z, z * z, z])
        sums = np.zeros((len(points) + 1, rows.shape[1]), dtype=np.longdouble)
        np.cumsum(rows * w[:, None], axis=0, out=sums[1:])
        return cls(sums)

    def _centred(self, first: NDArray[np.intp], stop: NDArray[np.intp]) -> tuple[Floats, ...]:
        """Count, means and the central moments Mxx, Myy, Mxy, Mxz, Myz, Mzz of each stretch."""
        count, x, y, xx, yy, xy, xz, yz, zz, z = (self.sums[stop] - self.sums[first]).T
        n = np.maximum(count, 1e-9)
        a, b = x / n, y / n
        xx, yy, xy = xx / n - a * a, yy / n - b * b, xy / n - a * b
        # z about the mean: z' = z - 2 a x - 2 b y + a² + b².
        raw_xx, raw_yy, raw_xy, k = xx + a * a, yy + b * b, xy + a * b, a * a + b * b
        z, xz, yz, zz = z / n, xz / n, yz / n, zz / n
        xz1 = xz - 2 * a * raw_xx - 2 * b * raw_xy + k * a
        yz1 = yz - 2 * a * raw_xy - 2 * b * raw_yy + k * b
        z1 = z - 2 * a * a - 2 * b * b + k
        zz1 = (
            zz
            + 4 * a * a * raw_xx
            + 4 * b * b * raw_yy
            + k * k
            - 4 * a * xz
            - 4 * b * yz
            + 2 * k * z
            + 8 * a * b * raw_xy
            - 4 * k * a * a
            - 4 * k * b * b
        )
        out = (count, a, b, xx, yy, xy, xz1 - a * z1, yz1 - b * z1, zz1)
        return tuple(np.asarray(each, dtype=np.float64) for each in out)

    def lines(self, first: NDArray[np.intp], stop: NDArray[np.intp]) -> tuple[Floats, Floats, Floats, Floats]:
        """Middles x, y, direction (radians) and sum of squared distances of the best lines."""
        n, a, b, xx, yy, xy, *_ = self._centred(first, stop)
        half = np.hypot((xx - yy) / 2, xy)
        misfit = np.maximum((xx + yy) / 2 - half, 0.0) * n
        return a, b, np.arctan2(2 * xy, xx - yy) / 2, misfit

    def circles(
        self, first: NDArray[np.intp], stop: NDArray[np.intp]
    ) -> tuple[Floats, Floats, Floats, Floats]:
        """Centres x, y, radii and sums of squared distances (to first order) of the best circles."""
        n, a, b, xx, yy, xy, xz, yz, zz = self._centred(first, stop)
        z = xx + yy
        cov, var = xx * yy - xy * xy, zz - z * z
        a3, a2 = 4 * z, -3 * z * z - zz
        a1 = var * z + 4 * cov * z - xz * xz - yz * yz
        a0 = xz * (xz * yy - yz * xy) + yz * (yz * xx - xz * xy) - var * cov
        root = np.zeros_like(z)
        with np.errstate(all="ignore"):
            for _ in range(8):
                value = a0 + root * (a1 + root * (a2 + root * a3))
                slope = a1 + root * (2 * a2 + root * 3 * a3)
                root = np.where(np.isfinite(value / slope), root - value / slope, root)
            det = root * root - root * z + cov
            cx = (xz * (yy - root) - yz * xy) / det / 2
            cy = (yz * (xx - root) - xz * xy) / det / 2
            radius = np.sqrt(cx * cx + cy * cy + z)
            k = -z
            square = (
                zz + 4 * cx * cx * xx + 4 * cy * cy * yy + k * k
                - 4 * cx * xz - 4 * cy * yz + 8 * cx * cy * xy + 2 * k * z
            )  # fmt: skip
            misfit = n * np.maximum(square, 0.0) / (4 * radius * radius)
        wrong = ~(np.isfinite(misfit) & (radius >= SHORTEST_RADIUS) & (radius <= LONGEST_RADIUS))
        return cx + a, cy + b, np.where(wrong, 1.0, radius), np.where(wrong, np.inf, misfit)


def _prices(count: int) -> tuple[float, float]:
    """What a line and an arc cost beside their misfit: three and four figures (one of them its end) each."""
    each = float(np.log(max(count / NEIGHBOURS_ALIKE, 8.0)))
    return 3 * each, 4 * each


def _costs(
    moments: _Moments, first: NDArray[np.intp], stop: NDArray[np.intp], noise: float, trim: int, count: int
) -> tuple[Floats, NDArray[np.bool_]]:
    """Costs of stretches and whether an arc is cheaper: misfit in standard errors and the price of its figures.

    Points within `trim` of either end are rounded by blur and do not count, where enough are left.
    """
    cut = np.where(stop - first > 5 * trim, trim, np.maximum((stop - first) // 5, 0))
    scale = 1.0 / (noise * noise * NEIGHBOURS_ALIKE)
    line, arc = _prices(count)
    lines = moments.lines(first + cut, stop - cut)[3] * scale + line
    arcs = moments.circles(first + cut, stop - cut)[3] * scale + arc
    arcs = np.where(stop - first - 2 * cut < 6, np.inf, arcs)
    return np.minimum(lines, arcs), arcs < lines


def _whole_circle(points: Floats, noise: float) -> tuple[Floats, float] | None:
    centre, radius = fit_circle(points)
    away = np.abs(np.hypot(*(points - centre).T) - radius)
    smooth = np.convolve(np.tile(away, 3), np.ones(9) / 9, mode="same")[len(away) : 2 * len(away)]
    return (
        (centre, radius)
        if float(np.sqrt((away**2).mean())) < 1.6 * noise + 0.02 and smooth.max() < 0.3
        else None
    )


def _circle_fit(centre: Floats, radius: float, count: int, chord: float) -> EdgeFit:
    steps = max(16, int(np.ceil(np.pi / np.arccos(max(1 - chord / radius, 0.5)))))
    angle = np.arange(steps) * 2 * np.pi / steps
    ring = centre + radius * np.column_stack([np.cos(angle), np.sin(angle)])
    return EdgeFit(ring, np.empty((0, 2)), (Stretch(0, count, centre, np.zeros(2), radius),))


def _sharpest(points: Floats, reach: int) -> int:
    before, after = points - np.roll(points, reach, axis=0), np.roll(points, -reach, axis=0) - points
    turn = np.abs(np.arctan2(_cross(before, after), (before * after).sum(axis=1)))
    return int(np.argmax(turn))


def _cross(a: Floats, b: Floats) -> Floats:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def _candidates(points: Floats, noise: float) -> NDArray[np.intp]:
    """Indices where stretches may end: the corners of a polygon near the points, and every so often between."""
    import shapely

    closed = np.vstack([points, points[:1]])
    tolerance = noise
    while True:
        kept = shapely.get_coordinates(
            shapely.simplify(shapely.linestrings(closed), tolerance, preserve_topology=False)
        )
        if len(kept) <= MOST_CANDIDATES * 0.8:
            break
        tolerance *= 1.3
    lookup = {(float(x), float(y)): k for k, (x, y) in reversed(list(enumerate(closed)))}
    found = {lookup[float(x), float(y)] for x, y in kept}
    spaced = np.linspace(0, len(points), max(8, MOST_CANDIDATES // 5), endpoint=False).astype(int)
    return np.array(sorted({0, len(points)} | (found - {0}) | set(spaced.tolist())), dtype=np.intp)


def _divided(points: Floats, noise: float, trim: int) -> NDArray[np.intp]:
    """Indices of the ends of the best stretches of an open chain that begins and ends at the ring's first point."""
    at = _candidates(points, noise)
    moments = _Moments.of(np.vstack([points, points[:1]]) - points.mean(axis=0), None)
    low, high = np.triu_indices(len(at), k=1)
    cost, _ = _costs(moments, at[low], at[high] + 1, noise, trim, len(points))
    table = np.full((len(at), len(at)), np.inf)
    table[low, high] = cost
    best = np.zeros(len(at))
    back = np.zeros(len(at), dtype=np.intp)
    for k in range(1, len(at)):
        trial = best[:k] + table[:k, k]
        back[k] = int(np.argmin(trial))
        best[k] = trial[back[k]]
    ends = [len(at) - 1]
    while ends[-1] > 0:
        ends.append(int(back[ends[-1]]))
    return at[ends[::-1]]


def _adjusted(
    breaks: NDArray[np.intp], moments: _Moments, count: int, noise: float, trim: int
) -> NDArray[np.intp]:
    """The ends moved to where the two stretches beside each fit best."""
    ends = breaks[:-1].astype(np.intp)
    many = len(ends)
    if many < 2:
        return np.asarray(breaks)
    for _ in range(3):
        for k in range(many):
            before = ends[k - 1] - (count if k == 0 else 0)
            after = ends[(k + 1) % many] + (count if k == many - 1 else 0)
            reach = min(12 + 2 * trim, (after - before) // 3)
            here = np.arange(max(before + 3, ends[k] - reach), min(after - 3, ends[k] + reach) + 1)
            if len(here) < 2:
                continue
            shift = count if before < 0 else 0
            wrap = count if after + shift > 2 * count else 0
            low = np.full(len(here), before + shift - wrap)
            cost = _costs(moments, low, here + shift - wrap + 1, noise, trim, count)[0]
            cost += _costs(
                moments, here + shift - wrap, np.full(len(here), after + shift - wrap + 1), noise, trim, count
            )[0]
            ends[k] = here[int(np.argmin(cost))]
    return np.asarray(np.append(ends, ends[0] + count))


def _stretches(
    breaks: NDArray[np.intp], moments: _Moments, points: Floats, noise: float, trim: int
) -> list[Stretch]:
    count, middle = len(points), points.mean(axis=0)
    found = []
    for first, last in pairwise(breaks.tolist()):
        turn = count if first < 0 else 0
        low, high = np.array([first + turn]), np.array([last + turn + 1])
        _, bent = _costs(moments, low, high, noise, trim, count)
        cut = np.where(high - low > 5 * trim, trim, np.maximum((high - low) // 5, 0))
        if bool(bent[0]):
            x, y, radius, _ = moments.circles(low + cut, high - cut)
            found.append(Stretch(first, last, middle + np.array([x[0], y[0]]), np.zeros(2), float(radius[0])))
        else:
            x, y, angle, _ = moments.lines(low + cut, high - cut)
            way = np.array([np.cos(angle[0]), np.sin(angle[0])])
            found.append(Stretch(first, last, middle + np.array([x[0], y[0]]), way, None))
    return found


def _made_tangent(
    stretches: list[Stretch], points: Floats, noise: float, trim: int
) -> tuple[list[Stretch], set[int]]:
    """The stretches fitted together once more so that those that nearly touch in one direction do, and the numbers of
    the joints before them that are smooth now.

    Gauss-Newton on the distances of the points, with tangency as an equation held hard. A joint stays as it was where
    points would stray by more than `SMOOTH_AT_COST` beyond their noise.
    """
    count, many = len(points), len(stretches)
    if many < 2:
        return stretches, set()
    held = _held_points(stretches, points, trim)
    scale = 1.0 / (noise * np.sqrt(NEIGHBOURS_ALIKE))
    joints = {
        k
        for k, after in enumerate(stretches)
        if (after.radius, stretches[k - 1].radius) != (None, None)
        and _turn(stretches[k - 1], after, points[after.first % count], _along(points, after.first))
        < NEARLY_SMOOTH
    }
    most = max(1.5 * noise, noise + SMOOTH_AT_COST)
    while joints:
        fitted = _fitted_tangent(stretches, held, sorted(joints), points, scale)
        stray = [
            float(np.sqrt((_away(each, some) ** 2).mean())) for each, some in zip(fitted, held, strict=True)
        ]
        cost = {k: max(stray[k], stray[k - 1]) for k in joints}
        worst = max(cost, key=lambda k: cost[k])
        if cost[worst] <= most:
            return fitted, joints
        joints.discard(worst)
    return stretches, set()


def _along(points: Floats, at: int) -> Floats:
    return np.asarray(points[(at + 2) % len(points)] - points[(at - 2) % len(points)])


def _turn(before: Stretch, after: Stretch, spot: Floats, along: Floats) -> float:
    """The angle between two stretches near `spot`, degrees."""
    first = before.tangent(before.nearest(spot), along)
    second = after.tangent(after.nearest(spot), along)
    return abs(float(np.degrees(np.arctan2(_cross(first, second), first @ second))))


def _held_points(stretches: list[Stretch], points: Floats, trim: int) -> list[Floats]:
    """Up to forty points of each stretch, those near its ends left out."""
    held = []
    for each in stretches:
        size = each.last - each.first
        cut = trim if size > 5 * trim else max(size // 5, 0)
        at = (
            np.linspace(each.first + cut, each.last - cut, min(40, max(size - 2 * cut, 3)))
            .round()
            .astype(int)
        )
        held.append(points[at % len(points)])
    return held


def _away(stretch: Stretch, points: Floats) -> Floats:
    """Signed distances (n,) of points from the whole line or circle."""
    off = points - stretch.centre
    if stretch.radius is None:
        return np.asarray(off @ np.array([-stretch.way[1], stretch.way[0]]))
    return np.asarray(np.hypot(*off.T) - stretch.radius)


def _changed(stretch: Stretch, by: Floats) -> Stretch:
    """The stretch with its figures changed: a line turned and shifted, a circle moved and grown."""
    if stretch.radius is None:
        cos, sin = np.cos(by[0]), np.sin(by[0])
        way = np.array(
            [stretch.way[0] * cos - stretch.way[1] * sin, stretch.way[0] * sin + stretch.way[1] * cos]
        )
        centre = stretch.centre + by[1] * np.array([-stretch.way[1], stretch.way[0]])
        return Stretch(stretch.first, stretch.last, centre, way, None)
    return Stretch(
        stretch.first, stretch.last, stretch.centre + by[:2], stretch.way, float(stretch.radius + by[2])
    )


def _gap(before: Stretch, after: Stretch, spot: Floats, along: Floats) -> Floats:
    """How far (mm) two stretches are from touching in one direction near `spot`: one figure, or two for arcs so alike
    that they might touch anywhere."""
    if before.radius is None or after.radius is None:
        line, circle = (before, after) if before.radius is None else (after, before)
        assert circle.radius is not None
        return np.array([abs(float(_away(line, circle.centre[None])[0])) - circle.radius])
    inside = float((spot - before.centre) @ (spot - after.centre)) > 0
    if inside and abs(before.radius - after.radius) < ALIKE_ARCS * min(before.radius, after.radius):
        one, other = before.nearest(spot), after.nearest(spot)
        first, second = before.tangent(one, along), after.tangent(other, along)
        across = np.array([-first[1], first[0]])
        return np.array([float((other - one) @ across), 0.2 * before.radius * float(_cross(first, second))])
    apart = float(np.hypot(*(after.centre - before.centre)))
    return np.array([apart - (abs(before.radius - after.radius) if inside else before.radius + after.radius)])


def _fitted_tangent(
    stretches: list[Stretch], held: list[Floats], joints: list[int], points: Floats, scale: float
) -> list[Stretch]:
    now = list(stretches)
    sizes = [2 if each.radius is None else 3 for each in stretches]
    starts = np.concatenate([[0], np.cumsum(sizes)])
    places = {
        k: (points[stretches[k].first % len(points)], _along(points, stretches[k].first)) for k in joints
    }
    for _ in range(6):
        rows, values = [], []
        for k, (each, some) in enumerate(zip(now, held, strict=True)):
            weight = scale * float(np.sqrt(max(each.last - each.first, 1) / len(some)))
            base = _away(each, some)
            block = np.zeros((len(some), starts[-1]))
            for j in range(sizes[k]):
                block[:, starts[k] + j] = (_away(_changed(each, _nudge(sizes[k], j)), some) - base) / _NUDGE
            rows.append(block * weight)
            values.append(base * weight)
        for k in joints:
            base, slopes = _gap_slopes(now[k - 1], now[k], *places[k])
            block = np.zeros((len(base), starts[-1]))
            for number, slope in zip(((k - 1) % len(now), k), slopes, strict=True):
                block[:, starts[number] : starts[number + 1]] += slope
            rows.append(block * _TANGENT_WEIGHT * scale)
            values.append(base * _TANGENT_WEIGHT * scale)
        matrix, wanted = np.vstack(rows), np.concatenate(values)
        normal = matrix.T @ matrix
        normal[np.diag_indices_from(normal)] *= 1 + 1e-6
        change: Floats = np.linalg.solve(normal + 1e-9 * np.eye(len(normal)), -matrix.T @ wanted).astype(
            np.float64
        )
        now = [_changed(each, change[starts[k] : starts[k + 1]]) for k, each in enumerate(now)]
        if any(each.radius is not None and each.radius <= SHORTEST_RADIUS / 2 for each in now):
            return stretches
        if float(np.abs(change).max()) < 1e-6:
            break
    return now


def _gap_slopes(
    before: Stretch, after: Stretch, spot: Floats, along: Floats
) -> tuple[Floats, tuple[Floats, Floats]]:
    """The gap between two stretches, (m,), and how it changes with the figures of each, (m, 2 or 3)."""
    base = _gap(before, after, spot, along)
    slopes = []
    for each in (before, after):
        size = 2 if each.radius is None else 3
        slope = np.zeros((len(base), size))
        for j in range(size):
            moved = _changed(each, _nudge(size, j))
            shifted = _gap(moved, after, spot, along) if each is before else _gap(before, moved, spot, along)
            if len(shifted) == len(base):
                slope[:, j] = (shifted - base) / _NUDGE
        slopes.append(slope)
    return base, (slopes[0], slopes[1])


def _nudge(size: int, which: int) -> Floats:
    step = np.zeros(size)
    step[which] = _NUDGE
    return step


def _touch(before: Stretch, after: Stretch, spot: Floats) -> Floats:
    """Where two stretches that touch in one direction do so."""
    if before.radius is None:
        return before.nearest(after.centre)
    if after.radius is None:
        return after.nearest(before.centre)
    if abs(before.radius - after.radius) < ALIKE_ARCS * min(before.radius, after.radius):
        return np.asarray((before.nearest(spot) + after.nearest(spot)) / 2)
    one = before.nearest(after.centre)
    other = 2 * before.centre - one
    return one if float(np.hypot(*(one - spot))) < float(np.hypot(*(other - spot))) else np.asarray(other)


def _joined(stretches: list[Stretch], points: Floats, blur: float, chord: float, smooth: set[int]) -> EdgeFit:
    """The ring drawn from its stretches: corners where they cross, smooth joints half-way between them."""
    count = len(points)
    joints, sharp = [], []
    for k, after in enumerate(stretches):
        before = stretches[k - 1]
        spot = points[after.first % count]
        joint, corner = _joint(before, after, spot, _along(points, after.first), blur, smooth=k in smooth)
        joints.append(joint)
        if corner:
            sharp.append(joint)
    pieces = []
    for k, stretch in enumerate(stretches):
        start, end = joints[k], joints[(k + 1) % len(joints)]
        pieces.append(_drawn(stretch, start, end, points, chord))
    ring = np.vstack(pieces)
    return EdgeFit(ring, np.array(sharp).reshape(-1, 2), tuple(stretches))


def _joint(
    before: Stretch, after: Stretch, spot: Floats, along: Floats, blur: float, *, smooth: bool
) -> tuple[Floats, bool]:
    """Where two stretches meet near `spot`, and whether in a corner."""
    one, other = before.nearest(spot), after.nearest(spot)
    if smooth:
        touch = _touch(before, after, spot)
        return (touch if float(np.hypot(*(touch - spot))) < _TOUCH_REACH * blur else (one + other) / 2), False
    turn = _turn(before, after, spot, along)
    if turn > CORNER and before is not after:
        crossing = _crossing(before, after, spot)
        if crossing is not None and float(np.hypot(*(crossing - spot))) < _CLOSE_TO_CORNER * blur:
            return crossing, True
    return (one + other) / 2, turn > CORNER


def _crossing(a: Stretch, b: Stretch, spot: Floats) -> Floats | None:
    """The crossing of two stretches nearest to `spot`, by Newton's method on their distances."""
    at = spot.copy()
    for _ in range(12):
        rows, values = [], []
        for each in (a, b):
            if each.radius is None:
                normal = np.array([-each.way[1], each.way[0]])
                value = float(normal @ (at - each.centre))
            else:
                off = at - each.centre
                length = max(float(np.hypot(*off)), 1e-9)
                normal, value = off / length, length - each.radius
            rows.append(normal)
            values.append(value)
        matrix = np.array(rows)
        if abs(float(np.linalg.det(matrix))) < 0.02:
            return None
        step = np.linalg.solve(matrix, np.array(values))
        at = at - step
        if float(np.hypot(*step)) < 1e-9:
            break
    return at


def _drawn(stretch: Stretch, start: Floats, end: Floats, points: Floats, chord: float) -> Floats:
    """Points (k, 2) from `start` up to, not including, `end` along a stretch."""
    if stretch.radius is None:
        return start[None]
    middle = points[((stretch.first + stretch.last) // 2) % len(points)]
    top = stretch.nearest(middle)
    circle = _circle_through(start, top, end)
    if circle is None:
        return start[None]
    centre, radius = circle
    first, half, last = (np.arctan2(*(each - centre)[::-1]) for each in (start, top, end))
    onward = (half - first) % (2 * np.pi)
    sweep = (last - first) % (2 * np.pi)
    if onward > sweep:
        sweep -= 2 * np.pi
    turn = 2 * np.arccos(max(1 - chord / max(radius, chord), 0.3))
    steps = max(1, int(np.ceil(abs(sweep) / turn)))
    angle = first + sweep * np.arange(steps) / steps
    drawn = centre + radius * np.column_stack([np.cos(angle), np.sin(angle)])
    drawn[0] = start
    return np.asarray(drawn)


def _circle_through(a: Floats, b: Floats, c: Floats) -> tuple[Floats, float] | None:
    matrix = 2 * np.array([b - a, c - a])
    if abs(float(np.linalg.det(matrix))) < 1e-6:
        return None
    off = np.linalg.solve(matrix, np.array([(b - a) @ (b - a), (c - a) @ (c - a)]))
    radius = float(np.hypot(*off))
    return (a + off, radius) if radius < 10 * LONGEST_RADIUS else None
