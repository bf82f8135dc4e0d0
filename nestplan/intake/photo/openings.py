"""Openings of a hide: where the floor is seen through the leather, or a thing lies on it.

What looks more like floor than like leather may be a hole, a thing, a spot or a highlight. A hole shows colours of the
floor, however shaded, and at its rim those of the leather mixed in by lens and coder; a highlight runs out into the
leather, where a hole ends sharply.

Not here: what spoils leather without going through it (flaws).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from nestplan.intake.photo.gaussian_mixture import GaussianMixture, fit_gaussian_mixture
from nestplan.intake.photo.leather_pattern import SHARP, LeatherTones, tones_of
from nestplan.intake.photo.raster import block_means, colour_looks, ring_mask
from nestplan.intake.photo.rectification import RectifiedPhoto

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Looks = NDArray[np.float32]
    Mask = NDArray[np.bool_]

__all__ = [
    "FinePicture",
    "Opening",
    "differs_from_surroundings",
    "find_openings",
    "fine_picture",
    "goes_on",
    "unclear_openings",
]

LEAST_OPENING = 7.0
"""Openings smaller than this across are left to the flaw suggestions, mm."""
OPENING_REACH = 5.0
"""How far beyond what is surely floor a hole's edge is looked for, mm."""
NOT_FLOOR, NOT_FLOOR_SHARE, MIDDLE_SHARE = 16.0, 0.5, 0.55
"""Squared Mahalanobis distance of a place's colours to the floor, however dark, beyond which it shows no floor; the
share of such places at which what looks like an opening may be a thing on the leather; and where they are asked: beyond
this share of the greatest depth, for at its rim the leather's colours are mixed in. In drawn holes at most 9 % were so
(40 % of one across two tiles of a checkered floor), of a cup, a tool and a paper 85 % and more."""
MIXED_SHARES, MIXED_REACH = (0.15, 0.3, 0.45), 10.0
"""How much of the leather's colour may be mixed into the floor's, and up to how far from a hole's edge, pixels: a coder
keeps one tint for two pixels and spreads it over sixteen."""
LEATHER_SHARE = 0.5
"""Share of the middle of an opening that may look like a tone of the leather before it is asked about: on spotted
leather a spot is as like the floor as any hole."""
GOING_ON_SHARE = 0.03
"""Share of what lies round an opening that may look like its middle (drawn holes none, an arc of a cup's rim 12 %)."""
LEAST_LEVELS = 5.0
"""Levels of 255 by which an opening differs from the leather round it in one colour at least: what a coder makes of
dark leather beside a pale spot has a colour of its own too (3 to 4.5 levels; of 24 drawn holes none differed by less
than 7.4, those of black leather on a dark carpet)."""
LEAST_COLOUR_SPREAD = 0.03
"""Least spread of colours (logarithms of their ratios) round a place that may be an opening."""
AROUND = (4, 9)
"""Between how many blocks from a place that may be an opening the leather round it is read: the place found may be but
the middle of the opening."""
SHADOWS = (0.0, 0.3, 0.6, 0.9, 1.2)
"""Darkenings (logarithms) in which floor in a hole and leather are still what they are: floor there lies in the shade
of the leather round it, and a dark spot is darkened leather. Colour tells them apart, or floor brighter than
leather."""
MANY_OPENINGS = 6
"""If there are more openings than this, all are asked about: spots of the floor's colour look like openings."""
LARGE_OPENING = 80.0
"""Openings longer than this are asked about whatever they look like, mm: a tool of the floor's colour looks like it."""


@dataclass(frozen=True, eq=False)
class Opening:
    """A place inside where the leather is not seen: its `ring` (n, 2), mm, and whether that is floor for certain."""

    ring: Floats
    is_floor: bool


@dataclass(frozen=True, eq=False)
class FinePicture:
    """A rectified picture in blocks of `step` × `step` pixels, about 1.5 mm: their `colours` and `looks`, (h, w, 3)."""

    step: int
    colours: Looks
    looks: Looks


