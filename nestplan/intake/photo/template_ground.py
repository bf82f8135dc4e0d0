"""Templates on a plain ground: what the ground looks like everywhere, and roughly where things lie on it.

A plain ground is one colour under uneven light: a smooth field is fitted to it, and what differs lies on it. Not
here: the exact edges (template_edges), what is punched and drawn (template_marks).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from nestplan.errors import InputError
from nestplan.intake.photo.raster import ring_mask
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.rectification import RectifiedPhoto

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Mask = NDArray[np.bool_]

__all__ = [
    "SHADE_OFFSET",
    "Ground",
    "RoughTemplate",
    "log_colour",
    "read_ground",
    "rough_templates",
    "surface_colour",
]

WORKING_PIXELS = 1_300_000
"""Pixels of the reduced picture in which things are looked for."""
UNLIKE = 5.5
"""Standard errors from the ground beyond which a place is no ground."""
LEAST_SPREAD = 0.02
"""Standard error, logarithm of brightness, that any ground has."""
FIELD_MM = 45.0
"""Over how many mm (standard deviation) the ground's light is averaged: light changes slowly, edges do not."""
LEAST_AREA = 150.0
"""Things smaller than this, mm², are crumbs, not templates."""
LEAST_CONTRAST = 0.14
"""A template whose colour differs from the ground by less, a logarithm, is told of."""
SAME_COLOUR = 0.16
"""Colours (logarithms) closer than this may belong to one template."""
SHADE_OFFSET = 12.0
"""Levels of 255 that are added to colours before their logarithms are taken: in the dark noise rules."""


@dataclass(frozen=True, eq=False)
class Ground:
    """The ground of a photograph: `colour` (h, w, 3), log colour of the bare ground in a picture reduced by `step`,
    its `inverse_spread` (3, 3), where it was `seen` bare, and what is `unlike` it (h, w) bool."""

    colour: Floats
    step: int
    inverse_spread: Floats
    seen: Mask
    unlike: Mask

    def at_full_size(self, rows: slice, columns: slice) -> Floats:
        """The ground's log colour (h, w, 3) under a part of the photograph itself."""
        from scipy.ndimage import map_coordinates

        y = (np.arange(rows.start, rows.stop) + 0.5) / self.step - 0.5
        x = (np.arange(columns.start, columns.stop) + 0.5) / self.step - 0.5
        grid = np.meshgrid(y, x, indexing="ij")
        return np.stack(
            [map_coordinates(self.colour[..., c], grid, order=1, mode="nearest") for c in range(3)], axis=-1
        )


@dataclass(frozen=True, eq=False)
class RoughTemplate:
    """A thing on the ground, roughly: where in the photograph (`rows`, `columns`), which pixels there (`mask`, holes
    filled), how likely each is it (`share`, 1 on it, 0 on the ground), its log colour against the ground's (3,), and
    whether it touches the picture's border or the sheet."""

    rows: slice
    columns: slice
    mask: Mask
    share: Floats
    colour: Floats
    cut_off: bool
    by_sheet: bool

    @property
    def contrast(self) -> float:
        """How far its colour lies from the ground's, a logarithm."""
        return float(np.abs(self.colour).max())


def log_colour(image: NDArray[np.uint8]) -> Floats:
    """Logarithms (h, w, 3) of colours, flattened in the dark where noise rules."""
    table = np.log(np.arange(256, dtype=np.float32) + np.float32(SHADE_OFFSET))
    return np.asarray(table[image])


