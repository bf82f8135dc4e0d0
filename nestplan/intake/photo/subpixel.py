"""Four corners to a fraction of a pixel: edge profiles across the sides of an even board, and the crossings of
those sides.

Not here: where in the picture a board might be (quadrilaterals), which corner is which (reference).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from nestplan.intake.photo.reading import Photo

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

__all__ = ["LEAST_STANDARD_ERROR", "refine_corners"]

SHIFT_LEVELS = 6.0
"""Levels of grey that shadow and shine beside a board's edge come to (on rendered photographs)."""
LEAST_STANDARD_ERROR = 0.12
"""No corner is believed to better than this many pixels, whatever the line fits say: shadow beside the board, white
cut off and the coder shift edges by 0.05 to 0.2 (root mean square 0.11 over 23 sheets on rendered photographs)."""
_PROFILE_STEP = 0.25
_SEGMENTS = 40
"""Edge profiles across a side: pixels between samples, and how many segments at most a side is averaged in: few enough
that noise cancels in each, so many that a stone of the sheet's own colour spoils few of them (turns of 800 sides on
rendered photographs, pixels: on gravel 0.12 with 16 and 0.08 with 40, on a checked floor 0.13 and 0.09)."""
_EDGE_WIDTH = 2.2
"""About how far (pixels) a blurred edge's rise reaches to either side."""
FINAL_REACH, FINAL_COLOUR_VARIANCE = 4.0, 300.0
"""Profiles this short (pixels) are the last ones; variance of a colour that is always there in them
(corners on rendered photographs were best, by a sixth, at 300)."""


def refine_corners(
    photo: Photo, corners: ArrayLike, *, reach: float | None = None
) -> tuple[Floats, float, tuple[Floats, ...]] | None:
    """Corners (4, 2) moved onto the crossings of the straight sides near them, their standard error in pixels,
    and side points.

    Each side is crossed by up to 360 profiles: an edge lies where a profile across it leaves the board's own
    level by half the step. None if a side shows no step. `reach`: how far (pixels) the given corners may be
    off.
    """
    quad = np.asarray(corners, dtype=np.float64)
    lengths = np.hypot(*(np.roll(quad, -1, axis=0) - quad).T)
    first_reach = float(np.clip(0.08 * lengths.min(), 4.0, 40.0)) if reach is None else reach
    standard_error = 1.0
    sides: list[Floats] = []
    found: tuple[Floats, float, list[Floats]] | None = None
    for across in (first_reach, max(4.0, first_reach / 2), max(4.0, first_reach / 4), 4.0, 4.0):
        found = _fit_sides(photo, quad, across)
        # A board near the picture's border leaves no room for long profiles; short ones may still serve.
        if found is not None:
            quad, standard_error, sides = found
    if found is None:
        return None
    return quad, max(standard_error, LEAST_STANDARD_ERROR), tuple(sides)


def _fit_sides(photo: Photo, quad: Floats, across: float) -> tuple[Floats, float, list[Floats]] | None:
    """Corners, their standard error and side points from profiles across each side of `quad`, `across` pixels
    deep.
    """
    patch, corner = _cropped_patch(photo, quad, across)
    if patch is None:
        return None
    scalar = _discriminant_picture(patch, quad - corner, across)
    sides, lines, residuals, steps = [], [], [], []
    for k in range(4):
        points, step = _edge_points(scalar, quad[k] - corner, quad[(k + 1) % 4] - corner, across)
        steps.append(step)
        if len(points) < 6:
            return None
        normal, offset, spread, kept = _robust_line(points)
        if len(kept) < 0.4 * len(points):
            return None
        lines.append((normal, offset))
        # A corner lies at the end of its side, where a fitted line is twice as uncertain as in its middle.
        residuals.append(2 * spread / np.sqrt(len(kept)))
        sides.append(kept + corner)
    crossed = [_intersection(lines[k - 1], lines[k]) for k in range(4)]
    corners = [point for point in crossed if point is not None]
    if len(corners) < 4:
        return None
    # Where board and floor hardly differ, shadow and shine shift the edge more than noise tells.
    shifted = SHIFT_LEVELS / max(min(steps), 1.0)
    return np.array(corners) + corner, max(float(np.sqrt(np.mean(np.square(residuals)))), shifted), sides


