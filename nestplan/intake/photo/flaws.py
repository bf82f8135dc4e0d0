"""Places in the leather that look spoiled, with a strength: spots, scars, wrinkles, brands.

They are to be shown, never taken unasked.

A flaw is darker or lighter than the leather on both its sides; the edge of a shadow is so on one side only, and
is passed over. Openings are the outline's (outline). What a place spoils is the user's to say: these are
guesses.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from nestplan.errors import Cancelled
from nestplan.geometry.ring import signed_area
from nestplan.intake.photo.leather_pattern import LeatherTones, tones_of
from nestplan.intake.photo.outline import Outline
from nestplan.intake.photo.raster import block_means, colour_looks, ring_mask
from nestplan.intake.photo.rectification import RectifiedPhoto

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Picture = NDArray[np.float32]
    Mask = NDArray[np.bool_]

__all__ = ["Appearance", "FlawSuggestion", "FoundFlaws", "find_flaws", "suggest_flaws"]

Appearance = Literal["hole", "dark spot", "light spot", "line", "group of lines"]

PIXEL_MM = 1.8
SCALES = (2.5, 4.5, 8.0, 14.0)
EDGE_MARGIN = 7.0
"""Working fineness, mm a pixel; half widths of what is looked for, mm; how near the edge is not looked at,
mm."""
START_LEVEL, GROW_LEVEL = 6.0, 3.2
"""In units of the leather's own noise: what begins a suggestion, and what still belongs to it."""
JOIN_DISTANCE = 12.0
LEAST_SIZE = 8.0
LEAST_CONTRAST = 0.045
"""Parts closer than this are one suggestion (the strokes of a brand), mm."""
_MOST_FLAWS, _MOST_SHARE = 20, 0.03
"""How many places, and with what share of the leather, are flaws at most: more are its pattern."""
_ACROSS, _SAME_TONE, _SHARE_OF_TONES = 0.3, 0.025, 0.3
"""What share of the way between two tones the looks of a place spread over if it belongs to the pattern, or how near
all of them lie to one, and what share of them are of the tones or between. (Drawn flaws on spotted leather spread over
0.05 to 0.13 and lie 0.06 and more off; what crosses tones spreads over 0.6 to 1.)"""
_TWO_TONES = 6.0
"""Standard deviations between two tones at least. (Drawn spotted leather has 12 and 39, leather with gloss 3.5.)"""
MOST_SUGGESTIONS = 15
"""No list is longer than this, openings aside."""


@dataclass(frozen=True, eq=False)
class FlawSuggestion:
    """A place to look at: `ring` (n, 2) mm round it, how it looks, and `strength` from 0 to 1 (sure)."""

    ring: Floats
    appearance: Appearance
    strength: float

    @property
    def size(self) -> float:
        """The longer side of its bounds, mm."""
        return float(np.ptp(self.ring, axis=0).max())


@dataclass(frozen=True, eq=False)
class FoundFlaws:
    """`places` to look at, and whether the leather is `patterned`: then what belongs to its pattern is not among them,
    and flaws that look like it may not be either."""

    places: tuple[FlawSuggestion, ...]
    patterned: bool = False


def suggest_flaws(
    rectified: RectifiedPhoto,
    outline: Outline,
    *,
    least: float = 0.35,
    most: int = MOST_SUGGESTIONS,
    cancelled: Callable[[], bool] | None = None,
) -> tuple[FlawSuggestion, ...]:
    """The places of `find_flaws`.

    Raises Cancelled if `cancelled()` says so.
    """
    return find_flaws(rectified, outline, least=least, most=most, cancelled=cancelled).places


