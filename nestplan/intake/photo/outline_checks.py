"""What may be wrong with an outline found in a photograph, where, and how to mend it.

Every check asks the picture anew, with other evidence than the outline was drawn by. A hide whose outline is warned of
is shown, and written only when a person says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from nestplan.intake.photo.edge_path import EdgePath, resample
from nestplan.intake.photo.gaussian_mixture import GaussianMixture, fit_gaussian_mixture
from nestplan.intake.photo.raster import ring_mask
from nestplan.intake.photo.rectification import RectifiedPhoto, area_error_over
from nestplan.intake.photo.segmentation import (
    UNLIKE_FLOOR,
    FeatureGrid,
    Segmentation,
    averaged_features,
    distance_in_any_shade,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Mask = NDArray[np.bool_]

__all__ = ["TraceWarning", "WarningKind", "check_outline", "warn_of_openings"]

WarningKind = Literal[
    "cut off",
    "sheet at the hide",
    "part left out",
    "part taken in",
    "another reading",
    "weak edge",
    "ragged edge",
    "opening unclear",
    "scale uncertain",
    "size uncertain",
]

MOST_AREA_ERROR = 0.0225
"""Standard error of the area above which the scale is called uncertain. Of cameras over a single sheet, with no other
straight line in sight and every second lens bent, one in a hundred that states less is further off than 3 %; of those
whose lens is straight one in nine states more (tests/benchmarks/cameras.py)."""
RIM, LEAST_KNOWN = 25.0, 200
"""Within how many mm of the hide nothing is certain floor, and from how many cells a look can be learnt well."""
BORDER_SHARE = 0.004
"""Share of the outline along the picture's border that says the hide goes on there."""
SHEET_NEAR, SHEET_SHARE = 18.0, 0.05
"""How near a sheet (mm) the hide lies where it may touch it, and on what share of the strip round it."""
GROUND_SHARE, GROUND_BORDER = 0.4, 0.1
"""Share of the strip round a sheet that looks unlike the floor along the picture's border where the sheet lies on
another ground, and the share of the border that this ground does not reach."""
PART_SHARE, PART_NEAR, PART_WIDTH = 0.012, 30.0, 9.0
"""Parts left out: least share of the hide's area, how near the outline (mm), and half the least width (mm)."""
COLOURS, TEXTURE_REACH = 3, 7.0
"""How many of the features are colours, and how far (cells) from the hide's rim its texture is read."""
LEFT_OUT_LEVELS = (UNLIKE_FLOOR, 2.6, 2.3)
"""Mahalanobis distances of averaged features at which parts left out are looked for, one after the other: the pale half
of a two-tone hide on a pale floor lies at 2.3 to 2.9. (Of 175 drawn rooms the lower ones tell of four more, all wrong
by more than 40 % of area.)"""
LARGE_LEVEL, LARGE_NEARLY, LARGE_SHARE = 2.6, 2.0, 0.2
"""Parts left out that are told whatever their colours: Mahalanobis distance of averaged features, and of what is nearly
so round them, and least share of the hide's area. (Of 126 drawn rooms five have such a part,
all of them wrong by more than 40 % of area; a box of 15 % lies beside two right ones.)"""
GAP_WIDTH, LIKE_FLOOR, FLOOR_SHARE = 10.0, 3.0, 0.35
"""What lies between a part and the hide: up to how much longer the way over it may be than the shortest one (mm), the
Mahalanobis distance of features up to which a place is floor, and the share of such places that makes it a strip of
floor."""
ALIKE_NEAR, ALIKE_WIDTH, LIKE_HIDE = 250.0, 10.0, 3.0
"""Parts left out that look like the hide itself, floor between them or what looks like it: how near the outline (mm),
half the least width (mm), and the Mahalanobis distance of colours up to which a place is like the hide."""
TAKEN_SHARE, TAKEN_ODDS = 0.015, 1.0
"""Parts taken in: least share of the hide's area, and by how much (log odds) they must look more like floor."""
RIVAL_SHARE, RIVAL_AREA = 0.85, 0.025
"""A rival reading: its score as a share of the best one's, and the least share of the hide's area it differs by."""
RIVAL_APART = 0.3
"""Share of the hide's area below which what lies apart from it is a thing beside it, no rival."""
DECIDED_SHARE = 0.7
"""Share of a place that two readings differ by from which on it counts as unlike the floor, or the hide."""
RAGGED_STEP, RAGGED_LENGTH, MOST_TURNING = 8.0, 500.0, 14.0
"""Over what length (mm) the outline is smoothed and its direction read, along what length it is asked how much it turns
to and fro, and how much at most, radians (46 right ones of drawn hides 5.8 at most, 42 real hides 13.4, the border
between two colours of a spotted hide 13 to 19)."""
RECTANGLE_SHARE = 0.88
"""Share of the narrowest rectangle round a thing that it fills if it is a box or a paper."""
WEAK_UNCERTAINTY, WEAK_SHARE, WEAK_RUN = 2.4, 0.5, 0.06
"""Pixels of uncertainty at which an edge was not found but guessed, and the share of the outline that may be so, in all
and in one run (on rendered photographs edges guessed in short runs along up to 40 % lay within 3 pixels, 98 of 100)."""
WEAK_ODDS = 2.0
"""Log odds of what lies beside an edge, averaged along it, from which on it is found though no profile shows it:
leather and floor differ little, yet all along. (Of 41 drawn hides with weak edges 6 of 10 right ones pass, and 4 of 31
wrong ones: three are told for other reasons, the fourth is 15.5 mm off somewhere.)"""