def _cropped_patch(photo: Photo, quad: Floats, across: float) -> tuple[NDArray[np.float32] | None, Floats]:
    low = np.maximum(np.floor(quad.min(axis=0) - 3 * across - 3), 0).astype(int)
    high = np.minimum(np.ceil(quad.max(axis=0) + 3 * across + 4), photo.size).astype(int)
    if (high - low < 8).any():
        return None, low.astype(np.float64)
    return photo.image[low[1] : high[1], low[0] : high[0]].astype(np.float32), low.astype(np.float64)


def _discriminant_picture(patch: NDArray[np.float32], quad: Floats, across: float) -> NDArray[np.float32]:
    """The patch seen along the one mixture of its colours that best parts the board from the floor round it.

    For the last, short profiles the floor is read right beside the board, where its shadow lies, and colours
    are told apart mostly by plain difference: tints are coarse in a JPEG, and a mixture that leans on them is
    crooked.
    """
    middle = quad.mean(axis=0)
    last = across <= FINAL_REACH
    inner = middle + (quad - middle) * (0.93 if last else 0.85)
    lengths = float(np.hypot(*(quad - middle).T).mean())
    beyond = (3.1, 4.4, 5.6) if last else (across + 2, 2.5 * across + 4)
    rings = [_points_along(middle + (quad - middle) * (1 + out / lengths)) for out in beyond]
    inside = _colours_at(patch, _grid_inside(inner))
    outside = _colours_at(patch, np.vstack(rings))
    difference = inside.mean(axis=0) - outside.mean(axis=0)
    coarse = FINAL_COLOUR_VARIANCE if last else 9.0
    spread = np.cov(inside.T) + 0.5 * np.cov(outside.T) + coarse * np.eye(3)
    way = np.linalg.solve(spread, difference)
    norm = float(np.abs(way).sum()) or 1.0
    return np.asarray(patch @ (way / norm).astype(np.float32))


def _grid_inside(quad: Floats) -> Floats:
    u, v = np.meshgrid(np.linspace(0.05, 0.95, 20), np.linspace(0.05, 0.95, 20))
    u, v = u.ravel()[:, None], v.ravel()[:, None]
    return np.asarray((1 - v) * ((1 - u) * quad[0] + u * quad[1]) + v * ((1 - u) * quad[3] + u * quad[2]))


def _points_along(quad: Floats) -> Floats:
    t = np.linspace(0, 1, 60, endpoint=False)[:, None]
    return np.vstack([quad[k] + t * (quad[(k + 1) % 4] - quad[k]) for k in range(4)])


def _colours_at(patch: NDArray[np.float32], points: Floats) -> Floats:
    cells = np.rint(points).astype(int)
    keep = ((cells >= 0) & (cells < [patch.shape[1], patch.shape[0]])).all(axis=1)
    cells = cells[keep]
    return np.asarray(patch[cells[:, 1], cells[:, 0]], dtype=np.float64)


def _edge_profiles(
    scalar: NDArray[np.float32], start: Floats, end: Floats, across: float
) -> tuple[Floats, Floats, NDArray[np.float32]]:
    """Places along a side (n,), depths outward (m,), and the picture there (n, m); pixels."""
    from scipy.ndimage import map_coordinates

    length = float(np.hypot(*(end - start)))
    way = (end - start) / length
    # Corners run counter-clockwise as people see them (y up), so the outside is to the right: (-y, x) with y down.
    outward = np.array([-way[1], way[0]])
    count = int(np.clip(length, 36, 360))
    along = np.linspace(0.05, 0.95, count) * length
    depth = np.arange(-2.0 * across, 2.0 * across + 0.01, _PROFILE_STEP)
    places = start + along[:, None, None] * way + depth[None, :, None] * outward
    profile = map_coordinates(scalar, [places[..., 1], places[..., 0]], order=1, mode="nearest")
    high = [scalar.shape[1] - 1, scalar.shape[0] - 1]
    inside = ((places >= 0) & (places <= high)).all(axis=(1, 2))
    return along[inside], depth, profile[inside]


