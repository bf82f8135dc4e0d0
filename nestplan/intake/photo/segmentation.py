"""Which part of a rectified photograph is hide and which is floor, roughly: a mask of a few mm a cell.

The floor is known where the reference lies and, mostly, along the picture's border. Colour freed of brightness and
the strength of texture tell leather from it; brightness counts only once both sides have been learnt, so that
shadows stay floor. Not here: the exact edge (edge_path) and the outline made of it (outline).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from nestplan.errors import InputError
from nestplan.intake.photo.mixture import Mixture, fit_mixture
from nestplan.intake.photo.raster import blocks, filled, mean_colour
from nestplan.intake.photo.rectify import RectifiedPhoto

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Mask = NDArray[np.bool_]

__all__ = ["Cells", "cells_of", "hide_cells"]

#: Cells of the rough picture; a cell is never finer than this many mm.
MOST_CELLS = 150_000
FINEST_CELL = 2.5
#: Radius in mm of a dab.
DAB = 15.0
ROUNDS = 4
#: The search begins on every so many cells.
THIN = 3
#: A separation less sure than this is chance: bare floors score below 0, hides of the floor's own colour above 2.
LEAST_SURE = 0.4
#: What is put back at the ends of legs: its log odds at least, also as a share of the hide's own; within so many mm
#: of the hide, and larger than so many mm2.
LEAST_TIP, TIP_SHARE, TIP_REACH, LEAST_TIP_AREA = 2.0, 0.6, 400.0, 400.0


@dataclass(frozen=True, eq=False)
class Cells:
    """The rectified picture in cells of `step` × `step` pixels, `size` mm.

    `features` (h, w, 5): log brightness, two log colour ratios, fine and middling texture (logs). `usable`
    (h, w): seen in the photo and off the reference; `ring`: floor for certain, close round the reference.
    """

    features: Floats
    step: int
    size: float
    usable: Mask
    ring: Mask
    border: Mask

    def thinned(self) -> Cells:
        """Every `THIN`th cell both ways."""
        usable, ring, border = (mask[::THIN, ::THIN].copy() for mask in (self.usable, self.ring, self.border))
        features = self.features[::THIN, ::THIN].copy()
        return Cells(features, THIN * self.step, THIN * self.size, usable, ring, border)


def cells_of(rectified: RectifiedPhoto) -> Cells:
    """The features every later question is asked of."""
    from scipy import ndimage

    rows, columns = rectified.seen.shape
    size = max(FINEST_CELL, rectified.mm_per_pixel * np.sqrt(rows * columns / MOST_CELLS))
    step = max(1, round(size / rectified.mm_per_pixel))
    rows, columns = rows // step * step, columns // step * step
    picture = rectified.image[:rows, :columns].astype(np.float32)
    colour = blocks(picture, step)
    bright = np.log(mean_colour(picture) + 12)
    fine = np.abs(bright - ndimage.gaussian_filter(bright, max(1.2, 2.5 / rectified.mm_per_pixel)))
    fine_texture = ndimage.gaussian_filter(blocks(fine, step), 1.5)
    log_bright = np.log(mean_colour(colour) + 12)
    middling = np.abs(log_bright - ndimage.gaussian_filter(log_bright, 3.0))
    middling = ndimage.gaussian_filter(middling, 3.0)
    smooth = np.stack([ndimage.gaussian_filter(colour[..., c], 0.8) for c in range(3)], axis=-1)
    features = np.stack(
        [
            np.log(mean_colour(smooth) + 12),
            np.log((smooth[..., 0] + 12) / (smooth[..., 1] + 12)),
            np.log((smooth[..., 2] + 12) / (smooth[..., 1] + 12)),
            np.log(fine_texture + 0.01),
            np.log(middling + 0.01),
        ],
        axis=-1,
    )
    size = step * rectified.mm_per_pixel
    seen = blocks(rectified.seen.astype(np.float32), step) > 0.99
    away = ndimage.distance_transform_edt(~_filled(rectified, rows // step, columns // step, step)) * size
    usable = seen & (away > 8)
    inward = ndimage.distance_transform_edt(np.pad(seen, 1))[1:-1, 1:-1]
    border = usable & (inward <= max(2.0, 0.035 * min(rows, columns) / step))
    return Cells(features, step, size, usable, usable & (away > 10) & (away < 80), border)


def _filled(rectified: RectifiedPhoto, rows: int, columns: int, step: int) -> Mask:
    """Cells covered by the reference."""
    mask = np.zeros((rows, columns), dtype=bool)
    for quad in rectified.reference.reshape(-1, 4, 2):
        if not rectified.hides_reference:
            break
        mask |= filled((rectified.to_pixels(quad) + 0.5) / step - 0.5, mask.shape)
    return mask


def hide_cells(
    rectified: RectifiedPhoto,
    cells: Cells,
    *,
    hide_dabs: Sequence[tuple[float, float]] = (),
    floor_dabs: Sequence[tuple[float, float]] = (),
) -> tuple[Mask, Floats]:
    """(mask, likeness) of the cells that show the hide; likeness > 0 is more like hide, in log odds.

    Dabs are (x, y) mm where the user says: this is hide, this is floor. Errors: InputError if nothing stands
    out from the floor.
    """
    is_hide, is_floor = (_dabbed(rectified, cells, dabs) for dabs in (hide_dabs, floor_dabs))
    rough, every = cells.thinned(), (slice(None, None, THIN), slice(None, None, THIN))
    best: tuple[float, Mask] | None = None
    tried: list[Mask] = []
    for guess, first in _first_guess(rough, is_hide[every], is_floor[every]):
        if any(_overlap(guess, other) > 0.93 for other in tried):
            continue
        tried.append(guess)
        mask: Mask = guess
        for _ in range(ROUNDS):
            result = _learn(rough, mask, is_hide[every], is_floor[every], first)
            if result is None:
                break
            settled = _overlap(mask, result[0]) > 0.985
            mask = result[0]
            if settled:
                break
        if result is None:
            continue
        tried.append(mask)
        score = _worth(rough, mask, is_hide[every], is_floor[every])
        if np.isfinite(score) and (best is None or score > best[0]):
            best = (score, mask)
    final = None
    if best is not None and (best[0] > LEAST_SURE or is_hide.any()):
        mask = np.repeat(np.repeat(best[1], THIN, axis=0), THIN, axis=1)[
            : is_hide.shape[0], : is_hide.shape[1]
        ]
        final = _learn(cells, mask, is_hide, is_floor)
    if final is None:
        raise InputError(
            "No hide was found: nothing in the picture stands out from the floor.",
            mend="Dab a few places on the hide and on the floor (--hide-at, --floor-at), or use another floor.",
            file=rectified.name,
        )
    mask, likeness, plain = final
    return mask if plain is None else _with_tips(mask, plain, is_floor, cells.size), likeness


def _with_tips(mask: Mask, plain: Floats, is_floor: Mask, size: float) -> Mask:
    """The mask with the narrow ends of legs put back, where their colour (log odds `plain`) is as sure as the hide's.

    Opening takes them off, and so does texture, which is read over some width and is never calm in a narrow leg.
    A stone of the hide's colour that touches the hide is small, or lies among others that are less sure.
    """
    from scipy import ndimage

    level = max(LEAST_TIP, TIP_SHARE * float(plain[mask].mean()))
    near = ndimage.distance_transform_edt(~mask) * size < TIP_REACH
    loose = (ndimage.gaussian_filter(plain, 0.7) > level) & ~mask & ~is_floor & near
    labels, count = ndimage.label(loose)
    touching = np.unique(labels[ndimage.binary_dilation(mask) & loose])
    large = np.bincount(labels.ravel(), minlength=count + 1) * size**2 > LEAST_TIP_AREA
    taken = touching[(touching > 0) & large[touching]]
    return np.asarray(ndimage.binary_fill_holes(mask | np.isin(labels, taken)))


def _overlap(a: Mask, b: Mask) -> float:
    return float((a & b).sum() / max(int((a | b).sum()), 1))


def _dabbed(rectified: RectifiedPhoto, cells: Cells, dabs: Sequence[tuple[float, float]]) -> Mask:
    mask = np.zeros(cells.usable.shape, dtype=bool)
    if not dabs:
        return mask
    rows, columns = np.indices(mask.shape)
    for x, y in (rectified.to_pixels(dabs) + 0.5) / cells.step - 0.5:
        mask |= (columns - x) ** 2 + (rows - y) ** 2 <= (DAB / cells.size) ** 2
    return mask & cells.usable


def _first_guess(cells: Cells, is_hide: Mask, is_floor: Mask) -> list[tuple[Mask, int]]:
    """Rough masks of what is unlike the floor, each with the first feature it may be learnt from.

    By colour and texture, by all, and by brightness alone; a guess that does without brightness goes on
    without it (first feature 1), or it would drift to the nearest shadow.
    """
    from scipy import ndimage
    from skimage.filters import threshold_otsu

    known = cells.ring | is_floor | (cells.border & ~is_hide)
    guesses: list[tuple[Mask, int]] = []
    for channels in ((1, 2, 3, 4), (0, 1, 2, 3, 4), (1, 2), (3, 4), (0,)):
        values = cells.features[..., channels]
        floor = _floor_of(values, known, cells)
        unlike = np.sqrt(np.maximum(floor.distance(values.reshape(-1, len(channels))), 0)).reshape(
            known.shape
        )
        unlike = ndimage.gaussian_filter(np.log(unlike + 0.5), 2.0)
        usable = unlike[cells.usable]
        if np.ptp(usable) < 0.1:
            continue
        level = float(threshold_otsu(usable))
        mask = _largest((unlike > level) & cells.usable & ~is_floor | is_hide, cells, is_hide)
        if mask is not None:
            guesses.append((mask, min(channels[0], 1)))
    if is_hide.any():
        near = ndimage.distance_transform_edt(~is_hide) * cells.size < 60
        guesses.append((near & cells.usable & ~is_floor, 0))
    return guesses


def _floor_of(values: Floats, known: Mask, cells: Cells) -> Mixture:
    """The floor's look, from where it is known; a border that looks unlike the ring round the reference is dropped."""
    samples = values[known]
    floor = fit_mixture(samples, 4)
    if cells.ring.sum() > 60:
        # A hide that touches the picture's border puts its own look among the floor's: the ring never does.
        share = floor.shares(values[cells.ring])
        keep = (share > 0.02) | (floor.weights > 0.35)
        floor = floor.only(keep)
    return floor