@dataclass(frozen=True, eq=False)
class TraceWarning:
    """What may be wrong: `kind`, in words `what`, how to `mend` it, and `places`: rings (n, 2) on the floor, mm."""

    kind: WarningKind
    what: str
    mend: str
    places: tuple[Floats, ...] = ()


def check_outline(
    rectified: RectifiedPhoto,
    cells: FeatureGrid,
    segmentation: Segmentation,
    path: EdgePath,
    ring: Floats,
    border_share: float,
) -> tuple[TraceWarning, ...]:
    """All that may be wrong with the outline `ring` (n, 2), mm, found along `path`."""
    mask = ring_mask((rectified.to_pixels(ring) + 0.5) / cells.step - 0.5, cells.usable.shape)
    floor = _known_floor(cells, cells.features, mask)
    from scipy import ndimage

    # Without the hide and its rim, or the leather's look would run out onto the floor beside it.
    averaged = averaged_features(cells, ndimage.binary_dilation(mask, iterations=2))
    distance = distance_in_any_shade(averaged, _known_floor(cells, averaged, mask))
    # The strength of texture is read over some width: near the hide's rim, which is strong texture, colour must agree.
    by_colour = _known_floor(cells, averaged[..., :COLOURS], mask)
    near = ndimage.distance_transform_edt(~mask) < TEXTURE_REACH
    distance[near] = np.minimum(
        distance[near], distance_in_any_shade(averaged[near][None, :, :COLOURS], by_colour)[0]
    )
    found = [
        *_cut_off(rectified, ring, border_share),
        *(_sheet_at_the_hide(rectified, cells, mask) or _sheet_on_the_hide(rectified, cells, averaged, mask)),
        *(_left_out(rectified, cells, mask, distance) or _left_alike(rectified, cells, mask)),
        *_taken_in(rectified, cells, mask, floor),
        *_other_readings(rectified, cells, segmentation, mask),
        *_weak_edge(rectified, path),
        *_ragged_edge(ring),
        *_uncertain_scale(rectified, ring),
        *_uncertain_size(rectified),
    ]
    return tuple(found)