@dataclass(frozen=True, eq=False)
class _Evidence:
    """What an opening is judged by: the picture, the floor's looks, the leather's tones, and blocks well inside it."""

    fine: FinePicture
    floor: GaussianMixture
    tones: LeatherTones
    core: Mask

    def shows_floor(self, patch: Mask, corner: tuple[int, int]) -> bool:
        """Whether the middle of an opening shows the floor's colours, and nothing of the leather's own.

        `patch`: its blocks in a box, `corner`: first (column, row) of that.
        """
        from scipy import ndimage

        away = ndimage.distance_transform_edt(patch)
        rows, columns = np.nonzero(away > MIDDLE_SHARE * away.max())
        looks = self.fine.looks[rows + corner[1], columns + corner[0]]
        box = tuple(slice(low, low + size) for low, size in zip(corner[::-1], patch.shape, strict=True))
        around = self.fine.looks[box][_round_about(patch)]
        if not len(around) or goes_on(looks, around, self.tones):
            return False
        distance = self.floor.distance_as_lit(looks, SHADOWS)
        near = away[rows, columns] * self.fine.step < MIXED_REACH
        mixed = self._distance_mixed(looks[near], np.median(around, axis=0))
        distance[near] = np.minimum(distance[near], mixed)
        if float((distance > NOT_FLOOR).mean()) >= NOT_FLOOR_SHARE:
            return False
        return float(self.tones.hold(looks).mean()) <= LEATHER_SHARE or (
            float(np.median(looks[:, 0])) > float(np.percentile(around[:, 0], 75))
            and self._ends_as_no_shine_does(patch, box)
        )

    def _distance_mixed(self, looks: Looks, leather: Looks) -> Floats:
        """Squared Mahalanobis distance (n,) to the floor of looks (n, 3) freed of some of the leather's colour (3,)."""
        seen, mixed = _bright_colours(looks), _bright_colours(leather)
        best = np.full(len(looks), np.inf)
        for share in MIXED_SHARES:
            freed = np.maximum((seen - share * mixed) / (1 - share), 1.0)
            brightness = np.log(freed.mean(axis=1))
            ratios = np.log(freed[:, ::2] / freed[:, 1:2])
            own = np.column_stack([brightness, ratios]).astype(np.float32)
            np.minimum(best, self.floor.distance_as_lit(own, SHADOWS), out=best)
        return best

    def _ends_as_no_shine_does(self, patch: Mask, box: tuple[slice, ...]) -> bool:
        """Whether a place that has a tone of the leather ends sharply, while the leather's tones run into each other as
        shine and shadow do, and not as spots do."""
        from scipy import ndimage

        rim = ndimage.binary_dilation(patch) & ~ndimage.binary_erosion(patch)
        if float(np.median(self.tones.slopes(self.fine.looks[box])[rim])) < 2 * SHARP:
            return False
        return not self.tones.end_sharply(self.fine.looks, self.core)


def fine_picture(rectified: RectifiedPhoto) -> FinePicture:
    """What openings are looked for in."""
    step = max(1, round(1.5 / rectified.mm_per_pixel))
    colours = block_means(rectified.image, step)
    return FinePicture(step, colours, colour_looks(colours))


