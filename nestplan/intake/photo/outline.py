"""The hide's outline and its openings, from a rectified photograph.

Rough first (segmentation), then exact (edge_path), then a polygon that keeps to its side. Not here: flaws in
the leather (flaws), true scale (rectification). Nothing is written: what is found is shown to the user first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from nestplan.errors import Cancelled, InputError
from nestplan.geometry.ring import signed_area
from nestplan.intake.photo.edge_path import follow_edge, resample
from nestplan.intake.photo.gaussian_mixture import GaussianMixture, fit_gaussian_mixture
from nestplan.intake.photo.leather_pattern import LeatherTones, tones_of
from nestplan.intake.photo.outline_checks import TraceWarning, check_outline, warn_of_openings
from nestplan.intake.photo.pointing import bound_by_seeds, check_seeds_apart
from nestplan.intake.photo.raster import block_means, colour_looks, ring_mask
from nestplan.intake.photo.rectification import RectifiedPhoto
from nestplan.intake.photo.segmentation import FeatureGrid, feature_grid, segment_hide

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Mask = NDArray[np.bool_]

__all__ = ["Outline", "differs_from_surroundings", "find_outline"]

Progress = Callable[[float, str], None]
FIRST_REACH = 3.2
"""How far from the rough edge the exact one is first looked for, in cells: a rim of the floor's own colour
is read up to three cells inside or outside."""
LEAST_OPENING = 7.0
"""Openings smaller than this across are left to the flaw suggestions, mm."""
OPENING_REACH = 5.0
"""How far beyond what is surely floor a hole's edge is looked for, mm."""
NOT_FLOOR, NOT_FLOOR_SHARE, MIDDLE_SHARE = 16.0, 0.5, 0.55
"""Squared Mahalanobis distance of a place's colours to the floor, however dark, beyond which it shows no floor; the
share of such places at which what looks like an opening may be a thing on the leather; and where they are asked: beyond
this share of the greatest depth, for at its rim the leather's colours are mixed in. In drawn holes at most 9 % were so
(40 % of one across two tiles of a checkered floor), of a cup, a tool and a paper 85 % and more."""
LEATHER_SHARE = 0.5
"""Share of the middle of an opening that may look like a tone of the leather before it is asked about: on spotted
leather a spot is as like the floor as any hole."""
LEAST_LEVELS = 5.0
"""Levels of 255 by which an opening differs from the leather round it in one colour at least: what a coder makes of
dark leather beside a pale spot has a colour of its own too (3 to 4.5 levels; of 24 drawn holes none differed by less
than 7.4, those of black leather on a dark carpet)."""
LEAST_COLOUR_SPREAD = 0.03
"""Least spread of colours (logarithms of their ratios) round a place that may be an opening."""
AROUND = (4, 9)
"""Between how many blocks from a place that may be an opening the leather round it is read: the place found may be but
the middle of the opening."""
MANY_OPENINGS = 6
"""If there are more openings than this, all are asked about: spots of the floor's colour look like openings."""
LARGE_OPENING = 80.0
"""Openings longer than this are asked about whatever they look like, mm: a tool of the floor's colour looks like it."""
CUT_SHARE, MOST_CUT = 0.3, 0.5
"""How far the polygon may cut inside the edge followed, as a share of the tolerance, and at most, mm."""


@dataclass(frozen=True, eq=False)
class Outline:
    """What was found: `exterior` ring (n, 2) and `holes`, mm on the floor, counter-clockwise.

    `tolerance` mm: the exterior is not believed to lie outside the true edge by more than this anywhere, scale
    aside. `border_share`: share of the exterior that runs along the picture's border, where the hide goes on.
    `warnings`: what may be wrong with it, and where.
    """

    exterior: Floats
    holes: tuple[Floats, ...]
    tolerance: float
    border_share: float = 0.0
    warnings: tuple[TraceWarning, ...] = ()


@dataclass(frozen=True, eq=False)
class Opening:
    """A place inside where the leather is not seen: its `ring` (n, 2), mm, and whether that is floor for certain."""

    ring: Floats
    is_floor: bool