def _largest(mask: Mask, cells: Cells, is_hide: Mask) -> Mask | None:
    """The one part of a mask that is most likely the hide: large, not hugging the border; its holes filled."""
    from scipy import ndimage

    radius = max(1, round(8 / cells.size))
    opened = ndimage.binary_opening(mask, structure=_disc(radius))
    labels, count = ndimage.label(opened)
    if count == 0:
        return None
    areas = np.bincount(labels.ravel(), minlength=count + 1).astype(float)
    areas[0] = 0
    on_border = np.bincount(labels[cells.border], minlength=count + 1) / max(int(cells.border.sum()), 1)
    worth = areas * np.clip(1 - 2.5 * on_border, 0.02, 1)
    if is_hide.any():
        worth = np.where(np.bincount(labels[is_hide], minlength=count + 1) > 0, areas, 0)
    best = int(np.argmax(worth))
    if areas[best] < 0.01 * cells.usable.sum():
        return None
    return np.asarray(ndimage.binary_fill_holes(labels == best) & cells.usable)


def _disc(radius: int) -> Mask:
    reach = np.arange(-radius, radius + 1)
    return np.asarray(reach[:, None] ** 2 + reach[None] ** 2 <= radius * radius + 0.5)


def _learn(
    cells: Cells, mask: Mask, is_hide: Mask, is_floor: Mask, first: int = 0
) -> tuple[Mask, Floats, Floats | None] | None:
    """One round: learn hide and floor from a mask, ask every cell which it is like, and take the largest part.

    Only features from number `first` on are used. Returns the mask, the log odds, and those of colour alone where
    colour can tell.
    """
    from scipy import ndimage

    inside, outside = _sure_parts(cells, mask, is_hide, is_floor)
    if inside.sum() < 60 or outside.sum() < 60:
        return None
    likeness = _likeness(cells.features[..., first:], inside, outside)
    # The strength of texture is read over some width, so it blurs the edge: there colour decides, if it can.
    plain = _likeness(cells.features[..., first:3], inside, outside)
    telling = min(float(plain[inside].mean()), float(-plain[outside].mean())) > 1.5
    if telling:
        reach = 45 / cells.size
        rim = ndimage.distance_transform_edt(mask) + ndimage.distance_transform_edt(~mask) < reach
        likeness = np.where(rim, 0.8 * plain + 0.2 * likeness, likeness)
    likeness[is_hide], likeness[is_floor] = 8, -8
    likeness[~cells.usable] = -8
    likeness = ndimage.gaussian_filter(likeness, 1.2)
    largest = _largest(likeness > 0, cells, is_hide)
    if largest is None:
        return None
    return largest, likeness, np.where(cells.usable, plain, -8) if telling else None


