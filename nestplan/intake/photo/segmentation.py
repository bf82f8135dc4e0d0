"""Which part of a rectified photograph is hide and which is floor, roughly: a mask of a few mm a cell.

The floor is known where the reference lies and, mostly, along the picture's border. Colour freed of brightness
and the strength of texture tell leather from it; brightness counts only once both sides have been learnt, so
that shadows stay floor. Not here: the exact edge (edge_path) and the outline made of it (outline).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from nestplan.errors import InputError
from nestplan.intake.photo.gaussian_mixture import GaussianMixture, fit_gaussian_mixture
from nestplan.intake.photo.raster import block_means, grey_level, parting_level, ring_mask
from nestplan.intake.photo.rectification import RectifiedPhoto

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Mask = NDArray[np.bool_]

__all__ = [
    "SEED_RADIUS",
    "UNLIKE_FLOOR",
    "FeatureGrid",
    "Segmentation",
    "averaged_features",
    "distance_in_any_shade",
    "feature_grid",
    "segment_hide",
]

MOST_CELLS = 150_000
FINEST_CELL = 2.5
"""Cells of the rough picture; a cell is never finer than this many mm."""
SEED_RADIUS = 15.0
LEARNING_ROUNDS = 4
UNLIKE_FLOOR = 3.0
"""Mahalanobis distance of averaged features from all floor that is known beyond which a place is unlike it: 99 % of
rendered floors lie nearer."""
AVERAGED = 15.0
"""Over how many mm (standard deviation) features are averaged before they are held against the known floor."""
UNEXPLAINED = 2.5
"""What it takes from a score if as much as the hide itself is left out that looks unlike the floor."""
SHADES = (-0.25, 0.0, 0.25, 0.5, 0.75)
"""Darkenings (logarithms) in which floor is still floor."""
"""Radius in mm round a seed point."""
THIN = 3
"""The search begins on every so many cells."""
_HIDE_COMPONENTS = 4
"""Normal distributions that a hide's look is learnt as."""
_LEAST_TRAINING = 60
"""Cells from which hide or floor can be learnt."""
LEAST_THING, UNLIKE_HIDE, UNLIKE_HIDE_SHARE = 0.003, 4.0, 0.8
"""Things joined to a hide: least share of its area, the Mahalanobis distance of colours from which on a place is unlike
the hide, and the share of such places."""
LEAST_SEPARATION = 0.4
"""A separation less sure than this is chance: bare floors score below 0, hides of the floor's own colour
above 2."""
LEAST_LEG_END, LEG_END_SHARE, LEG_END_REACH, LEAST_LEG_END_AREA = 2.0, 0.6, 400.0, 400.0
"""What is put back at the ends of legs: its log odds at least, as a share of the hide's own where the floor has its
colours too; within so many mm of the hide, and larger than so many mm2."""
LIKE_HIDE = 95.0
"""Per cent of the hide's own cells that are as near to its colours as what may be a leg."""


@dataclass(frozen=True, eq=False)
class FeatureGrid:
    """The rectified picture in cells of `step` × `step` pixels, `size` mm.

    `features` (h, w, 5): log brightness, two log colour ratios, fine and middling texture (logs). `usable` (h,
    w): seen in the photo and off the reference; `reference_surround`: floor for certain, close round the
    reference.
    """

    features: Floats
    step: int
    size: float
    usable: Mask
    reference_surround: Mask
    border: Mask

    def thinned(self) -> FeatureGrid:
        """Every `THIN`th cell both ways."""
        usable, reference_surround, border = (
            mask[::THIN, ::THIN].copy() for mask in (self.usable, self.reference_surround, self.border)
        )
        features = self.features[::THIN, ::THIN].copy()
        return FeatureGrid(features, THIN * self.step, THIN * self.size, usable, reference_surround, border)


@dataclass(frozen=True, eq=False)
class Segmentation:
    """The cells that show the hide (`mask`), how sure each is (`log_odds`, > 0 is hide), the `score` of this reading,
    and `rivals`: (score, mask) of other readings."""

    mask: Mask
    log_odds: Floats
    score: float
    rivals: tuple[tuple[float, Mask], ...] = ()


