"""The exact edge near a rough one: the best closed path through a band laid along it.

The band is sampled square to the rough edge; in each stretch the leather's and the floor's colours are learnt
from both rims of the band, and dynamic programming finds the path that parts them best (after Amini, Weymouth
and Jain 1990, "Using dynamic programming for solving variational problems in vision"). Then the mean profile of
each stretch, along which blur cancels, gives the edge to a fraction of a pixel. Not here: where the band lies
(segmentation).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from nestplan.intake.photo.raster import grey_level

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["EdgePath", "follow_edge", "resample"]

STIFFNESS = 6.0
"""Price of a jump along the path, to the power 1.5, against odds of 0.35 a place (tried on rendered
photographs with stones of the leather's own colour: at 1.2 the path ran round single stones)."""
TEXTURE_WEIGHT = 0.5
"""Weight of texture beside the three log colours."""
SHADOWS, SHADOW_COST = (0.2, 0.4, 0.6), 0.3
"""Darkenings (logarithms) in which floor beside leather may lie, and what such a guess costs in log odds."""
_BAND_SHARE = 2.2
"""How far the band reaches beyond the search on both sides, as a multiple of it."""
PROFILE_WIDTHS = (4.0, 3.0)
"""Lengths along the ring (samples) over which profiles are averaged, round after round: the first is
steady, the last follows narrow corners."""
INNER_SPAN, OUTER_SPAN = (-5.0, -2.0), (2.0, 4.5)
"""Where beside the edge (pixels) leather and floor are read for the last step: beyond the blur, within the
leather's own shadow."""
FLOOR_WEIGHT, LEAST_VARIANCE = 2.0, 3.0
"""The floor's texture weighs more than the leather's in what parts them; variance of a colour that is
always there."""
BESIDE, ALONG = (0.6, 4.1), 24.0
"""How far beside the path (pixels), and over how many samples along it, both sides are asked whether they differ."""
MOST_SHIFT = 3.0
"""The last step moves the path by no more than this, pixels."""


@dataclass(frozen=True, eq=False)
class EdgePath:
    """`points` (n, 2) in pixels (column, row), closed; `uncertainty` (n,) pixels: how far off each may be, by the
    profile right there; `odds` (n,): log odds of a place beside the path to be what its side is, leather or floor, the
    less of both, averaged along it."""

    points: Floats
    uncertainty: Floats
    odds: Floats


def resample(ring: Floats, step: float, *, smooth: float = 0.0) -> Floats:
    """A closed ring (n, 2) at equal steps along its length, its points first averaged over `smooth` lengths."""
    from scipy.ndimage import gaussian_filter1d

    closed = np.vstack([ring, ring[:1]])
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    count = max(12, round(arc[-1] / step))
    at = np.linspace(0, arc[-1], count, endpoint=False)
    points = np.column_stack([np.interp(at, arc, closed[:, k]) for k in range(2)])
    if smooth > 0:
        points = gaussian_filter1d(points, smooth / step, axis=0, mode="wrap")
    return np.asarray(points)


def follow_edge(image: NDArray[np.uint8], ring: Floats, reach: float, *, final: bool = True) -> EdgePath:
    """The edge within `reach` pixels of a rough closed ring (n, 2), counter-clockwise as seen (y down).

    With `final` False the path alone is given, for another round; True adds the sub-pixel step.
    """
    step = 1.5 if reach < 12 else 2.0
    rough = resample(ring, step, smooth=max(3.0, reach / 3))
    normal = _outward_normals(rough)
    depth = np.arange(-_BAND_SHARE * reach, _BAND_SHARE * reach + 0.01, 0.5 if reach < 12 else 1.0)
    band = _band(image, rough, normal, depth)
    # Texture is read over some width and so shifts the edge inward: it guides the first search, not the last.
    odds = _log_odds(band if final else _with_texture(band, depth), depth, reach)
    inner = np.abs(depth) <= reach
    choice = _best_path(odds[:, inner], stiffness=STIFFNESS)
    offset = depth[inner][choice]
    uncertainty = np.full(len(rough), 1.5)
    if final:
        shift, uncertainty = _subpixel_shift(band, depth, offset)
        offset = offset + shift
    return EdgePath(rough + offset[:, None] * normal, uncertainty, _odds_beside(odds, depth, offset))


def _odds_beside(odds: NDArray[np.float32], depth: Floats, offset: Floats) -> Floats:
    """Mean log odds (n,), given those of leather (n, m), of what lies beside a path: the less of its two sides."""
    from scipy.ndimage import gaussian_filter1d

    beyond = depth[None] - offset[:, None]
    sides = []
    for way in (-1, 1):
        near = (way * beyond > BESIDE[0]) & (way * beyond < BESIDE[1])
        mean = (-way * odds * near).sum(axis=1) / np.maximum(near.sum(axis=1), 1)
        sides.append(gaussian_filter1d(mean, ALONG, mode="wrap"))
    return np.asarray(np.minimum(*sides), dtype=np.float64)


def _outward_normals(ring: Floats) -> Floats:
    """Unit normals (n, 2) of a ring that runs counter-clockwise as people see it, y down."""
    way = np.roll(ring, -2, axis=0) - np.roll(ring, 2, axis=0)
    length = np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    return np.asarray(np.column_stack([-way[:, 1], way[:, 0]]) / length)


def _band(image: NDArray[np.uint8], ring: Floats, normal: Floats, depth: Floats) -> NDArray[np.float32]:
    """Log colours (n, m, 3) along the normals."""
    from scipy.ndimage import map_coordinates

    places = ring[:, None, :] + depth[None, :, None] * normal[:, None, :]
    rows, columns = places[..., 1].astype(np.float32), places[..., 0].astype(np.float32)
    low = np.maximum([int(rows.min()) - 2, int(columns.min()) - 2], 0)
    high = [int(rows.max()) + 3, int(columns.max()) + 3]
    part = image[low[0] : high[0], low[1] : high[1]]
    band = np.stack(
        [
            map_coordinates(
                part[..., c], [rows - low[0], columns - low[1]], output=np.float32, order=1, mode="nearest"
            )
            for c in range(3)
        ],
        axis=-1,
    )
    return np.asarray(np.log(band + 15))


def _log_odds(band: NDArray[np.float32], depth: Floats, reach: float) -> NDArray[np.float32]:
    """Log odds (n, m) that a place of the band is leather, by what lies at the band's rims along some way of it."""
    inside, outside = depth < -reach, depth > reach
    wide = 24
    hide_mean, hide_spread = _running_moments(band[:, inside], wide)
    floor_mean, floor_spread = _running_moments(band[:, outside], wide)
    floor = _log_density(band, floor_mean, floor_spread)
    for shade in SHADOWS:
        lit = band.copy()
        lit[..., :3] += shade
        np.maximum(floor, _log_density(lit, floor_mean, floor_spread) - SHADOW_COST, out=floor)
    odds = _log_density(band, hide_mean, hide_spread) - floor
    return np.asarray(np.clip(odds, -4, 4))


def _with_texture(band: NDArray[np.float32], depth: Floats) -> NDArray[np.float32]:
    """The band (n, m, 3) with a fourth value: how much brightness varies within two or three pixels, a logarithm.

    A stone of the leather's own colour is told by it; the leather's grain is finer and fainter than its rim.
    """
    from scipy.ndimage import gaussian_filter

    across = 1.5 / float(depth[1] - depth[0])
    bright = grey_level(band)
    away = np.abs(bright - gaussian_filter(bright, (1.2, across), mode=("wrap", "nearest")))
    texture = np.log(gaussian_filter(away, (1.0, 0.8 * across), mode=("wrap", "nearest")) + 0.004)
    return np.concatenate([band, TEXTURE_WEIGHT * texture[..., None]], axis=2)


def _running_moments(rim: NDArray[np.float32], wide: int) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Mean (n, 3) and covariance (n, 3, 3) of a rim (n, k, 3) within about `wide` samples along the ring."""
    from scipy.ndimage import gaussian_filter1d

    first = rim.mean(axis=1)
    second = np.einsum("nki,nkj->nij", rim, rim) / rim.shape[1]
    mean = gaussian_filter1d(first, wide, axis=0, mode="wrap")
    square = gaussian_filter1d(second, wide, axis=0, mode="wrap")
    spread = square - mean[:, :, None] * mean[:, None, :]
    return mean, spread + np.eye(rim.shape[2], dtype=np.float32) * 0.02**2


def _log_density(
    band: NDArray[np.float32], mean: NDArray[np.float32], spread: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Log density (n, m) of the band under one normal distribution per row, with a thin floor so that no place
    is impossible.
    """
    inverse = np.linalg.inv(spread)
    logs = -0.5 * np.linalg.slogdet(spread)[1]
    apart = band - mean[:, None, :]
    distance = np.einsum("nmi,nij,nmj->nm", apart, inverse, apart, optimize=True)
    return np.asarray(np.logaddexp(logs[:, None] - 0.5 * distance, -3.0))


def _best_path(odds: NDArray[np.float32], stiffness: float) -> NDArray[np.intp]:
    """Column (n,) per row at which leather ends: most odds gained before it and lost after it, few jumps.

    Dynamic programming over the rows with steps of up to three columns; the ring is closed by going one and
    a half times round and keeping the middle part.
    """
    rows, columns = odds.shape
    gained = np.cumsum(odds, axis=1)
    cost = -(2 * gained - gained[:, -1:]) * 0.35
    lap = np.concatenate([np.arange(rows), np.arange(min(rows, 400))])
    best = cost[lap[0]].astype(np.float64)
    back = np.zeros((len(lap), columns), dtype=np.int8)
    jumps = np.arange(-3, 4)
    price = stiffness * np.abs(jumps) ** 1.5
    padded = np.empty(columns + 6)
    index = np.arange(columns)[None, :] + (jumps[:, None] + 3)
    for row in range(1, len(lap)):
        padded[:3], padded[-3:] = np.inf, np.inf
        padded[3:-3] = best
        trial = padded[index] + price[:, None]
        pick = np.argmin(trial, axis=0)
        back[row] = jumps[pick]
        best = trial[pick, np.arange(columns)] + cost[lap[row]]
    path = np.zeros(len(lap), dtype=np.intp)
    path[-1] = int(np.argmin(best))
    for row in range(len(lap) - 1, 0, -1):
        path[row - 1] = path[row] + back[row, path[row]]
    half = len(lap) - rows
    # The first stretch is taken from the second time round, where it knows what comes before it.
    out = path[:rows].copy()
    out[: half // 2] = path[rows : rows + half // 2]
    return out


def _subpixel_shift(band: NDArray[np.float32], depth: Floats, offset: Floats) -> tuple[Floats, Floats]:
    """Shift (n,) of the path onto the middle of the rise of mean profiles, and the uncertainty (n,) left; pixels.

    Each round looks anew from where the last one ended, along shorter stretches: close to the edge the floor may
    lie in the leather's own shadow, so only what lies right beside the edge may be its floor. A place where
    leather and floor differ little against their own texture takes the shift of the whole ring.
    """
    from scipy.ndimage import gaussian_filter1d

    total = np.zeros(len(offset))
    uncertainty = np.full(len(offset), 2.5)
    for wide in PROFILE_WIDTHS:
        shift, uncertainty = _profile_shift(band, depth, offset + total, wide)
        total = np.clip(total + shift, -MOST_SHIFT, MOST_SHIFT)
        total = gaussian_filter1d(total, 0.5 * wide, mode="wrap")
    return total, uncertainty


def _profile_shift(
    band: NDArray[np.float32], depth: Floats, offset: Floats, wide: float
) -> tuple[Floats, Floats]:
    """One round of `_subpixel_shift`: shift (n,) and uncertainty (n,), pixels, from profiles averaged over
    `wide` samples.
    """
    from scipy.ndimage import gaussian_filter1d

    near = np.arange(-6.0, 6.01, 0.5)
    spacing = depth[1] - depth[0]
    at = (offset[:, None] + near - depth[0]) / spacing
    low = np.clip(np.floor(at).astype(int), 0, len(depth) - 2)
    part = np.clip(at - low, 0, 1)[..., None].astype(np.float32)
    rows = np.arange(len(offset))[:, None]
    colours = np.exp(band[rows, low] * (1 - part) + band[rows, low + 1] * part)
    inner_side = (near >= INNER_SPAN[0]) & (near <= INNER_SPAN[1])
    floor = (near >= OUTER_SPAN[0]) & (near <= OUTER_SPAN[1])
    way, norm = _discriminant_directions(colours[:, inner_side], colours[:, floor], max(wide, 4.0))
    profile = gaussian_filter1d(np.einsum("nmc,nc->nm", colours, way), wide, axis=0, mode="wrap")
    top, outer_level = profile[:, inner_side].mean(axis=1)[:, None], profile[:, floor].mean(axis=1)[:, None]
    share = (profile - outer_level) / np.where(np.abs(top - outer_level) < 1e-6, 1e-6, top - outer_level)
    texture = profile[:, inner_side].std(axis=1) + profile[:, floor].std(axis=1)
    # The integral of the share of leather over the step is its place, and is what noise disturbs least.
    step = np.abs(near) <= 2.5
    shift = np.clip(share[:, step], -0.1, 1.1).sum(axis=1) * 0.5 - 2.5 - 0.25
    clear = norm > 3.0 * texture + 6.0
    shift = np.clip(shift, -1.5, 1.5)
    usual = float(np.median(shift[clear])) if clear.sum() > 20 else 0.0
    weight = gaussian_filter1d(clear.astype(np.float64), wide, mode="wrap")
    smoothed = gaussian_filter1d(np.where(clear, shift, 0.0), wide, mode="wrap") / np.maximum(weight, 1e-6)
    final = np.where(weight > 0.25, smoothed, usual)
    return final, np.where(weight > 0.25, 0.5 + 2.0 * texture / np.maximum(norm, 1.0), 2.5)


def _discriminant_directions(
    inside: NDArray[np.float32], outside: NDArray[np.float32], wide: float
) -> tuple[Floats, Floats]:
    """Unit mixtures of the colours (n, 3) that best part leather (n, k, 3) from the floor beside it, and by how
    much.

    Fisher's discriminant (1936) of each stretch of the ring: brightness weighs little where the floor has stones.
    """
    from scipy.ndimage import gaussian_filter1d

    means, spread = [], np.zeros((len(inside), 3, 3))
    for side, weight in ((inside, 1.0), (outside, FLOOR_WEIGHT)):
        mean = gaussian_filter1d(side.mean(axis=1), wide, axis=0, mode="wrap")
        square = np.einsum("nki,nkj->nij", side, side) / side.shape[1]
        square = gaussian_filter1d(square, wide, axis=0, mode="wrap")
        spread += weight * (square - mean[:, :, None] * mean[:, None, :])
        means.append(mean)
    apart = np.asarray(means[0] - means[1], dtype=np.float64)
    way = np.linalg.solve(spread + LEAST_VARIANCE * np.eye(3), apart[..., None])[..., 0]
    way /= np.maximum(np.linalg.norm(way, axis=1), 1e-9)[:, None]
    return np.asarray(way), np.asarray(np.abs((way * apart).sum(axis=1)))