def read_ground(photo: Photo, rectified: RectifiedPhoto) -> Ground:
    """The ground's colour all over the photograph.

    Raises InputError if there is no plain ground round the sheet and along the picture's border.
    """
    from PIL import Image
    from scipy import ndimage

    step = max(1, int(np.ceil(np.sqrt(photo.size[0] * photo.size[1] / WORKING_PIXELS))))
    small = log_colour(np.asarray(Image.fromarray(photo.image).reduce(step)))
    rows, columns = small.shape[:2]
    sheet = _sheet_mask(photo, rectified, (rows, columns), step)
    allowed = ~ndimage.binary_dilation(sheet, iterations=3)
    away = ndimage.distance_transform_edt(~sheet) if sheet.any() else np.full((rows, columns), 1e6)
    edge = np.zeros((rows, columns), dtype=bool)
    rim = max(4, round(0.03 * min(rows, columns)))
    edge[:rim], edge[-rim:], edge[:, :rim], edge[:, -rim:] = True, True, True, True
    colour, spread = _smooth_ground(small, allowed & (edge | ((away > 4) & (away < 25))))
    smooth = ndimage.gaussian_filter(small, (0.7, 0.7, 0))
    unlike = _distance(smooth - colour, spread) > UNLIKE
    reach = FIELD_MM / (mm_per_pixel(rectified, photo) * step)
    for _ in range(3):
        bare = allowed & ~ndimage.binary_dilation(unlike, iterations=4)
        if bare.mean() < 0.05:
            raise InputError(
                "There is too little bare ground between the things in the picture, or it is not plain.",
                mend="Lay the templates a finger's width apart on one plain colour (a painted board, a cloth) "
                "that differs from theirs.",
                file=photo.name,
            )
        colour = _averaged(small, bare, colour, reach)
        spread = _spread(smooth[bare] - colour[bare])
        unlike = allowed & (_distance(smooth - colour, spread) > UNLIKE)
    return Ground(colour, step, np.linalg.inv(spread).astype(np.float32), allowed, unlike)


def mm_per_pixel(rectified: RectifiedPhoto, photo: Photo, at: tuple[float, float] | None = None) -> float:
    """How many mm of the ground a pixel of the photograph shows, at a place in it or in its middle."""
    x, y = at or (photo.size[0] / 2, photo.size[1] / 2)
    corners = rectified.floor_points([(x - 5, y - 5), (x + 5, y - 5), (x + 5, y + 5), (x - 5, y + 5)])
    crossing = (corners[2] - corners[0], corners[3] - corners[1])
    return float(np.sqrt(abs(crossing[0][0] * crossing[1][1] - crossing[0][1] * crossing[1][0]) / 2) / 10)


def rough_templates(photo: Photo, rectified: RectifiedPhoto, ground: Ground) -> list[RoughTemplate]:
    """The things on the ground, each by itself, those that touch the picture's border too."""
    from scipy import ndimage

    size = mm_per_pixel(rectified, photo) * ground.step
    least = LEAST_AREA / size**2
    waiting = [ndimage.binary_opening(ground.unlike)]
    found: list[RoughTemplate] = []
    near_sheet = ndimage.binary_dilation(~ground.seen, iterations=3)
    small = None
    for _ in range(3):
        labels, _ = ndimage.label(waiting[-1])
        rest = np.zeros_like(ground.unlike)
        for number, box in enumerate(ndimage.find_objects(labels), start=1):
            patch = labels[box] == number
            if patch.sum() < least:
                continue
            if small is None:
                small = _relative(photo, ground)
            core = ndimage.binary_erosion(patch, iterations=3)
            core = core if core.any() else patch
            colour = _commonest(small[box][core])
            parts = _parted(photo, ground, box, patch, colour, near_sheet, least)
            found += parts
            left = patch.copy()
            for part in parts:
                left &= ~_reduced_to(part, box, ground.step)
            rest[box] |= ndimage.binary_opening(left, iterations=4)
        if not rest.any():
            break
        waiting.append(rest)
    return found


def _relative(photo: Photo, ground: Ground) -> Floats:
    from PIL import Image

    return log_colour(np.asarray(Image.fromarray(photo.image).reduce(ground.step))) - ground.colour