def _cut_off(rectified: RectifiedPhoto, ring: Floats, share: float) -> list[TraceWarning]:
    if share <= BORDER_SHARE:
        return []
    seen = rectified.visible
    places = rectified.to_pixels(ring)
    near = ((places < 8) | (places > np.array(seen.shape[::-1]) - 9)).any(axis=1)
    cells = np.clip(np.rint(places).astype(int), 0, np.array(seen.shape[::-1]) - 1)
    near |= ~seen[cells[:, 1], cells[:, 0]]
    return [
        TraceWarning(
            "cut off",
            f"{share:.0%} of the outline runs along the picture's border: there the hide goes on.",
            "Take the photo again with floor on all sides of the hide.",
            _rings_round(ring[near], 25.0),
        )
    ]


def _sheet_at_the_hide(rectified: RectifiedPhoto, cells: FeatureGrid, mask: Mask) -> list[TraceWarning]:
    from scipy import ndimage

    if not rectified.has_reference:
        return []
    touched = []
    for quad in rectified.reference.reshape(-1, 4, 2):
        own = ring_mask((rectified.to_pixels(quad) + 0.5) / cells.step - 0.5, mask.shape)
        away = ndimage.distance_transform_edt(~own) * cells.size
        strip = (away > 0) & (away < max(SHEET_NEAR, 3.5 * cells.size))
        if strip.any() and float((mask & strip).sum() / strip.sum()) > SHEET_SHARE:
            touched.append(quad)
    if not touched:
        return []
    return [
        TraceWarning(
            "sheet at the hide",
            "The sheet lies on the hide or touches it: what it covers is not seen.",
            "Lay the sheet on bare floor, a hand's breadth from the hide.",
            tuple(touched),
        )
    ]


def _sheet_on_the_hide(
    rectified: RectifiedPhoto, cells: FeatureGrid, averaged: NDArray[np.float32], mask: Mask
) -> list[TraceWarning]:
    ground = _other_ground(cells, averaged[..., :COLOURS], mask)
    if not ground.any():
        return []
    return [
        TraceWarning(
            "sheet at the hide",
            "What lies round the sheet looks unlike the floor along the picture's border and ends at the outline: "
            "the sheet may lie on the hide.",
            "Lay the sheet on bare floor, a hand's breadth from the hide; or point at the hide and at the floor.",
            tuple(_outlines_of(rectified, cells, ground)),
        )
    ]


def _other_ground(cells: FeatureGrid, colours: NDArray[np.float32], mask: Mask) -> Mask:
    """The ground (h, w) that the sheet lies on where it is not the floor along the picture's border but ends at the
    hide: another part of the hide, or a cloth under both; nothing where it is the floor."""
    from scipy import ndimage

    nothing = np.zeros(mask.shape, dtype=bool)
    away = ndimage.distance_transform_edt(~mask) * cells.size
    surround = cells.reference_surround & (away > RIM)
    border = cells.border & ~cells.reference_surround & (away > RIM)
    if min(surround.sum(), border.sum()) < LEAST_KNOWN:
        return nothing
    floor = fit_gaussian_mixture(colours[border], 6)
    unlike = cells.usable & ~mask & (distance_in_any_shade(colours, floor) > UNLIKE_FLOOR)
    if (unlike & surround).sum() < GROUND_SHARE * surround.sum():
        return nothing
    # The sheet's rim joins what lies on its sides.
    rim = ~cells.usable & (ndimage.distance_transform_edt(~cells.reference_surround) * cells.size < RIM)
    labels, _ = ndimage.label(ndimage.binary_opening(unlike, iterations=2) | rim)
    joined = np.unique(labels[surround & unlike])
    ground = ndimage.binary_fill_holes(np.isin(labels, joined[joined > 0])) & ~mask
    reaches_border = (ground & border).sum() > GROUND_BORDER * border.sum()
    return nothing if reaches_border or not (ground & (away < PART_NEAR)).any() else np.asarray(ground)