def find_openings(rectified: RectifiedPhoto, ring: Floats, fine: FinePicture) -> tuple[Opening, ...]:
    """Places inside a hide's outline (n, 2), mm, where the floor is seen through the leather, or a thing lies on it."""
    from scipy import ndimage
    from skimage.measure import find_contours

    size = fine.step * rectified.mm_per_pixel
    small, features = fine.colours, fine.looks
    seen = _blocks_visible(rectified, fine.step)
    outside = seen & ~_grown_mask(rectified, ring, 12.0, fine.step, seen.shape)
    core = _grown_mask(rectified, ring, -12.0, fine.step, seen.shape)
    if core.sum() < 500 or outside.sum() < 500:
        return ()
    floor, hide = (
        fit_gaussian_mixture(features[outside][::7], 5),
        fit_gaussian_mixture(features[core][::7], 4),
    )
    # A small share of the leather may be the holes themselves.
    hide = hide.restricted_to(hide.weights > 0.04)
    evidence = _Evidence(fine, floor, tones_of(features[core][::7]), core)
    odds = np.full(seen.shape, -6.0, dtype=np.float32)
    odd = _grown_mask(rectified, ring, -8.0, fine.step, seen.shape)
    odd[odd] = hide.distance(features[odd]) > 6.0
    odds[odd] = np.clip(
        floor.log_density_as_lit(features[odd], SHADOWS) - hide.log_density_as_lit(features[odd], SHADOWS),
        -6,
        6,
    )
    odds = ndimage.gaussian_filter(odds, 2.0 / size)
    labels, _ = ndimage.label(odds > 0.5)
    openings = []
    for number, box in enumerate(ndimage.find_objects(labels), start=1):
        patch = labels[box] == number
        if patch.sum() * size * size < np.pi / 4 * LEAST_OPENING**2 or not differs_from_surroundings(
            small, features, patch, box
        ):
            continue
        if float(np.percentile(odds[box][patch], 80)) < 1.5:
            continue
        patch, corner = _grown_to_its_edge(small, patch, box, round(OPENING_REACH / size))
        contours = find_contours(np.pad(ndimage.gaussian_filter(np.pad(patch, 3).astype(float), 0.7), 1), 0.5)
        if not contours:
            continue
        contour = max(contours, key=len)[:-1][:, ::-1] - 4 + corner
        if len(contour) > 5:
            hole = rectified.to_mm((contour + 0.5) * fine.step - 0.5)
            is_floor = float(np.ptp(hole, axis=0).max()) < LARGE_OPENING and evidence.shows_floor(
                patch, corner
            )
            openings.append(Opening(_opening_ring(hole, 1.0 + size), is_floor))
    return tuple(openings)


def goes_on(middle: Looks, around: Looks, tones: LeatherTones) -> bool:
    """Whether some of what lies `around` an opening, looks (n, 3), is like its `middle` (m, 3): an arc of a light rim
    may look like floor."""
    own, leather = np.median(middle, axis=0), np.median(around, axis=0)
    to_own = np.linalg.norm((around - own) @ tones.spread.T, axis=1)
    to_leather = float(np.linalg.norm((leather - own) @ tones.spread.T))
    return float((to_own < 0.5 * to_leather).mean()) > GOING_ON_SHARE


def unclear_openings(openings: Sequence[Opening]) -> list[Opening]:
    """Those that are asked about."""
    return [each for each in openings if len(openings) > MANY_OPENINGS or not each.is_floor]


def _grown_mask(
    rectified: RectifiedPhoto, ring: Floats, reach: float, half: int, shape: tuple[int, ...]
) -> Mask:
    """The blocks inside a ring (n, 2), mm, that is grown by `reach` mm all round, or shrunk if that is negative."""
    import shapely

    mask = np.zeros(shape, dtype=bool)
    grown = shapely.buffer(shapely.make_valid(shapely.Polygon(ring)), reach, quad_segs=4)
    for part in shapely.get_parts(grown).tolist():
        mask |= ring_mask(
            (rectified.to_pixels(np.asarray(part.exterior.coords)[:-1]) + 0.5) / half - 0.5, shape
        )
    return mask


def _round_about(patch: Mask) -> Mask:
    """The blocks between `AROUND` from a patch, in its box."""
    from scipy import ndimage

    near, far = (ndimage.binary_dilation(patch, iterations=reach) for reach in AROUND)
    return np.asarray(far & ~near)


def _bright_colours(looks: Looks) -> Floats:
    """The colours (…, 3), each 12 levels brighter, that have such looks (…, 3): see `raster.colour_looks`."""
    red, blue = np.exp(looks[..., 1]), np.exp(looks[..., 2])
    green = 3 * np.exp(looks[..., 0]) / (red + 1 + blue)
    return np.asarray(np.stack([red * green, green, blue * green], axis=-1), dtype=np.float64)