def find_outline(
    rectified: RectifiedPhoto,
    *,
    hide_seeds: Sequence[tuple[float, float]] = (),
    floor_seeds: Sequence[tuple[float, float]] = (),
    tolerance: float | None = None,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Outline:
    """The hide's outline, and the floor seen through it.

    Seeds: (x, y) mm on the floor where the user says hide, or not hide. `tolerance` mm bounds both how far the
    polygon may cut inside the edge followed and, unless the picture is too coarse for it, how far it may lie
    outside the true edge; left out, it is chosen from the picture's fineness.

    Raises InputError if no hide is found, or a place is called both hide and floor; Cancelled if `cancelled()` says so.
    """
    check_seeds_apart(hide_seeds, floor_seeds, file=rectified.name)

    def report(share: float, words: str) -> None:
        if cancelled is not None and cancelled():
            raise Cancelled
        if progress is not None:
            progress(share, words)

    with ThreadPoolExecutor(max_workers=1) as beside:
        # What holes are looked for in wants no outline: it is made while that is sought.
        fine = beside.submit(_fine_features, rectified)
        report(0.05, "reading the floor")
        cells = feature_grid(rectified)
        report(0.2, "parting hide from floor")
        parted = segment_hide(rectified, cells, hide_seeds=hide_seeds, floor_seeds=floor_seeds)
        report(0.6, "following the edge")
        rough = _mask_contour(parted.mask, cells)
        path = follow_edge(rectified.image, rough, max(6.0, FIRST_REACH * cells.step), final=False)
        rough = _without_loops(path.points)
        report(0.8, "following the edge closely")
        path = follow_edge(rectified.image, rough, max(4.0, 5.0 / rectified.mm_per_pixel))
        exact = _without_loops(path.points)
        report(0.9, "looking for holes")
        uncertainty = float(np.percentile(path.uncertainty, 95)) * rectified.mm_per_pixel
        kept = max(tolerance or 0.0, 1.5, uncertainty)
        ring = _simplified_inside(rectified.to_mm(exact), min(CUT_SHARE * kept, MOST_CUT))
        ring, pointed_out = bound_by_seeds(ring, hide_seeds, floor_seeds)
        openings = _find_openings(rectified, ring, *fine.result())
        openings = tuple(each for each in openings if not _holds_any(each.ring, hide_seeds))
        report(0.95, "checking the outline")
        border_share = _border_share(rectified, exact)
        warnings = check_outline(rectified, cells, parted, path, ring, border_share)
        many = len(openings) > MANY_OPENINGS
        unclear = [
            each.ring
            for each in openings
            if (many or not each.is_floor) and not _holds_any(each.ring, floor_seeds)
        ]
    holes = tuple(each.ring for each in openings) + pointed_out
    return Outline(ring, holes, round(kept, 2), border_share, warnings + warn_of_openings(unclear))


def _holds_any(ring: Floats, seeds: Sequence[tuple[float, float]]) -> bool:
    """Whether one of the seeds lies in the ring."""
    import shapely

    return len(seeds) > 0 and bool(
        shapely.Polygon(ring).intersects(shapely.multipoints(np.asarray(seeds, dtype=np.float64)))
    )


def _mask_contour(mask: Mask, cells: FeatureGrid) -> Floats:
    """The mask's longest contour (n, 2) in pixels of the picture, counter-clockwise as seen (y down)."""
    from scipy.ndimage import gaussian_filter
    from skimage.measure import find_contours

    soft = gaussian_filter(np.pad(mask, 1).astype(np.float32), 0.8)
    contours = find_contours(soft, 0.5)
    if not contours:
        raise InputError("The hide found has no edge.", mend="Dab the hide and the floor by hand.")
    longest = max(contours, key=len)[:-1]
    places = (longest[:, ::-1] - 1 + 0.5) * cells.step - 0.5
    return _counterclockwise_as_seen(places)


def _counterclockwise_as_seen(ring: Floats) -> Floats:
    """Counter-clockwise as people see it: with y down its shoelace area is negative."""
    return ring if signed_area(ring) < 0 else ring[::-1]


def _without_loops(points: Floats) -> Floats:
    """The ring without the small loops that normals make where they cross in a narrow bay."""
    import shapely

    shape = shapely.make_valid(shapely.Polygon(points))
    shape = shapely.buffer(shapely.buffer(shape, -1.0), 1.0)
    parts = [part for part in getattr(shape, "geoms", [shape]) if isinstance(part, shapely.Polygon)]
    if not parts or max(part.area for part in parts) == 0:
        return _counterclockwise_as_seen(points)
    largest = max(parts, key=lambda part: part.area)
    return _counterclockwise_as_seen(np.asarray(largest.exterior.coords)[:-1])


def _simplified_inside(ring: Floats, tolerance: float) -> Floats:
    """Few points, nowhere outside `ring` and inside it by at most `tolerance` mm."""
    from nestplan.geometry.ring import make_ring, simplify_inside

    smooth = resample(ring, 2.0, smooth=2.0)
    return np.asarray(simplify_inside(make_ring(smooth, place="outline"), tolerance), dtype=np.float64)


def _border_share(rectified: RectifiedPhoto, points: Floats) -> float:
    seen = rectified.visible
    cells = np.clip(np.rint(points).astype(int), 0, [seen.shape[1] - 1, seen.shape[0] - 1])
    inside = ((points > 4) & (points < [seen.shape[1] - 5, seen.shape[0] - 5])).all(axis=1)
    good = seen[cells[:, 1], cells[:, 0]] & inside
    return float(1 - good.mean())


def _fine_features(rectified: RectifiedPhoto) -> tuple[int, NDArray[np.float32], NDArray[np.float32]]:
    """Pixels along a block of about 1.5 mm, the picture in such blocks, and their looks, (h, w, 3) each."""
    half = max(1, round(1.5 / rectified.mm_per_pixel))
    small = block_means(rectified.image, half)
    return half, small, colour_looks(small)


def _find_openings(
    rectified: RectifiedPhoto,
    ring: Floats,
    half: int,
    small: NDArray[np.float32],
    features: NDArray[np.float32],
) -> tuple[Opening, ...]:
    """Places inside where the floor is seen through the leather, or a thing lies on it; see `_fine_features`."""
    from scipy import ndimage
    from skimage.measure import find_contours

    size = half * rectified.mm_per_pixel
    seen = _blocks_visible(rectified, half)
    outside = seen & ~_grown_mask(rectified, ring, 12.0, half, seen.shape)
    core = _grown_mask(rectified, ring, -12.0, half, seen.shape)
    if core.sum() < 500 or outside.sum() < 500:
        return ()
    floor, hide = (
        fit_gaussian_mixture(features[outside][::7], 5),
        fit_gaussian_mixture(features[core][::7], 4),
    )
    # A small share of the leather may be the holes themselves.
    hide = hide.restricted_to(hide.weights > 0.04)
    tones = tones_of(features[core][::7])
    odds = np.full(seen.shape, -6.0, dtype=np.float32)
    odd = _grown_mask(rectified, ring, -8.0, half, seen.shape)
    odd[odd] = hide.distance(features[odd]) > 6.0
    odds[odd] = np.clip(
        _log_density_in_shadow(floor, features[odd]) - _log_density_in_shadow(hide, features[odd]), -6, 6
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
            hole = rectified.to_mm((contour + 0.5) * half - 0.5)
            is_floor = float(np.ptp(hole, axis=0).max()) < LARGE_OPENING and _shows_floor(
                floor, tones, _middle_looks(features, patch, corner)
            )
            openings.append(Opening(_opening_ring(hole, 1.0 + size), is_floor))
    return tuple(openings)


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


def _shows_floor(floor: GaussianMixture, tones: LeatherTones, looks: NDArray[np.float32]) -> bool:
    """Whether looks (n, 3) in the middle of an opening are the floor's, and no tone of the leather as well."""
    unlike = float((_distance_in_shadow(floor, looks) > NOT_FLOOR).mean())
    return unlike < NOT_FLOOR_SHARE and float(tones.hold(looks).mean()) <= LEATHER_SHARE


def _middle_looks(features: NDArray[np.float32], patch: Mask, corner: tuple[int, int]) -> NDArray[np.float32]:
    """Looks (n, 3) in the middle of an opening: at its rim the leather's are mixed in."""
    from scipy import ndimage

    away = ndimage.distance_transform_edt(patch)
    rows, columns = np.nonzero(away > MIDDLE_SHARE * away.max())
    return features[rows + corner[1], columns + corner[0]]


def _log_density_in_shadow(mixture: GaussianMixture, features: NDArray[np.float32]) -> NDArray[np.float64]:
    """Log density (n,) of looks (n, 3) under a mixture, as lit or darkened.

    Floor in a hole lies in the shade of the leather round it, and a dark spot is darkened leather: what tells
    them apart is colour, or floor brighter than the leather, not darkness.
    """
    best = np.full(len(features), -np.inf)
    for lit in _lit(features):
        np.maximum(best, mixture.log_density(lit), out=best)
    return best


def _distance_in_shadow(mixture: GaussianMixture, features: NDArray[np.float32]) -> NDArray[np.float64]:
    """Squared Mahalanobis distance (n,) of looks (n, 3) to a mixture, as lit or darkened."""
    best = np.full(len(features), np.inf)
    for lit in _lit(features):
        np.minimum(best, mixture.distance(lit), out=best)
    return best


def _lit(features: NDArray[np.float32]) -> Iterator[NDArray[np.float32]]:
    """Looks (n, 3) as they are, and as they would be without shadows of several depths."""
    for shade in (0.0, 0.3, 0.6, 0.9, 1.2):
        yield features + np.array([shade, 0, 0], dtype=np.float32)


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
    from scipy import ndimage

    rows = slice(max(box[0].start - AROUND[1], 0), box[0].stop + AROUND[1])
    columns = slice(max(box[1].start - AROUND[1], 0), box[1].stop + AROUND[1])
    part, looks = small[rows, columns], features[rows, columns]
    grown = np.zeros(part.shape[:2], dtype=bool)
    top, left = box[0].start - rows.start, box[1].start - columns.start
    grown[top : top + patch.shape[0], left : left + patch.shape[1]] = patch
    near, far = (ndimage.binary_dilation(grown, iterations=reach) for reach in AROUND)
    around = far & ~near
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