def _left_out(
    rectified: RectifiedPhoto,
    cells: FeatureGrid,
    mask: Mask,
    distance: NDArray[np.float32],
) -> list[TraceWarning]:
    """Places at the outline's outside that look like no floor that is known."""
    from scipy import ndimage

    away = ndimage.distance_transform_edt(~mask) * cells.size
    asked = cells.usable & ~cells.reference_surround & (away > 8)
    smooth = ndimage.gaussian_filter(distance, 1.0)
    by_colour = _known_floor(cells, cells.features[..., :COLOURS], mask)
    for level in LEFT_OUT_LEVELS:
        parts = _parts_left_out(cells, mask, asked & (smooth > level), away, by_colour)
        if parts:
            break
    else:
        parts = _large_parts(cells, mask, np.where(asked, smooth, 0.0), away)
    if not parts:
        return []
    return [
        TraceWarning(
            "part left out",
            "What lies at the outline looks unlike the floor and was left out.",
            "If it is hide, point at it as hide; if it is floor or another thing, point at it as floor.",
            tuple(ring for part in parts for ring in _outlines_of(rectified, cells, part)),
        )
    ]


def _parts_left_out(
    cells: FeatureGrid, mask: Mask, unlike: Mask, away: Floats, by_colour: GaussianMixture
) -> list[Mask]:
    """Parts of what is unlike the floor that lie at the hide's outline (`away` mm) and are no other thing."""
    return [
        part
        for part in _wide_parts(cells, unlike)
        if part.sum() > PART_SHARE * mask.sum()
        and away[part].min() < PART_NEAR
        and not _is_another_thing(cells, part, mask, by_colour)
    ]


def _large_parts(cells: FeatureGrid, mask: Mask, unlike: Floats, away: Floats) -> list[Mask]:
    """Large parts unlike the floor (distance `unlike`) that lie at the hide's outline (`away` mm), no rectangles.

    With them goes what is nearly so and joined to them; of the rim, where only colour is asked, nothing is known. Floor
    varies over a hand's breadth, not over so much; the colours of such a part need not tell it from the floor.
    """
    nearly = list(_wide_parts(cells, unlike > LARGE_NEARLY))
    reach = PART_NEAR + TEXTURE_REACH * cells.size
    return [
        part
        for part in _wide_parts(cells, unlike > LARGE_LEVEL)
        if part.sum() > LARGE_SHARE * mask.sum()
        and any(away[wider].min() < reach for wider in nearly if (wider & part).any())
        and _rectangle_share(part) <= RECTANGLE_SHARE
    ]


def _wide_parts(cells: FeatureGrid, places: Mask) -> Iterator[Mask]:
    """The connected parts of some places, freed of what is narrow."""
    from scipy import ndimage

    opened = ndimage.binary_opening(places, structure=_disc(max(1, round(PART_WIDTH / cells.size))))
    labels, count = ndimage.label(opened)
    yield from (labels == number for number in range(1, count + 1))


def _left_alike(rectified: RectifiedPhoto, cells: FeatureGrid, mask: Mask) -> list[TraceWarning]:
    """Places near the hide that have its colours and none of the floor's: another patch of a spotted hide, whose light
    parts look like the floor."""
    from scipy import ndimage

    colours = cells.features[..., :COLOURS]
    hide = _hide_look(colours, mask, cells)
    if hide is None:
        return []
    away = ndimage.distance_transform_edt(~mask) * cells.size
    asked = cells.usable & ~cells.reference_surround & (away > 8) & (away < ALIKE_NEAR)
    alike = np.zeros(mask.shape, dtype=bool)
    alike[asked] = hide.distance(colours[asked]) < LIKE_HIDE**2
    by_colour = _known_floor(cells, colours, mask)
    alike[alike] = distance_in_any_shade(colours[alike][None], by_colour)[0] > UNLIKE_FLOOR
    parts = ndimage.binary_opening(alike, structure=_disc(max(1, round(ALIKE_WIDTH / cells.size))))
    labels, count = ndimage.label(parts)
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    places = [
        ring
        for number in range(1, count + 1)
        if sizes[number] > PART_SHARE * mask.sum()
        for ring in _outlines_of(rectified, cells, labels == number)
    ]
    if not places:
        return []
    return [
        TraceWarning(
            "part left out",
            "What lies near the outline looks like the hide itself and was left out.",
            "If it is hide, point at it as hide, and at the hide's parts that look like the floor; if it is "
            "another thing, point at it as floor.",
            tuple(places),
        )
    ]