def _opening_ring(points: Floats, spare: float) -> Floats:
    """A tidy counter-clockwise ring that holds all the points, `spare` mm beyond: nothing is cut out of a hole."""
    import shapely

    shape = shapely.simplify(
        shapely.buffer(shapely.make_valid(shapely.Polygon(points)), spare, quad_segs=3), 0.4
    )
    largest = max(getattr(shape, "geoms", [shape]), key=lambda part: float(part.area))
    return np.asarray(shapely.orient_polygons(largest).exterior.coords, dtype=np.float64)[:-1]


def _blocks_visible(rectified: RectifiedPhoto, half: int) -> Mask:
    seen = block_means(rectified.visible.astype(np.float32), half) > 0.99
    if rectified.has_reference:
        for quad in rectified.reference.reshape(-1, 4, 2):
            middle = quad.mean(axis=0)
            seen = seen & ~ring_mask(rectified.to_pixels(middle + (quad - middle) * 1.06) / half, seen.shape)
    return np.asarray(seen)


def _grown_to_its_edge(
    small: NDArray[np.float32], patch: Mask, box: tuple[slice, slice], reach: int
) -> tuple[Mask, tuple[int, int]]:
    """A patch grown by up to `reach` blocks over what is more like it than like the leather round it, and its
    corner.

    What is surely floor stops short of a hole's edge: there blur and the leather's shadow lie. Returns the mask
    of a larger box and that box's first (column, row).
    """
    from scipy import ndimage

    low = [max(part.start - 3 * reach, 0) for part in box]
    rows, columns = (slice(first, part.stop + 3 * reach) for first, part in zip(low, box, strict=True))
    part = np.stack([ndimage.gaussian_filter(small[rows, columns, c], 0.7) for c in range(3)], axis=-1)
    inner = np.zeros(part.shape[:2], dtype=bool)
    top, left = box[0].start - low[0], box[1].start - low[1]
    inner[top : top + patch.shape[0], left : left + patch.shape[1]] = patch
    away = ndimage.distance_transform_edt(~inner)
    around = (away > 1.5 * reach) & (away <= 2.5 * reach)
    if around.any():
        leather = np.median(part[around], axis=0)
        way = np.median(part[inner], axis=0) - leather
        share = (part - leather) @ way / max(float(way @ way), 1e-6)
        labels, _ = ndimage.label(((share > 0.5) & (away <= reach)) | inner)
        inner = ndimage.binary_fill_holes(np.isin(labels, np.unique(labels[inner])))
    return inner, (low[1], low[0])


def differs_from_surroundings(
    small: NDArray[np.float32], features: NDArray[np.float32], patch: Mask, box: tuple[slice, slice]
) -> bool:
    """Whether a patch differs from the leather round it by more than the leather's own texture.

    Either in brightness or in colour: floor in the shade of a hole may be as dark as black leather.
    """

    rows = slice(max(box[0].start - AROUND[1], 0), box[0].stop + AROUND[1])
    columns = slice(max(box[1].start - AROUND[1], 0), box[1].stop + AROUND[1])
    part, looks = small[rows, columns], features[rows, columns]
    grown = np.zeros(part.shape[:2], dtype=bool)
    top, left = box[0].start - rows.start, box[1].start - columns.start
    grown[top : top + patch.shape[0], left : left + patch.shape[1]] = patch
    around = _round_about(grown)
    if not around.any():
        return False
    levels = np.abs(part[grown].mean(axis=0) - np.median(part[around], axis=0))
    if float(levels.max()) < LEAST_LEVELS:
        return False
    step = np.abs(part[grown].mean(axis=0) - part[around].mean(axis=0)) / (part[around].std(axis=0) + 3)
    colour = np.abs(looks[grown].mean(axis=0) - looks[around].mean(axis=0))[1:]
    spread = looks[around].std(axis=0)[1:] + LEAST_COLOUR_SPREAD
    return bool(
        step.max() > 2.0 or (colour / spread).max() > 2.0 or part[grown].std() > 2.5 * part[around].std()
    )