def _edge_points(
    scalar: NDArray[np.float32], start: Floats, end: Floats, across: float
) -> tuple[Floats, float]:
    """Places (n, 2) on the board's edge along one side, each from a segment's profiles, and the step of grey there.

    The mean is taken before the half-way level is sought: blur is linear, so a stone beside the edge shifts a
    single profile but not their mean.
    """
    way = (end - start) / float(np.hypot(*(end - start)))
    outward = np.array([-way[1], way[0]])
    along, depth, profile = _edge_profiles(scalar, start, end, across)
    if len(along) < 24:
        return np.empty((0, 2)), 0.0
    segments = np.array_split(np.arange(len(along)), min(_SEGMENTS, len(along) // 2))
    spots = np.array([along[part].mean() for part in segments])
    means = np.array([profile[part].mean(axis=0) for part in segments])
    inner = np.median(means[:, depth < -across], axis=1)
    # Near the edge, but beyond its blur: further out the board's own shadow may fade.
    outer = means[:, (depth > max(2.2, 0.3 * across)) & (depth < max(3.7, 0.9 * across))].mean(axis=1)
    found, good = _half_height_crossing(means, depth, inner, outer, -1.5 * across)
    step = outer - inner
    found = _gradient_centroid(means * np.sign(step)[:, None], depth, found)
    usual = float(np.median(step))
    good &= (np.sign(step) == np.sign(usual)) & (np.abs(step) > 0.4 * abs(usual))
    return np.asarray(start + spots[good, None] * way + found[good, None] * outward), abs(usual)


def _half_height_crossing(
    profile: NDArray[np.float32], depth: Floats, inner: Floats, outer: Floats, first: float
) -> tuple[Floats, NDArray[np.bool_]]:
    """Depth (n,) at which each profile (n, m) first gets half-way from `inner` to `outer`, and whether it does."""
    step = outer - inner
    share = (profile - inner[:, None]) / np.where(np.abs(step) < 1e-6, 1e-6, step)[:, None]
    at = np.argmax((share > 0.5) & (depth > first)[None, :], axis=1)
    good = at > 0
    at = np.maximum(at, 1)
    rows = np.arange(len(profile))
    before, after = share[rows, at - 1], share[rows, at]
    rise = np.where(np.abs(after - before) < 1e-9, 1.0, after - before)
    return depth[at - 1] + _PROFILE_STEP * np.clip((0.5 - before) / rise, 0, 1), good


def _gradient_centroid(profile: Floats, depth: Floats, near: Floats) -> Floats:
    """Middle of the rise of profiles (n, m) about the depths `near` (n,): at most a pixel away from them.

    Half-way between two levels lies a little inside the board where its shadow darkens the floor close by; the
    rise itself is blurred evenly to both sides, and a shadow that fades slowly hardly weighs in it.
    """
    slope = np.maximum(np.diff(profile, axis=1), 0.0)
    middle = (depth[1:] + depth[:-1]) / 2
    found = near
    for _ in range(4):
        weight = slope * np.clip(1.2 - np.abs(middle[None] - found[:, None]) / _EDGE_WIDTH, 0, 1)
        total = weight.sum(axis=1)
        centre = (weight * middle).sum(axis=1) / np.maximum(total, 1e-9)
        found = np.clip(np.where(total > 1e-6, centre, found), near - 1, near + 1)
    return np.asarray(found)


def _robust_line(points: Floats) -> tuple[Floats, float, float, Floats]:
    """Unit normal and offset of a robust line, the spread (1.48 MAD) of the points on it, and those points."""
    # Points are few, so the line through every two of them is tried: most points near it, then nearest.
    i, j = np.triu_indices(len(points), k=2)
    way = points[j] - points[i]
    norm = np.hypot(*way.T)
    far = norm >= 5
    i, way, norm = i[far], way[far], norm[far]
    kept = points
    if len(i):
        across = np.column_stack([-way[:, 1], way[:, 0]]) / norm[:, None]
        away = np.abs(points @ across.T - (points[i] * across).sum(axis=1))
        close = away < 0.6
        kept = points[close[:, np.argmax(close.sum(axis=0) - np.where(close, away, 0.0).mean(axis=0))]]
    normal, offset, spread = np.array([0.0, 1.0]), 0.0, 0.0
    for _ in range(4):
        middle = kept.mean(axis=0)
        _, _, axes = np.linalg.svd(kept - middle, full_matrices=False)
        normal = axes[1]
        offset = float(normal @ middle)
        away = points @ normal - offset
        spread = float(1.4826 * np.median(np.abs(kept @ normal - offset)))
        kept = points[np.abs(away) < max(2.5 * spread, 0.25)]
    return normal, offset, spread, kept


def _intersection(a: tuple[Floats, float], b: tuple[Floats, float]) -> Floats | None:
    matrix = np.vstack([a[0], b[0]])
    if abs(np.linalg.det(matrix)) < 0.05:
        return None
    return np.asarray(np.linalg.solve(matrix, [a[1], b[1]]))