def _is_another_thing(cells: FeatureGrid, part: Mask, mask: Mask, floor: GaussianMixture) -> bool:
    """Whether a place that looks unlike the hide is no part of it: a strip of floor lies between, or it is a
    rectangle."""
    from scipy import ndimage

    # The part was seen in averages, which run out beyond it: its own cells are those that are unlike by themselves.
    near = ndimage.distance_transform_edt(~part) * cells.size < PART_NEAR
    unlike = np.zeros(mask.shape, dtype=np.float32)
    unlike[near] = distance_in_any_shade(cells.features[near][None, :, :COLOURS], floor)[0]
    own = part & (unlike > LIKE_FLOOR)
    if not own.any():
        return True
    ways = ndimage.distance_transform_edt(~own) + ndimage.distance_transform_edt(~mask)
    between = (ways < ways.min() + GAP_WIDTH / cells.size) & ~own & ~mask & cells.usable
    # The rims of both are blurred onto what lies between.
    between &= ~ndimage.binary_dilation(mask) & ~ndimage.binary_dilation(own)
    parted = between.sum() >= 4 and (unlike[between] < LIKE_FLOOR).mean() > FLOOR_SHARE
    return bool(parted) or _rectangle_share(own) > RECTANGLE_SHARE


def _rectangle_share(part: Mask) -> float:
    """Share of the narrowest rectangle round the largest connected place of a mask that it fills, its holes filled."""
    import shapely
    from scipy import ndimage

    labels, _ = ndimage.label(ndimage.binary_opening(part))
    sizes = np.bincount(labels.ravel())[1:]
    if not len(sizes):
        return 0.0
    largest = ndimage.binary_fill_holes(labels == 1 + int(sizes.argmax()))
    rows, columns = np.nonzero(largest)
    # Cells are squares: their corners, not their middles, bound the place.
    corners = np.concatenate([np.column_stack([columns + x, rows + y]) for x in (0, 1) for y in (0, 1)])
    around = shapely.minimum_rotated_rectangle(shapely.multipoints(corners))
    return float(largest.sum() / max(around.area, 1.0))


def _taken_in(
    rectified: RectifiedPhoto, cells: FeatureGrid, mask: Mask, floor: GaussianMixture
) -> list[TraceWarning]:
    """Parts of the hide that look more like the floor than like the rest of the hide."""
    from scipy import ndimage

    hide = _hide_look(cells.features, mask, cells)
    if hide is None:
        return []
    values = cells.features[mask]
    odds = np.full(mask.shape, -8.0)
    odds[mask] = np.clip(floor.log_density(values) - hide.log_density(values), -8, 8)
    odds = ndimage.gaussian_filter(odds, 1.5)
    parts = ndimage.binary_opening(
        (odds > TAKEN_ODDS) & mask, structure=_disc(max(1, round(12 / cells.size)))
    )
    labels, count = ndimage.label(parts)
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    places = [
        ring
        for number in range(1, count + 1)
        if sizes[number] > TAKEN_SHARE * mask.sum()
        for ring in _outlines_of(rectified, cells, labels == number)
    ]
    if not places:
        return []
    return [
        TraceWarning(
            "part taken in",
            "A part of what was taken for the hide looks like the floor.",
            "If it is floor, point at it as floor.",
            tuple(places),
        )
    ]


