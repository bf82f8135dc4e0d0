"""How surely four corners are those of a thing that lies on the floor: asked of the picture right along its sides.

Print, shadows and a floor of nearly its colour leave three things of a sheet: colours differ along all four sides, its
rim is even, and its sides end at its corners. Joints, bricks and the squares of a checked floor go on beyond them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from nestplan.intake.photo.reading import Photo

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["SheetEvidence", "sheet_evidence"]

_PLACES, _DEPTHS = 48, 4
"""Places along a side, and how many pixels each mean across it is made of."""
_NEAR_SHARE, _DEEP_SHARE, _LEAST_NEAR, _LEAST_DEEP = 0.012, 0.035, 2.0, 5.0
"""How far from a side colours are read: from and to, as shares of the shortest side, and at least, pixels."""
_PLAIN, _FAINT, _OVER_UNEVEN = 0.35, 0.04, 5.0
"""The step that a place along a side must show: that share of the usual one, or where the rim is even, on squares of a
checked floor as light as the sheet, so little (a logarithm), or so many times what the rim's colours differ by."""
_FURTHER_SHARE = 0.3
"""What share of a side's usual step must still be there at twice the depth: a sheet's own shadow fades."""
_PLAINEST = 80
"""Percentile of the steps along the sides that what goes on beyond them is compared with."""
_BEYOND = (0.04, 0.2)
"""Where beyond its corners a side is looked for: from and to, as shares of its length."""
_GOING_ON, _UNEVEN = 0.25, 0.02
"""Step beyond the corners, over that of the sides, and unevenness of the rim (a logarithm) that divide the strength by
e. (On rendered photographs sheets had 0.2 at most and squares of checked floors 0.6 to 1; 0.007 at most and hides 0.03
or more.)"""
_NEIGHBOURS = 6
"""Places to either side that tell how the light goes along a rim."""


@dataclass(frozen=True)
class SheetEvidence:
    """`strength`, 0 to 1: how surely the four sides are those of one thing on the floor; `lightness`: how much lighter
    than the floor along its sides it is, a logarithm."""

    strength: float
    lightness: float


def sheet_evidence(photo: Photo, corners: Floats) -> SheetEvidence:
    """What the picture shows along the sides of four corners (4, 2), counter-clockwise as people see them, pixels."""
    inside, beyond = _colours_along(photo.image, corners, -1), _colours_along(photo.image, corners, 1)
    steps = (inside - beyond)[:, :_PLACES].reshape(-1, 3)
    steps = steps[np.isfinite(steps).all(axis=1)]
    if len(steps) < 2 * _PLACES:
        return SheetEvidence(0.0, 0.0)
    usual = np.median(steps, axis=0)
    size = max(float(np.linalg.norm(usual)), 1e-6)
    along = (inside - beyond) @ (usual / size) / size
    uneven = _unevenness(inside[:, :_PLACES])
    plain = min(_PLAIN, max(_FAINT, _OVER_UNEVEN * uneven) / size)
    # Ink is narrow: beyond a line of print or writing lies paper again.
    further = (inside - _colours_along(photo.image, corners, 1, further=True)) @ (usual / size) / size
    shown = _least_share(along, plain) * _least_lasting(along, further)
    ends = along[:, _PLACES:].reshape(8, -1)
    ends = ends[np.isfinite(ends).any(axis=1)]
    # On squares of two colours the usual step is the lesser one, and borders between them pass beyond the corners.
    plainest = max(float(np.nanpercentile(along[:, :_PLACES], _PLAINEST)), 1.0)
    going_on = float(np.abs(np.nanmean(ends, axis=1)).mean()) / plainest if len(ends) else 0.0
    strength = shown * np.exp(-going_on / _GOING_ON - uneven / _UNEVEN)
    return SheetEvidence(float(strength), float(usual.mean()))


def _least_share(steps: Floats, plain: float) -> float:
    """Least share, over the sides, of places (4, p) that show more than a plain step; 0 if a side is out of sight."""
    sides = [side[np.isfinite(side)] for side in steps[:, :_PLACES]]
    return min(float(np.mean(side > plain)) if len(side) else 0.0 for side in sides)


def _least_lasting(along: Floats, further: Floats) -> float:
    """1 if the usual step (4, p) of every side lasts to twice the depth, down to 0 if one does not."""
    sides = zip(along[:, :_PLACES], further[:, :_PLACES], strict=True)
    # Where the picture ends there is nothing to ask.
    seen = [np.isfinite(near) & np.isfinite(far) for near, far in sides]
    shares = [
        float(np.median(further[k, :_PLACES][both])) / max(float(np.median(along[k, :_PLACES][both])), 1e-6)
        for k, both in enumerate(seen)
        if both.any()
    ]
    return float(np.clip(min(shares, default=1.0) / _FURTHER_SHARE, 0.0, 1.0))


def _colours_along(image: NDArray[np.uint8], corners: Floats, sign: int, *, further: bool = False) -> Floats:
    """Logarithms of colours (4, p, 3) beside the sides, inside (`sign` -1) or outside (1): at `_PLACES` places along
    each and then beyond its ends; NaN outside the picture. `further`: at up to twice the usual depth."""
    ends = np.roll(corners, -1, axis=0)
    lengths = np.hypot(*(ends - corners).T)
    shortest = float(lengths.min())
    near = max(_LEAST_NEAR, _NEAR_SHARE * shortest)
    deep = max(_LEAST_DEEP, _DEEP_SHARE * shortest)
    depths = sign * (np.linspace(deep, 2 * deep, _DEPTHS) if further else np.linspace(near, deep, _DEPTHS))
    off = np.linspace(*_BEYOND, 10)
    way = (ends - corners) / lengths[:, None]
    outward = np.column_stack([-way[:, 1], way[:, 0]])
    within = np.linspace(0.05, 0.95, _PLACES)[None] * lengths[:, None]
    before, after = -off * lengths[:, None] - near, (1 + off) * lengths[:, None] + near
    along = np.concatenate([within, before, after], axis=1)
    places = corners[:, None, None] + along[..., None, None] * way[:, None, None]
    places = places + depths[:, None] * outward[:, None, None]
    cells = np.rint(places).astype(int)
    high = [image.shape[1] - 1, image.shape[0] - 1]
    outside = ((cells < 0) | (cells > high)).any(axis=-1)
    cells = np.clip(cells, 0, high)
    colours = np.log(image[cells[..., 1], cells[..., 0]].astype(np.float64) + 12)
    colours[outside] = np.nan
    # A mean over depths of which one lies outside would be one of other places.
    return np.asarray(colours.mean(axis=2))


def _unevenness(rim: Floats) -> float:
    """How much the colours (4, p, 3) of a rim differ from those of their neighbours along it, a logarithm."""
    from scipy.ndimage import median_filter

    usual = median_filter(rim, size=(1, 2 * _NEIGHBOURS + 1, 1), mode="nearest")
    off = np.abs(rim - usual)
    off = off[np.isfinite(off)]
    return 1.48 * float(np.median(off)) if len(off) else 0.0