def _commonest(colours: Floats) -> Floats:
    """The commonest of colours (n, 3): the middle of the densest heap."""
    some = colours[:: max(1, len(colours) // 300)]
    near = np.abs(some[:, None] - some[None]).max(axis=2) < SAME_COLOUR / 2
    heap = some[int(np.argmax(near.sum(axis=1)))]
    for _ in range(3):
        heap = np.median(colours[np.abs(colours - heap).max(axis=1) < SAME_COLOUR], axis=0)
    return np.asarray(heap, dtype=np.float32)


def surface_colour(photo: Photo, ground: Ground, rows: slice, columns: slice) -> Floats:
    """Log colours (h, w, 3) of a part of the photograph against the bare ground's there."""
    return log_colour(photo.image[rows, columns]) - ground.at_full_size(rows, columns)


def _parted(
    photo: Photo,
    ground: Ground,
    box: tuple[slice, slice],
    patch: Mask,
    colour: Floats,
    near_sheet: Mask,
    least: float,
) -> list[RoughTemplate]:
    """The templates of one colour within a patch, in full size: a shadow that joins two does not share it."""
    from scipy import ndimage

    step, margin = ground.step, 12
    width, height = photo.size
    rows = slice(max(box[0].start * step - margin, 0), min(box[0].stop * step + margin, height))
    columns = slice(max(box[1].start * step - margin, 0), min(box[1].stop * step + margin, width))
    relative = ndimage.gaussian_filter(surface_colour(photo, ground, rows, columns), (0.7, 0.7, 0))
    way = np.linalg.solve(np.linalg.inv(ground.inverse_spread) + 0.02 * np.eye(3), colour)
    share = (relative @ way / float(colour @ way)).astype(np.float32)
    labels, _ = ndimage.label(share > 0.5)
    found = []
    for number, inner in enumerate(ndimage.find_objects(labels), start=1):
        inside = labels[inner] == number
        if inside.sum() < least * step * step:
            continue
        whole = ndimage.binary_fill_holes(inside)
        place = tuple(
            slice(part.start + outer.start, part.stop + outer.start)
            for part, outer in zip(inner, (rows, columns), strict=True)
        )
        if not _overlaps(whole, place, patch, box, step):
            continue
        found.append(_grown(whole, place, share, (rows, columns), colour, photo, near_sheet, step))
    return found


def _overlaps(
    whole: Mask, place: tuple[slice, ...], patch: Mask, box: tuple[slice, slice], step: int
) -> bool:
    """Whether at least half of a full-size mask lies in a patch of the reduced picture."""
    y, x = np.nonzero(whole[::step, ::step])
    y = (y * step + place[0].start) // step - box[0].start
    x = (x * step + place[1].start) // step - box[1].start
    good = (y >= 0) & (x >= 0) & (y < patch.shape[0]) & (x < patch.shape[1])
    return bool(patch[y[good], x[good]].sum() > 0.3 * max(len(y), 1))


def _grown(
    whole: Mask,
    place: tuple[slice, ...],
    share: Floats,
    outer: tuple[slice, slice],
    colour: Floats,
    photo: Photo,
    near_sheet: Mask,
    step: int,
) -> RoughTemplate:
    """The template with a margin round it, cut to the photograph."""
    width, height = photo.size
    cut = (
        place[0].start <= 2
        or place[1].start <= 2
        or place[0].stop >= height - 2
        or place[1].stop >= width - 2
    )
    margin = 10
    rows = slice(max(place[0].start - margin, outer[0].start), min(place[0].stop + margin, outer[0].stop))
    columns = slice(max(place[1].start - margin, outer[1].start), min(place[1].stop + margin, outer[1].stop))
    mask = np.zeros((rows.stop - rows.start, columns.stop - columns.start), dtype=bool)
    mask[
        place[0].start - rows.start : place[0].stop - rows.start,
        place[1].start - columns.start : place[1].stop - columns.start,
    ] = whole
    part = share[
        rows.start - outer[0].start : rows.stop - outer[0].start,
        columns.start - outer[1].start : columns.stop - outer[1].start,
    ]
    y, x = np.nonzero(mask)
    y = np.clip((y[::7] + rows.start) // step, 0, near_sheet.shape[0] - 1)
    x = np.clip((x[::7] + columns.start) // step, 0, near_sheet.shape[1] - 1)
    return RoughTemplate(rows, columns, mask, part, colour, cut, bool(near_sheet[y, x].any()))


def _reduced_to(part: RoughTemplate, box: tuple[slice, slice], step: int) -> Mask:
    """A template's mask, two cells wider, in a box of the reduced picture."""
    from scipy import ndimage

    mask = np.zeros((box[0].stop - box[0].start, box[1].stop - box[1].start), dtype=bool)
    y, x = np.nonzero(part.mask)
    y, x = (y + part.rows.start) // step - box[0].start, (x + part.columns.start) // step - box[1].start
    good = (y >= 0) & (x >= 0) & (y < mask.shape[0]) & (x < mask.shape[1])
    mask[y[good], x[good]] = True
    return np.asarray(ndimage.binary_dilation(mask, iterations=2))


def _sheet_mask(photo: Photo, rectified: RectifiedPhoto, shape: tuple[int, int], step: int) -> Mask:
    mask = np.zeros(shape, dtype=bool)
    if rectified.has_reference:
        for quad in rectified.reference.reshape(-1, 4, 2):
            side = np.concatenate([np.linspace(quad[k], quad[(k + 1) % 4], 12)[:-1] for k in range(4)])
            mask |= ring_mask((rectified.photo_points(side) + 0.5) / step - 0.5, shape)
    return mask


def _smooth_ground(small: Floats, sample: Mask) -> tuple[Floats, Floats]:
    """A quadratic surface (h, w, 3) through the sampled places, whatever lies on some of them, and the spread."""
    rows, columns = small.shape[:2]
    y, x = np.meshgrid(np.linspace(-1, 1, rows), np.linspace(-1, 1, columns), indexing="ij")
    basis = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1).astype(np.float32)
    at = np.flatnonzero(sample.ravel())
    at = at[:: max(1, len(at) // 6000)]
    a, b = basis.reshape(-1, 6)[at], small.reshape(-1, 3)[at]
    heap = _commonest(b)
    weight = (np.abs(b - heap).max(axis=1) < 3 * SAME_COLOUR).astype(np.float32)
    coefficients = np.zeros((6, 3), dtype=np.float32)
    away = b - heap
    for _ in range(12):
        root = np.sqrt(weight)[:, None]
        coefficients = np.linalg.lstsq(a * root, b * root, rcond=None)[0]
        away = b - a @ coefficients
        off = np.abs(away).max(axis=1)
        scale = max(1.4826 * float(np.median(off[weight > 0])), LEAST_SPREAD)
        weight = np.clip(1 - (off / (4.5 * scale)) ** 2, 0, None).astype(np.float32) ** 2
    return np.asarray(basis @ coefficients), _spread(away[weight > 0.1])


def _spread(away: Floats) -> Floats:
    """Covariance (3, 3) of the ground's colours, few strangers among them."""
    off = np.abs(away).max(axis=1)
    calm = away[off < 4 * max(float(np.median(off)), LEAST_SPREAD)]
    return np.asarray(np.cov(calm[:: max(1, len(calm) // 50_000)].T) + LEAST_SPREAD**2 * np.eye(3))


def _distance(away: Floats, spread: Floats) -> Floats:
    inverse = np.linalg.inv(spread).astype(np.float32)
    return np.asarray(np.sqrt(np.maximum(((away @ inverse) * away).sum(axis=-1), 0)))


def _averaged(small: Floats, bare: Mask, before: Floats, reach: float) -> Floats:
    """The bare ground's colour averaged over `reach` pixels; where there is none near, as it was believed before."""
    from scipy import ndimage

    weight = bare.astype(np.float32)
    # On every third pixel: the field is smooth.
    thin = (slice(None, None, 3), slice(None, None, 3))
    away = np.where(bare[..., None], small - before, 0).astype(np.float32)
    w = ndimage.gaussian_filter(weight[thin], reach / 3) + 0.02
    mended = np.empty_like(before)
    shape = weight.shape
    y, x = np.meshgrid(np.arange(shape[0]) / 3, np.arange(shape[1]) / 3, indexing="ij")
    for c in range(3):
        smooth = ndimage.gaussian_filter(away[..., c][thin], reach / 3) / w
        mended[..., c] = before[..., c] + ndimage.map_coordinates(smooth, [y, x], order=1, mode="nearest")
    return mended