def _other_readings(
    rectified: RectifiedPhoto,
    cells: FeatureGrid,
    segmentation: Segmentation,
    mask: Mask,
) -> list[TraceWarning]:
    """Where another way to part hide from floor, about as sure, would draw the outline elsewhere, and the colours of
    the place do not say which of them is right."""
    from scipy import ndimage

    colours = cells.features[..., :COLOURS]
    hide, floor = _hide_look(colours, mask, cells), _known_floor(cells, colours, mask)
    places: list[Floats] = []
    for score, other in segmentation.rivals:
        apart = not (ndimage.binary_dilation(mask, iterations=5) & other).any()
        if score < RIVAL_SHARE * segmentation.score or (apart and other.sum() < RIVAL_APART * mask.sum()):
            continue
        differs = ndimage.binary_opening(mask ^ other, structure=_disc(max(1, round(10 / cells.size))))
        labels, count = ndimage.label(differs)
        sizes = np.bincount(labels.ravel(), minlength=count + 1)
        for number in range(1, count + 1):
            part = labels == number
            if sizes[number] > RIVAL_AREA * mask.sum() and not _is_decided(
                colours[part], taken=(part & mask).sum() > 0.5 * sizes[number], floor=floor, hide=hide
            ):
                places += _outlines_of(rectified, cells, part)
    if not places:
        return []
    return [
        TraceWarning(
            "another reading",
            "Hide and floor can be told apart in two ways that differ here.",
            "Point at the hide here as hide and at the floor as floor.",
            tuple(places),
        )
    ]


def _is_decided(
    colours: NDArray[np.float32], *, taken: bool, floor: GaussianMixture, hide: GaussianMixture | None
) -> bool:
    """Whether a place with such colours (n, 3), which one reading takes and the other leaves, is rightly so: what was
    `taken` is unlike the floor, what was left is unlike hide and floor, another thing (as another colour of
    the hide is, which is told as left out)."""
    unlike = distance_in_any_shade(colours[None], floor)[0] > UNLIKE_FLOOR
    if not taken:
        unlike &= hide is not None and hide.distance(colours) > LIKE_HIDE**2
    return float(unlike.mean()) > DECIDED_SHARE


def _hide_look(features: NDArray[np.float32], mask: Mask, cells: FeatureGrid) -> GaussianMixture | None:
    """The hide's looks well inside it, those of its flaws left out; None if too little of it is seen."""
    from scipy import ndimage

    core = ndimage.binary_erosion(mask, iterations=3) & cells.usable
    if core.sum() < 200:
        return None
    hide = fit_gaussian_mixture(features[core], 4)
    return hide.restricted_to(hide.weights > 0.06)


def _weak_edge(rectified: RectifiedPhoto, path: EdgePath) -> list[TraceWarning]:
    weak = (path.uncertainty >= WEAK_UNCERTAINTY) & (path.odds < WEAK_ODDS)
    if weak.mean() <= WEAK_SHARE and _longest_run(weak) <= WEAK_RUN:
        return []
    return [
        TraceWarning(
            "weak edge",
            f"Along {weak.mean():.0%} of the outline hide and floor hardly differ: the edge is guessed there.",
            "Check it on the picture, or lay the hide on a floor of another colour.",
            _rings_round(rectified.to_mm(path.points[weak]), 12.0),
        )
    ]


def _ragged_edge(ring: Floats) -> list[TraceWarning]:
    """Where the outline turns to and fro as no hide's edge does, but the border between two of its colours."""
    from scipy.ndimage import uniform_filter1d

    points = resample(ring, RAGGED_STEP, smooth=RAGGED_STEP)
    way = np.roll(points, -1, axis=0) - points
    turned = np.angle((way[:, 0] + 1j * way[:, 1]) * np.roll(way[:, 0] - 1j * way[:, 1], 1))
    count = round(RAGGED_LENGTH / RAGGED_STEP)
    ragged = uniform_filter1d(np.abs(turned), count, mode="wrap") * count > MOST_TURNING
    if not ragged.any():
        return []
    return [
        TraceWarning(
            "ragged edge",
            "The outline is as ragged as the border between two colours of a hide: a part may be left out.",
            "Point at what was left out as hide, and at the floor as floor.",
            _rings_round(points[ragged], 12.0),
        )
    ]