def find_flaws(
    rectified: RectifiedPhoto,
    outline: Outline,
    *,
    least: float = 0.35,
    most: int = MOST_SUGGESTIONS,
    cancelled: Callable[[], bool] | None = None,
) -> FoundFlaws:
    """Places inside the outline that look spoiled, strongest first; weaker ones than `least` are left out.

    The outline's openings come before them, as `hole`; of all else at most `most` are given, the strongest: a
    picture that shows more is texture or a wrong outline, which nobody can look through one by one.

    Raises Cancelled if `cancelled()` says so.
    """
    holes = [FlawSuggestion(hole, "hole", 1.0) for hole in outline.holes]
    bright, away, size, origin, looks = _leather_brightness(rectified, outline)
    if (away > EDGE_MARGIN).sum() < 200:
        return FoundFlaws(tuple(holes))
    bare = away > EDGE_MARGIN
    significance, contrast, sign = np.zeros(bright.shape), np.zeros(bright.shape), np.zeros(bright.shape)

    def asked(question: tuple[float, int]) -> tuple[Picture, Picture]:
        # How much places answer to flaws of one width, darker (1) or lighter (-1), and that over what is usual.
        if cancelled is not None and cancelled():
            raise Cancelled
        scale, direction = question
        answer = _valley_response(direction * bright, scale / size)
        usual = np.percentile(answer[bare], [50, 84])
        noise = max(float(usual[1] - usual[0]), 0.004)
        return answer, (answer - usual[0]) / noise

    questions = [(scale, direction) for scale in SCALES for direction in (1, -1)]
    with ThreadPoolExecutor(max_workers=2) as pool:
        for (_, direction), (answer, significant) in zip(questions, pool.map(asked, questions), strict=True):
            better = significant > significance
            significance = np.where(better, significant, significance)
            contrast = np.where(better, answer, contrast)
            sign = np.where(better, direction, sign)
    significance[~bare] = 0
    significance[contrast < LEAST_CONTRAST * 0.6] = 0
    found = [place for place in _grouped(significance, contrast, sign, size) if place.strength >= least]
    tones = _pattern_tones(found, int((away > 0).sum()), looks[bare][::5])
    if tones is not None:
        found = [place for place in found if not _belongs(tones, looks[place.cells])]
    placed = [
        FlawSuggestion(_to_mm(place.ring, size, origin), place.appearance, place.strength) for place in found
    ]
    return FoundFlaws((*holes, *sorted(placed, key=lambda flaw: -flaw.strength)[:most]), tones is not None)


def _belongs(tones: LeatherTones, looks: Picture) -> bool:
    """Whether a place's looks (n, 3) go from one tone of the leather to the other, or are one of them where the other
    is on both sides: a flaw lies in one tone, lighter or darker throughout, or looks like neither."""
    if tones.hold(looks).mean() < _SHARE_OF_TONES:
        return False
    low, high = np.percentile(tones.along(looks), [10, 90])
    off = min(max(abs(low - tone), abs(high - tone)) for tone in (0, 1))
    return bool(high - low > _ACROSS or off < _SAME_TONE)


def _pattern_tones(places: Sequence[_Place], leather: int, looks: Picture) -> LeatherTones | None:
    """The two tones of leather, so many cells large and with these looks (n, 3), if its places are so many or so much
    of it that they are its own look: spots, patches, another tone. None if they are flaws."""
    share = sum(len(place.cells[0]) for place in places) / max(leather, 1)
    if len(places) <= _MOST_FLAWS and share <= _MOST_SHARE:
        return None
    tones = tones_of(looks)
    return tones if tones.apart > _TWO_TONES else None


def _leather_brightness(
    rectified: RectifiedPhoto, outline: Outline
) -> tuple[Picture, Picture, float, tuple[float, float], Picture]:
    """Log brightness of the leather's part of the picture, distance (mm) to its edge, mm a pixel, origin, and looks.

    Beyond the edge and over the openings the leather's look is continued, so that they leave no trace.
    """
    from scipy import ndimage

    step = max(1, round(PIXEL_MM / rectified.mm_per_pixel))
    places = rectified.to_pixels(outline.exterior)
    low = np.maximum(np.floor(places.min(axis=0)).astype(int) - 20, 0)
    high = np.minimum(np.ceil(places.max(axis=0)).astype(int) + 20, rectified.image.shape[1::-1])
    part = rectified.image[low[1] : high[1], low[0] : high[0]]
    small = block_means(part, step)
    grey = small @ np.array([0.3, 0.5, 0.2], np.float32)
    size = step * rectified.mm_per_pixel
    inside = np.zeros(grey.shape, dtype=bool)
    for number, ring in enumerate((outline.exterior, *outline.holes)):
        local = (rectified.to_pixels(ring) - low + 0.5) / step - 0.5
        inside[ring_mask(local, inside.shape)] = number == 0
    away = ndimage.distance_transform_edt(inside).astype(np.float32) * size
    sound = away > 4
    bright = np.log(grey + 10)
    nearest = ndimage.distance_transform_edt(~sound, return_distances=False, return_indices=True)
    mean = ndimage.gaussian_filter(np.where(sound, bright, 0.0), 4.0 / size)
    weight = ndimage.gaussian_filter(sound.astype(np.float32), 4.0 / size)
    smooth = mean / np.maximum(weight, 1e-3)
    bright = np.where(sound, bright, smooth[tuple(nearest)]).astype(np.float32)
    corner = rectified.to_mm([[low[0] + (step - 1) / 2, low[1] + (step - 1) / 2]])[0]
    return bright, away, size, (float(corner[0]), float(corner[1])), colour_looks(small)


