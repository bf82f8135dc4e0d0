"""The edges of a template to a fraction of a pixel, as places on the ground in mm.

Along the rough contour the picture is read square to it; the edge lies where a profile of light passes half-way
between the template and what lies right beside it (its own shadow or the ground). Light is mixed by the lens before
the camera's curve bends it, so half-way is taken in linear light (sRGB, IEC 61966-2-1).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["LinearPatch", "contour_of", "edge_points", "linear_light"]

REACH = 6.0
"""How far square to the contour the picture is read, pixels."""
INNER, OUTER = (-5.0, -2.4), (2.2, 4.2)
"""Where beside the contour (pixels) the template and its surroundings are read."""
_LEVEL_SPAN = 15
"""Points along the contour over which both levels are the median: ink or a crumb at the edge does not count."""


@dataclass(frozen=True, eq=False)
class LinearPatch:
    """A part of a photograph in linear light (h, w, 3) and the (column, row) of its first pixel."""

    light: NDArray[np.float32]
    corner: Floats

    def at(self, places: Floats) -> NDArray[np.float32]:
        """Light (..., 3) at places (..., 2) of the whole photograph."""
        from scipy.ndimage import map_coordinates

        local = places - self.corner
        rows_columns = [local[..., 1], local[..., 0]]
        return np.stack(
            [map_coordinates(self.light[..., c], rows_columns, order=1, mode="nearest") for c in range(3)],
            axis=-1,
        )


def linear_light(image: NDArray[np.uint8], rows: slice, columns: slice) -> LinearPatch:
    """A part of an sRGB picture in linear light, 0 to 1."""
    value = np.arange(256) / 255.0
    table = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4).astype(np.float32)
    return LinearPatch(table[image[rows, columns]], np.array([columns.start, rows.start], dtype=np.float64))


def contour_of(mask: NDArray[np.bool_], share: NDArray[np.float32], corner: Floats) -> Floats:
    """The outer contour (n, 2) of a mask, where `share` passes a half, in pixels of the photograph whose part begins
    at `corner`; clockwise as seen with y down, so that the outside lies on its left."""
    from scipy import ndimage
    from skimage.measure import find_contours

    near = ndimage.binary_dilation(mask, iterations=2)
    inner = ndimage.binary_erosion(mask, iterations=2)
    field = np.where(near, share, 0.0)
    field = np.where(inner, 1.0, field)
    contours = find_contours(np.pad(field, 1), 0.5)
    longest = max(contours, key=len)
    ring = longest[:-1, ::-1] - 1 + corner
    x, y = (ring - ring[0]).T
    turning = float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))
    return np.asarray(ring if turning > 0 else ring[::-1])


def edge_points(patch: LinearPatch, contour: Floats, to_ground: Callable[[Floats], Floats]) -> Floats:
    """Places (n, 2), mm on the ground, along the exact edge near a closed contour (pixels, the outside on its left).

    They are about a pixel apart and run counter-clockwise on the ground (y up).
    """
    from nestplan.intake.photo.edge_path import resample

    base = resample(contour, 1.0, smooth=0.6)
    normal = _outward(resample(contour, 1.0, smooth=1.8), len(base))
    for again in (False, True):
        depth = np.arange(-REACH, REACH + 0.01, 0.25)
        light = patch.at(base[:, None] + depth[None, :, None] * normal[:, None])
        shift = _half_way(light, depth, 1.5 if again else 3.0)
        base = base + shift[:, None] * normal
    points = to_ground(base)
    x, y = (points - points[0]).T
    turning = float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))
    return np.asarray(points if turning > 0 else points[::-1])


def _outward(ring: Floats, count: int) -> Floats:
    """Unit normals (count, 2) to the left as seen with y down of a ring that runs clockwise as seen."""
    way = np.roll(ring, -1, axis=0) - np.roll(ring, 1, axis=0)
    way /= np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    return np.asarray(np.column_stack([way[:, 1], -way[:, 0]]))[:count]


def _half_way(light: NDArray[np.float32], depth: Floats, most: float) -> Floats:
    """Depth (n,) at which each profile (n, m, 3) passes half-way from the template's level to its surroundings',
    nearest to depth 0 and at most `most` from it."""
    from scipy.ndimage import gaussian_filter1d, median_filter

    inner = light[:, (depth >= INNER[0]) & (depth <= INNER[1])].mean(axis=1)
    outer = light[:, (depth >= OUTER[0]) & (depth <= OUTER[1])].mean(axis=1)
    span = min(_LEVEL_SPAN, len(light) // 2 * 2 - 1)
    inner, outer = (median_filter(level, (span, 1), mode="wrap") for level in (inner, outer))
    way = inner - outer
    way = way / np.maximum((way * way).sum(axis=1, keepdims=True), 1e-9)
    share = ((light - outer[:, None]) * way[:, None]).sum(axis=2)
    share = gaussian_filter1d(share, 0.7, axis=0, mode="wrap")
    falls = (share[:, :-1] >= 0.5) & (share[:, 1:] < 0.5)
    step = np.maximum(share[:, :-1] - share[:, 1:], 1e-6)
    at = depth[:-1] + np.clip((share[:, :-1] - 0.5) / step, 0, 1) * (depth[1] - depth[0])
    at = np.where(falls, at, np.inf)
    best = at[np.arange(len(at)), np.argmin(np.abs(at), axis=1)]
    return np.where(np.abs(best) <= most, best, 0.0)