def _longest_run(flags: Mask) -> float:
    """Length of the longest run of True in a ring, as a share of it."""
    if flags.all():
        return 1.0
    turned = np.roll(flags, -int(np.argmin(flags)))
    steps = np.flatnonzero(np.diff(np.concatenate([[0], turned.astype(int), [0]])))
    return float((steps[1::2] - steps[::2]).max(initial=0) / len(flags))


def warn_of_openings(places: Sequence[Floats]) -> tuple[TraceWarning, ...]:
    """The warning that what was taken for openings, rings (n, 2) in mm, may be things or spots on the hide."""
    if not places:
        return ()
    return (
        TraceWarning(
            "opening unclear",
            "What is taken for an opening is large, one of many or unlike the floor: it may be a thing on the hide or "
            "a spot of the leather.",
            "If it is no opening, point at it as hide; if one sees through the hide there, as floor.",
            tuple(places),
        ),
    )


def _uncertain_scale(rectified: RectifiedPhoto, ring: Floats) -> list[TraceWarning]:
    error = area_error_over(rectified, ring)
    if error <= MOST_AREA_ERROR:
        return []
    return [
        TraceWarning(
            "scale uncertain",
            f"The area is known to {2 * error:.1%} only: the sheet is small or far from the hide, or the lens bends "
            "lines and nothing straight shows how much.",
            "Lay several sheets or the printed marks round the hide, or a larger board close to it.",
            (rectified.reference.reshape(-1, 4, 2)[0],),
        )
    ]


def _uncertain_size(rectified: RectifiedPhoto) -> list[TraceWarning]:
    if not rectified.suits_as_well:
        return []
    return [
        TraceWarning(
            "size uncertain", *rectified.uncertain_size_words(), (rectified.reference.reshape(-1, 4, 2)[0],)
        )
    ]


def _known_floor(cells: FeatureGrid, features: NDArray[np.float32], mask: Mask) -> GaussianMixture:
    """The floor's look where it is floor for certain: round the sheet and along the border, off the hide."""
    from scipy import ndimage

    far = ndimage.distance_transform_edt(~mask) * cells.size > RIM
    known = (cells.reference_surround | cells.border) & far & cells.usable
    if known.sum() < LEAST_KNOWN:
        known = cells.usable & far
    return fit_gaussian_mixture(features[known] if known.sum() > 50 else features[cells.usable], 6)


def _disc(radius: int) -> Mask:
    reach = np.arange(-radius, radius + 1)
    return np.asarray(reach[:, None] ** 2 + reach[None] ** 2 <= radius * radius + 0.5)


def _outlines_of(rectified: RectifiedPhoto, cells: FeatureGrid, part: Mask) -> list[Floats]:
    """The outer contour (n, 2), mm, of a part."""
    from skimage.measure import find_contours

    contours = find_contours(np.pad(part, 1).astype(np.float32), 0.5)
    if not contours:
        return []
    longest = max(contours, key=len)[:-1]
    return [rectified.to_mm((longest[:, ::-1] - 1 + 0.5) * cells.step - 0.5)]


def _rings_round(points: Floats, reach: float) -> tuple[Floats, ...]:
    """Rings (n, 2) at `reach` mm round groups of points."""
    import shapely

    if len(points) == 0:
        return ()
    shape = shapely.buffer(shapely.multipoints(points), reach, quad_segs=2)
    return tuple(
        np.asarray(part.exterior.coords, dtype=np.float64)[:-1] for part in shapely.get_parts(shape).tolist()
    )