def _valley_response(bright: Picture, half: float) -> Picture:
    """How much darker each place is than both places beside it, in the direction where that is most.

    `half`: half the width looked for, pixels. An edge between light and dark gives nothing.
    """
    from scipy import ndimage

    smooth = ndimage.gaussian_filter(bright, 0.7 * half)
    reach = max(2, round(2.4 * half))
    best = np.full(bright.shape, -np.inf, dtype=np.float32)
    padded = np.pad(smooth, reach, mode="edge")
    rows, columns = bright.shape
    for turn in np.arange(6) * np.pi / 6:
        dy, dx = round(reach * np.sin(turn)), round(reach * np.cos(turn))
        ahead = padded[reach + dy : reach + dy + rows, reach + dx : reach + dx + columns]
        behind = padded[reach - dy : reach - dy + rows, reach - dx : reach - dx + columns]
        np.maximum(best, np.minimum(ahead, behind) - smooth, out=best)
    return best


@dataclass(frozen=True, eq=False)
class _Place:
    """A place that stands out: `ring` (n, 2) in pixels round it, and its `cells`, rows and columns."""

    ring: Floats
    appearance: Appearance
    strength: float
    cells: tuple[NDArray[np.intp], NDArray[np.intp]]


def _grouped(significance: Floats, contrast: Floats, sign: Floats, size: float) -> list[_Place]:
    """Connected places that stand out enough."""
    from scipy import ndimage

    grown, _ = ndimage.label(significance > GROW_LEVEL)
    begun = np.unique(grown[significance > START_LEVEL])
    belongs = np.isin(grown, begun)
    if not len(begun):
        return []  # sound leather: there would be no distance to measure from
    grown = ndimage.distance_transform_edt(~belongs) * size < JOIN_DISTANCE / 2
    labels, _ = ndimage.label(grown)
    out: list[_Place] = []
    for number, box in enumerate(ndimage.find_objects(labels), start=1):
        patch = (labels[box] == number) & belongs[box]
        # Wide scales answer beyond the flaw itself: only what is nearly as deep as its depth belongs to it.
        patch &= contrast[box] > 0.35 * np.percentile(contrast[box][patch], 90)
        rows, columns = np.nonzero(patch)
        long, wide = _extents(np.column_stack([columns, rows]).astype(np.float64) * size)
        if long + size < LEAST_SIZE:
            continue
        values = significance[box][patch]
        top = float(np.percentile(values, 90))
        deep = float(np.percentile(contrast[box][patch], 90))
        if deep < LEAST_CONTRAST:
            continue
        _, parts = ndimage.label(patch, structure=np.ones((3, 3)))
        share = patch.sum() * size * size / max(long * wide, 1.0)
        dark = float(sign[box][patch].sum()) > 0
        appearance: Appearance
        if long > 25 and (parts > 1 or share < 0.45) and wide > 0.3 * long:
            appearance = "group of lines"
        elif long > 2.8 * wide:
            appearance = "line"
        else:
            appearance = "dark spot" if dark else "light spot"
        extent = np.sqrt(patch.sum()) * size
        strength = 1 - np.exp(-((top / 9.0) ** 2) * min(deep / 0.12, 1.5) * min(extent / 9.0, 1.6))
        cells = rows + box[0].start, columns + box[1].start
        out.append(
            _Place(_ring_round(cells[1], cells[0], size), appearance, round(float(strength), 3), cells)
        )
    return out


def _extents(points: Floats) -> tuple[float, float]:
    """Length along and across the main direction of points (n, 2)."""
    middle = points - points.mean(axis=0)
    if len(points) < 3:
        return float(np.ptp(points, axis=0).max()), 0.0
    _, _, axes = np.linalg.svd(middle, full_matrices=False)
    turned = middle @ axes.T
    return float(np.ptp(turned[:, 0])), float(np.ptp(turned[:, 1]))


def _ring_round(columns: NDArray[np.intp], rows: NDArray[np.intp], size: float) -> Floats:
    """A simple ring (n, 2), pixels, that holds the given pixels and joins parts that lie close."""
    import shapely

    cells = shapely.box(columns - 0.5, rows - 0.5, columns + 0.5, rows + 0.5)
    shape = shapely.buffer(shapely.union_all(cells), JOIN_DISTANCE / 2 / size, quad_segs=2)
    shape = shapely.simplify(
        shapely.buffer(shape, -(JOIN_DISTANCE / 2 - 1.0) / size, quad_segs=2), 0.6 / size
    )
    if shape.geom_type != "Polygon":
        shape = shapely.convex_hull(shape)
    return np.asarray(shape.exterior.coords, dtype=np.float64)[:-1]


def _to_mm(ring: Floats, size: float, origin: tuple[float, float]) -> Floats:
    """Counter-clockwise mm (y up) of a ring in pixels of the working picture."""
    points = np.column_stack([origin[0] + ring[:, 0] * size, origin[1] - ring[:, 1] * size])
    return points if signed_area(points) > 0 else points[::-1].copy()