def _sure_parts(cells: Cells, mask: Mask, is_hide: Mask, is_floor: Mask) -> tuple[Mask, Mask]:
    """Cells well inside the mask and well outside, and what was dabbed."""
    from scipy import ndimage

    inside = ndimage.binary_erosion(mask, iterations=3) | is_hide
    outside = (cells.usable & ~ndimage.binary_dilation(mask, iterations=3)) | is_floor
    return inside & ~is_floor, outside & ~is_hide


def _worth(cells: Cells, mask: Mask, is_hide: Mask, is_floor: Mask) -> float:
    """How far a mask is to be believed: what colour and texture say of it, and a little what all features say.

    A shadow parts from the rest by brightness as sharply as a hide does, by nothing else.
    """
    inside, outside = _sure_parts(cells, mask, is_hide, is_floor)
    if inside.sum() < 60 or outside.sum() < 60:
        return -np.inf
    free = _standing_out(cells, mask, _likeness(cells.features[..., 1:], inside, outside))
    return free + 0.3 * _standing_out(cells, mask, _likeness(cells.features, inside, outside))


def _likeness(values: Floats, inside: Mask, outside: Mask) -> Floats:
    """Log odds (h, w) of hide to floor, each learnt from its mask."""
    hide, floor = fit_mixture(values[inside], 4), fit_mixture(values[outside], 6)
    flat = values.reshape(-1, values.shape[-1])
    odds = np.clip(hide.log_density(flat) - floor.log_density(flat), -8, 8)
    return odds.reshape(inside.shape).astype(np.float32)


def _standing_out(cells: Cells, mask: Mask, likeness: Floats) -> float:
    """How sure a separation is: mean log odds on both sides, less for ragged shapes and for hugging the border."""
    from scipy import ndimage

    outside = cells.usable & ~mask
    share = float(mask.sum()) / float(cells.usable.sum())
    if not 0.01 < share < 0.95 or outside.sum() < 50:
        return -np.inf
    sure = min(float(likeness[mask].mean()), -float(likeness[outside].mean()))
    rim = int((mask & ~ndimage.binary_erosion(mask)).sum())
    round_rim = float(np.sqrt(4 * np.pi * mask.sum()))
    at_border = float((mask & cells.border).sum() / max(int(cells.border.sum()), 1))
    on_ring = float((mask & cells.ring).sum() / max(int(cells.ring.sum()), 1))
    # A whole hide has legs: its rim is up to about twice a disc's.
    return (
        sure
        - 1.0 * max(0.0, rim / round_rim - 1.8)
        - 6 * max(0.0, at_border - 0.05)
        - 6 * max(0.0, on_ring - 0.05)
    )