def feature_grid(rectified: RectifiedPhoto) -> FeatureGrid:
    """The features every later question is asked of."""
    from scipy import ndimage

    rows, columns = rectified.visible.shape
    size = max(FINEST_CELL, rectified.mm_per_pixel * np.sqrt(rows * columns / MOST_CELLS))
    step = max(1, round(size / rectified.mm_per_pixel))
    rows, columns = rows // step * step, columns // step * step
    picture = rectified.image[:rows, :columns].astype(np.float32)
    colour = block_means(picture, step)
    bright = np.log(grey_level(picture) + 12)
    fine = np.abs(bright - ndimage.gaussian_filter(bright, max(1.2, 2.5 / rectified.mm_per_pixel)))
    fine_texture = ndimage.gaussian_filter(block_means(fine, step), 1.5)
    log_bright = np.log(grey_level(colour) + 12)
    middling = np.abs(log_bright - ndimage.gaussian_filter(log_bright, 3.0))
    middling = ndimage.gaussian_filter(middling, 3.0)
    smooth = np.stack([ndimage.gaussian_filter(colour[..., c], 0.8) for c in range(3)], axis=-1)
    features = np.stack(
        [
            np.log(grey_level(smooth) + 12),
            np.log((smooth[..., 0] + 12) / (smooth[..., 1] + 12)),
            np.log((smooth[..., 2] + 12) / (smooth[..., 1] + 12)),
            np.log(fine_texture + 0.01),
            np.log(middling + 0.01),
        ],
        axis=-1,
    )
    size = step * rectified.mm_per_pixel
    seen = block_means(rectified.visible.astype(np.float32), step) > 0.99
    away = (
        ndimage.distance_transform_edt(~_reference_mask(rectified, rows // step, columns // step, step))
        * size
    )
    usable = seen & (away > 8)
    inward = ndimage.distance_transform_edt(np.pad(seen, 1))[1:-1, 1:-1]
    border = usable & (inward <= max(2.0, 0.035 * min(rows, columns) / step))
    return FeatureGrid(features, step, size, usable, usable & (away > 10) & (away < 80), border)


def _reference_mask(rectified: RectifiedPhoto, rows: int, columns: int, step: int) -> Mask:
    """Cells covered by the reference."""
    mask = np.zeros((rows, columns), dtype=bool)
    for quad in rectified.reference.reshape(-1, 4, 2):
        if not rectified.has_reference:
            break
        mask |= ring_mask((rectified.to_pixels(quad) + 0.5) / step - 0.5, mask.shape)
    return mask


def segment_hide(
    rectified: RectifiedPhoto,
    cells: FeatureGrid,
    *,
    hide_seeds: Sequence[tuple[float, float]] = (),
    floor_seeds: Sequence[tuple[float, float]] = (),
) -> Segmentation:
    """The cells that show the hide, and other ways to read them.

    Seeds are (x, y) mm where the user says: this is hide, this is floor.

    Raises InputError if nothing stands out from the floor.
    """
    seeds = Seeds(_seed_mask(rectified, cells, hide_seeds), _seed_mask(rectified, cells, floor_seeds))
    found = _segmented(cells, seeds)
    if found is None and (seeds.hide.any() or seeds.floor.any()):
        # What was pointed at contradicts the picture: part it without, the outline is bound by the seeds later.
        found = _segmented(cells, Seeds(np.zeros_like(seeds.hide), np.zeros_like(seeds.floor)))
    if found is None:
        raise InputError(
            "No hide was found: nothing in the picture stands out from the floor.",
            mend="Point at a few places on the hide as hide and on the floor as floor, or use another floor.",
            file=rectified.name,
        )
    return found


def _segmented(cells: FeatureGrid, seeds: Seeds) -> Segmentation | None:
    readings = _readings(cells.thinned(), seeds.thinned())
    if not readings or (readings[0][0] <= LEAST_SEPARATION and not seeds.hide.any()):
        return None
    final = _relearn(cells, _widened(readings[0][1], cells), seeds)
    if final is None:
        return None
    mask, log_odds, colour_decides = final
    mask = _without_joined_things(mask, cells, seeds)
    if colour_decides:
        mask, log_odds = _with_leg_ends(mask, log_odds, cells, seeds)
    rivals = tuple((score, _widened(other, cells)) for score, other in readings[1:])
    return Segmentation(mask, log_odds, readings[0][0], rivals)


@dataclass(frozen=True, eq=False)
class Seeds:
    """Cells (h, w) that a person said are `hide` and `floor`."""

    hide: Mask
    floor: Mask

    def thinned(self) -> Seeds:
        """For the thinned grid: a cell is a seed if any of those it stands for is."""
        return Seeds(_thinned_any(self.hide), _thinned_any(self.floor))


def _thinned_any(mask: Mask) -> Mask:
    rows, columns = mask.shape
    padded = np.pad(mask, ((0, -rows % THIN), (0, -columns % THIN)))
    blocks = padded.reshape(padded.shape[0] // THIN, THIN, padded.shape[1] // THIN, THIN)
    return np.asarray(blocks.any(axis=(1, 3)))


def _widened(mask: Mask, cells: FeatureGrid) -> Mask:
    """A mask of the thinned grid on the whole one."""
    rows, columns = cells.usable.shape
    return np.asarray(np.repeat(np.repeat(mask, THIN, axis=0), THIN, axis=1)[:rows, :columns])


def _readings(rough: FeatureGrid, seeds: Seeds) -> list[tuple[float, Mask]]:
    """(score, mask) of every way found to part hide from floor, best first.

    Two readings that lie side by side may be the two colours of one hide: they are also tried together.
    """
    from scipy import ndimage

    unlike = _unlike_floor(rough, seeds)
    readings: list[tuple[float, Mask]] = []
    tried: list[Mask] = []
    for guess, first in _first_guesses(rough, seeds, unlike):
        _try_reading(rough, seeds, guess, first, unlike, readings, tried)
    for number, (_, one) in enumerate(readings.copy()):
        for _, other in readings[number + 1 :]:
            if _overlap(one, other) < 0.1 and (ndimage.binary_dilation(one, iterations=3) & other).any():
                _try_reading(rough, seeds, one | other, 0, unlike, readings, tried)
    return sorted(readings, key=lambda reading: -reading[0])


def _try_reading(
    rough: FeatureGrid,
    seeds: Seeds,
    guess: Mask,
    first: int,
    unlike: Mask,
    readings: list[tuple[float, Mask]],
    tried: list[Mask],
) -> None:
    """Learn from a guess, round after round, and add what comes of it to `readings`, unless it was tried already."""
    if any(_overlap(guess, other) > 0.93 for other in tried):
        return
    tried.append(guess)
    mask: Mask = guess
    for _ in range(LEARNING_ROUNDS):
        result = _relearn(rough, mask, seeds, first)
        if result is None:
            return
        settled = _overlap(mask, result[0]) > 0.985
        mask = result[0]
        if settled:
            break
    tried.append(mask)
    score = _separation_score(rough, mask, seeds) - _unexplained(rough, mask, unlike)
    if np.isfinite(score):
        readings.append((score, mask))


def _unlike_floor(cells: FeatureGrid, seeds: Seeds) -> Mask:
    """Cells that look like no floor that is known, however lit."""
    known = cells.reference_surround | seeds.floor | (cells.border & ~seeds.hide)
    features = averaged_features(cells)
    distance = distance_in_any_shade(features, _floor_mixture(features, known, cells))
    return np.asarray((distance > UNLIKE_FLOOR) & cells.usable & ~seeds.floor)


def _unexplained(cells: FeatureGrid, mask: Mask, unlike: Mask) -> float:
    """What a reading leaves open: things unlike the floor that touch the hide and are left out, against its size."""
    from scipy import ndimage

    outside = unlike & ~ndimage.binary_dilation(mask, iterations=2) & ~cells.border
    labels, _ = ndimage.label(ndimage.binary_opening(outside))
    touching = np.unique(labels[ndimage.binary_dilation(mask, iterations=5) & (labels > 0)])
    return UNEXPLAINED * min(
        1.0, float(np.isin(labels, touching[touching > 0]).sum() / max(int(mask.sum()), 1))
    )


def _without_joined_things(mask: Mask, cells: FeatureGrid, seeds: Seeds) -> Mask:
    """The mask without things beside the hide that a coarse grid joined to it across a narrow strip of floor: learnt
    anew, that strip is floor, and what lies beyond it is unlike the hide."""
    from scipy import ndimage

    anew = _relearn(cells, mask, seeds)
    if anew is None:
        return mask
    labels, count = ndimage.label(ndimage.binary_opening(mask & (anew[1] > 0)))
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    sizes[0] = 0
    own = labels == int(sizes.argmax())
    colours = cells.features[..., :3]
    core = ndimage.binary_erosion(own, iterations=3)
    if core.sum() < 60:
        return mask
    hide = fit_gaussian_mixture(colours[core], 4)
    things = np.zeros(mask.shape, dtype=bool)
    for number in np.flatnonzero(sizes > LEAST_THING * mask.sum()):
        part = labels == number
        if number != int(sizes.argmax()) and not (part & seeds.hide).any():
            unlike = hide.distance(colours[part]) > UNLIKE_HIDE**2
            things |= part & (unlike.mean() > UNLIKE_HIDE_SHARE)
    if not things.any():
        return mask
    # What is nearer to the thing than to the hide goes with it, and the strip between them.
    nearer = ndimage.distance_transform_edt(~things) < ndimage.distance_transform_edt(~own)
    left = _most_likely_part(mask & ~nearer & ((anew[1] > 0) | own), cells, seeds.hide)
    return mask if left is None else left


def _with_leg_ends(mask: Mask, log_odds: Floats, cells: FeatureGrid, seeds: Seeds) -> tuple[Mask, Floats]:
    """The mask with the narrow ends of legs put back, and the log odds with theirs.

    Opening takes them off, and so does texture, which is read over some width and is never calm in a narrow leg: colour
    decides. Floor is learnt anew for it without what hangs on the hide and has its colours, or legs would be learnt as
    floor. Where the floor itself has such colours, there is more of them elsewhere, and they stay floor.
    """
    from scipy import ndimage

    inside, outside = _training_masks(cells, mask, seeds)
    if inside.sum() < _LEAST_TRAINING:
        return mask, log_odds
    hide = fit_gaussian_mixture(cells.features[..., :3][inside], _HIDE_COMPONENTS)
    outside &= ~ndimage.binary_dilation(_hanging_on(mask, inside, cells, hide), iterations=2)
    if outside.sum() < _LEAST_TRAINING:
        return mask, log_odds
    odds = np.where(cells.usable, _log_odds(cells.features[..., :3], hide, outside), -8)
    near = ndimage.distance_transform_edt(~mask) * cells.size < LEG_END_REACH
    like_hide = np.where(mask | seeds.floor | ~near, -8, ndimage.gaussian_filter(odds, 0.7))
    legs = _touching(like_hide > LEAST_LEG_END, mask)
    if 2 * legs.sum() < (like_hide > LEAST_LEG_END).sum():
        legs = _touching(like_hide > max(LEAST_LEG_END, LEG_END_SHARE * float(odds[mask].mean())), mask)
    labels, count = ndimage.label(legs)
    small = np.bincount(labels.ravel(), minlength=count + 1) * cells.size**2 <= LEAST_LEG_END_AREA
    legs &= ~small[labels]
    whole = np.asarray(ndimage.binary_fill_holes(mask | legs))
    return whole, np.where(legs, np.maximum(log_odds, odds), log_odds)


def _hanging_on(mask: Mask, inside: Mask, cells: FeatureGrid, hide: GaussianMixture) -> Mask:
    """Cells beside the mask that have the colours of the hide, learnt from `inside`, and hang together with it."""
    from scipy import ndimage

    colours = cells.features[..., :3]
    distance = hide.distance(colours.reshape(-1, 3)).reshape(mask.shape)
    level = np.percentile(distance[inside], LIKE_HIDE)
    alike = (ndimage.gaussian_filter(distance, 0.7) < level) & ~mask & cells.usable
    return _touching(ndimage.binary_opening(alike), ndimage.binary_dilation(mask))


def _touching(loose: Mask, mask: Mask) -> Mask:
    """The parts of `loose` that lie beside the mask."""
    from scipy import ndimage

    labels, _ = ndimage.label(loose)
    beside = np.unique(labels[ndimage.binary_dilation(mask) & loose])
    return np.asarray(np.isin(labels, beside[beside > 0]))


def _overlap(a: Mask, b: Mask) -> float:
    return float((a & b).sum() / max(int((a | b).sum()), 1))


def _seed_mask(rectified: RectifiedPhoto, cells: FeatureGrid, seeds: Sequence[tuple[float, float]]) -> Mask:
    mask = np.zeros(cells.usable.shape, dtype=bool)
    if not seeds:
        return mask
    rows, columns = np.indices(mask.shape)
    for x, y in (rectified.to_pixels(seeds) + 0.5) / cells.step - 0.5:
        mask |= (columns - x) ** 2 + (rows - y) ** 2 <= (SEED_RADIUS / cells.size) ** 2
    return mask & cells.usable


def _first_guesses(cells: FeatureGrid, seeds: Seeds, unlike: Mask) -> list[tuple[Mask, int]]:
    """Rough masks of what is unlike the floor, each with the first feature it may be learnt from.

    By colour and texture, by all, and by brightness alone; a guess that does without brightness goes on
    without it (first feature 1), or it would drift to the nearest shadow.
    """
    from scipy import ndimage

    known = cells.reference_surround | seeds.floor | (cells.border & ~seeds.hide)
    guesses: list[tuple[Mask, int]] = []
    for channels in ((1, 2, 3, 4), (0, 1, 2, 3, 4), (1, 2), (3, 4), (0,)):
        values = cells.features[..., channels]
        floor = _floor_mixture(values, known, cells)
        apart = np.sqrt(np.maximum(floor.distance(values.reshape(-1, len(channels))), 0)).reshape(known.shape)
        apart = ndimage.gaussian_filter(np.log(apart + 0.5), 2.0)
        usable = apart[cells.usable]
        if np.ptp(usable) < 0.1:
            continue
        level = parting_level(usable)
        mask = _most_likely_part(
            (apart > level) & cells.usable & ~seeds.floor | seeds.hide, cells, seeds.hide
        )
        if mask is not None:
            guesses.append((mask, min(channels[0], 1)))
    mask = _most_likely_part(unlike | seeds.hide, cells, seeds.hide)
    if mask is not None:
        guesses.append((mask, 0))
    if seeds.hide.any():
        near = ndimage.distance_transform_edt(~seeds.hide) * cells.size < 60
        guesses.append((near & cells.usable & ~seeds.floor, 0))
    return guesses


def averaged_features(cells: FeatureGrid, but: Mask | None = None) -> Floats:
    """The features (h, w, 5) averaged over some centimetres of what is usable: a floor's texture varies less so.

    What lies in the mask `but` is left out of the averages.
    """
    from scipy import ndimage

    sigma = AVERAGED / cells.size
    asked = cells.usable if but is None else cells.usable & ~but
    weight = ndimage.gaussian_filter(asked.astype(np.float32), sigma)
    layers = [
        ndimage.gaussian_filter(np.where(asked, layer, 0.0), sigma) / np.maximum(weight, 1e-3)
        for layer in np.moveaxis(cells.features, -1, 0)
    ]
    return np.stack(layers, axis=-1).astype(np.float32)


def distance_in_any_shade(features: Floats, floor: GaussianMixture) -> Floats:
    """Mahalanobis distance (h, w) of cells' features (h, w, k) to the floor, as lit or darkened."""
    squares = floor.distance_as_lit(features.reshape(-1, features.shape[-1]), SHADES)
    return np.asarray(np.sqrt(squares).reshape(features.shape[:2]), dtype=np.float32)


def _floor_mixture(values: Floats, known: Mask, cells: FeatureGrid) -> GaussianMixture:
    """The floor's look, from where it is known; a border that looks unlike the ring round the reference is
    dropped.
    """
    samples = values[known]
    floor = fit_gaussian_mixture(samples, 4)
    if cells.reference_surround.sum() > 60:
        # A hide that touches the picture's border puts its own look among the floor's: the ring never does.
        share = floor.component_shares(values[cells.reference_surround])
        keep = (share > 0.02) | (floor.weights > 0.35)
        floor = floor.restricted_to(keep)
    return floor


def _most_likely_part(mask: Mask, cells: FeatureGrid, hide_seeds: Mask) -> Mask | None:
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
    score = areas * np.clip(1 - 2.5 * on_border, 0.02, 1)
    best = int(np.argmax(score))
    part = labels == best
    if hide_seeds.any():
        # What a person pointed at is hide, all of it, and what is joined to it.
        pointed = np.unique(labels[hide_seeds])
        part = np.isin(labels, pointed[pointed > 0]) | hide_seeds
    if part.sum() < 0.01 * cells.usable.sum():
        return None
    return np.asarray(ndimage.binary_fill_holes(part) & cells.usable)


def _disc(radius: int) -> Mask:
    reach = np.arange(-radius, radius + 1)
    return np.asarray(reach[:, None] ** 2 + reach[None] ** 2 <= radius * radius + 0.5)


def _relearn(
    cells: FeatureGrid, mask: Mask, seeds: Seeds, first: int = 0
) -> tuple[Mask, Floats, bool] | None:
    """One round: learn hide and floor from a mask, ask every cell which it is like, and take the largest part.

    Only features from number `first` on are used. Returns the mask, the log odds, and whether colour alone can tell.
    """
    from scipy import ndimage

    inside, outside = _training_masks(cells, mask, seeds)
    if inside.sum() < _LEAST_TRAINING or outside.sum() < _LEAST_TRAINING:
        return None
    log_odds = _log_odds(cells.features[..., first:], inside, outside)
    # The strength of texture is read over some width, so it blurs the edge: there colour decides, if it can.
    colour_odds = _log_odds(cells.features[..., first:3], inside, outside)
    colour_decides = min(float(colour_odds[inside].mean()), float(-colour_odds[outside].mean())) > 1.5
    if colour_decides:
        reach = 45 / cells.size
        rim = ndimage.distance_transform_edt(mask) + ndimage.distance_transform_edt(~mask) < reach
        log_odds = np.where(rim, 0.8 * colour_odds + 0.2 * log_odds, log_odds)
    log_odds[seeds.hide], log_odds[seeds.floor] = 8, -8
    log_odds[~cells.usable] = -8
    log_odds = ndimage.gaussian_filter(log_odds, 1.2)
    largest = _most_likely_part(log_odds > 0, cells, seeds.hide)
    if largest is None:
        return None
    return largest, log_odds, colour_decides


def _training_masks(cells: FeatureGrid, mask: Mask, seeds: Seeds) -> tuple[Mask, Mask]:
    """Cells well inside the mask and well outside, and the seeds."""
    from scipy import ndimage

    inside = ndimage.binary_erosion(mask, iterations=3) | seeds.hide
    outside = (cells.usable & ~ndimage.binary_dilation(mask, iterations=3)) | seeds.floor
    return inside & ~seeds.floor, outside & ~seeds.hide


def _separation_score(cells: FeatureGrid, mask: Mask, seeds: Seeds) -> float:
    """How far a mask is to be believed: what colour and texture say of it, and a little what all features say.

    A shadow parts from the rest by brightness as sharply as a hide does, by nothing else.
    """
    inside, outside = _training_masks(cells, mask, seeds)
    if inside.sum() < _LEAST_TRAINING or outside.sum() < _LEAST_TRAINING:
        return -np.inf
    free = _separation(cells, mask, _log_odds(cells.features[..., 1:], inside, outside))
    return free + 0.3 * _separation(cells, mask, _log_odds(cells.features, inside, outside))


def _log_odds(values: Floats, inside: Mask | GaussianMixture, outside: Mask) -> Floats:
    """Log odds (h, w) of hide to floor, each learnt from its mask, or the hide learnt already."""
    hide = (
        inside
        if isinstance(inside, GaussianMixture)
        else fit_gaussian_mixture(values[inside], _HIDE_COMPONENTS)
    )
    floor = fit_gaussian_mixture(values[outside], 6)
    flat = values.reshape(-1, values.shape[-1])
    odds = np.clip(hide.log_density(flat) - floor.log_density(flat), -8, 8)
    return odds.reshape(outside.shape).astype(np.float32)


def _separation(cells: FeatureGrid, mask: Mask, log_odds: Floats) -> float:
    """How sure a separation is: mean log odds on both sides, less for ragged shapes and for hugging the border."""
    from scipy import ndimage

    outside = cells.usable & ~mask
    share = float(mask.sum()) / float(cells.usable.sum())
    if not 0.01 < share < 0.95 or outside.sum() < 50:
        return -np.inf
    sure = min(float(log_odds[mask].mean()), -float(log_odds[outside].mean()))
    rim = int((mask & ~ndimage.binary_erosion(mask)).sum())
    round_rim = float(np.sqrt(4 * np.pi * mask.sum()))
    border_share = float((mask & cells.border).sum() / max(int(cells.border.sum()), 1))
    on_ring = float((mask & cells.reference_surround).sum() / max(int(cells.reference_surround.sum()), 1))
    # A whole hide has legs: its rim is up to about twice a disc's.
    return (
        sure
        - 1.0 * max(0.0, rim / round_rim - 1.8)
        - 6 * max(0.0, border_share - 0.05)
        - 6 * max(0.0, on_ring - 0.05)
    )
