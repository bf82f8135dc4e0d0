"""Reshaping a ring by hand: its nearest spot, and points added, moved, taken out, smoothed and straightened.

What a person does to an outline with a pointer, as plain functions on arrays. Rings are (n, 2) float64, mm; a
reshaped ring is not checked: pass it to `make_ring` before it is used.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

__all__ = ["nearest_spot", "smoothed", "straightened", "thinned", "with_point", "without_points"]

Ring = npt.NDArray[np.float64]


def nearest_spot(ring: Ring, at: tuple[float, float]) -> tuple[int, tuple[float, float], float]:
    """The spot on the closed ring nearest to `at`: the number of its edge (edge i runs from point i to the
    next), the spot (x, y) in mm, and its distance in mm."""
    start = ring
    along = np.roll(ring, -1, axis=0) - start
    square = np.maximum((along**2).sum(axis=1), 1e-18)
    share = np.clip(((np.asarray(at) - start) * along).sum(axis=1) / square, 0.0, 1.0)
    spots = start + along * share[:, None]
    distance = np.hypot(*(spots - np.asarray(at)).T)
    edge = int(distance.argmin())
    return edge, (float(spots[edge, 0]), float(spots[edge, 1])), float(distance[edge])


def with_point(ring: Ring, edge: int, at: tuple[float, float]) -> Ring:
    """The ring with the point `at` put in after point `edge`."""
    return np.insert(ring, edge + 1, np.asarray(at, dtype=np.float64), axis=0)


def without_points(ring: Ring, points: set[int]) -> Ring:
    """The ring without the points of those numbers; the ring itself where fewer than three would stay."""
    kept = [number for number in range(len(ring)) if number not in points]
    return ring[kept] if len(kept) >= 3 else ring.copy()


def smoothed(ring: Ring, points: set[int] | None = None, *, passes: int = 2) -> Ring:
    """The ring with its points (or those named) drawn towards their neighbours, without shrinking it.

    Each pass is a step of Taubin (1995), a positive and a slightly larger negative weight in turn, which
    takes the jitter out of a hand-drawn line and leaves its size.
    """
    chosen = np.ones(len(ring), dtype=bool)
    if points is not None:
        chosen[:] = False
        chosen[sorted(points)] = True
    smooth = ring.copy()
    for _ in range(passes):
        for weight in (0.5, -0.53):
            middle = (np.roll(smooth, 1, axis=0) + np.roll(smooth, -1, axis=0)) / 2.0
            smooth[chosen] += weight * (middle - smooth)[chosen]
    return smooth


def straightened(ring: Ring, points: set[int]) -> Ring:
    """The ring with a straight edge between the first and the last of the named points.

    The longest way round between two named points that follow each other is left alone. With fewer than two
    points named the ring is given as it is.
    """
    if len(points) < 2:
        return ring.copy()
    named = sorted(points)
    edges = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
    spans = [
        edges[
            [number % len(ring) for number in range(one, other if other > one else other + len(ring))]
        ].sum()
        for one, other in zip(named, [*named[1:], named[0]], strict=True)
    ]
    widest = int(np.argmax(spans))
    first, last = named[(widest + 1) % len(named)], named[widest]
    between = {(first + step) % len(ring) for step in range(1, (last - first) % len(ring))}
    return without_points(ring, between)


def thinned(points: Ring, tolerance: float) -> Ring:
    """An open line (n, 2) with fewer points, nowhere more than `tolerance` mm off (Douglas and Peucker 1973)."""
    import shapely

    if len(points) < 3:
        return points.copy()
    line = shapely.simplify(shapely.LineString(points), tolerance)
    return np.asarray(line.coords, dtype=np.float64)
