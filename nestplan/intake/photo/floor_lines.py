"""Which straight lines of a picture are the floor's own.

Joints of tiles, boards and bricks run two ways, square to each other, and so tell how the camera is tilted, far from
the sheet as well as near it.

Not here: the camera's own residuals (camera), and how lines tell the lens (distortion).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import numpy as np

from nestplan.intake.photo.camera import CameraFit, FloorLines, SheetView, fit_camera
from nestplan.intake.photo.distortion import distortion_of_chains
from nestplan.intake.photo.line_segments import straight_chains
from nestplan.intake.photo.reading import Photo

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["PictureLines", "camera_and_floor", "fit_to_floor", "floor_lines", "lines_of", "rectangle_lines"]

_LEAST_LENGTH = 0.05
"""Length of the shortest line that is asked, as a share of the picture's diagonal."""
_LEAST_LINES, _LEAST_SHARE, _LEAST_SPREAD = 8, 0.6, 0.25
"""How many lines must run the two ways, what share of all lines (by length) they must be, and how far apart the
outermost of them must lie, as a share of the picture's diagonal: else they may be a box's or nobody's."""
_LEAST_ONE_WAY = 4
"""Fewer lines than this that run one way are not asked: one of them may be a shadow's edge."""
_TURNED = (np.radians(6.0), np.radians(2.0))
"""How far lines may be turned from the two ways by the camera that the sheet tells, and by the one they then tell."""
_END_ERROR = 0.15
"""Standard error of a line's end, in pixels of the picture that lines are looked for in."""
_LAID_ERROR = np.radians(0.1)
"""How far a joint is laid from its way [memory: tilers and joiners keep to a millimetre or two in a metre]."""
_INDEPENDENT = 10.0
"""As so many lines at most count those that run one way: a floor laid askew is so all over."""
_TO_DEVIATION = 1.4826
"""Standard deviation of a normal distribution over its median distance from the middle."""
_MOST_MISFIT = 2.5
"""By how much for each independent line they may raise the sum of squared residuals (1 is expected): else they are no
two ways square to each other, or not the floor's."""
_SHEET_REACH = 1.15
"""Lines on a sheet, grown by this, are its own."""


@dataclass(frozen=True, eq=False)
class PictureLines:
    """All straight lines of a photo: `chains` of edge points (n, 2), pixels, the distortion k and its standard error as
    they tell it, if they do, and the standard error of a line's end, pixels."""

    chains: tuple[Floats, ...]
    bend: tuple[float, float] | None
    end_error: float


_LINES: WeakKeyDictionary[Photo, PictureLines] = WeakKeyDictionary()
"""Those of photos that are still in use."""


def lines_of(photo: Photo) -> PictureLines:
    """All straight lines of a photo; looked for once, though its sheet's size and its camera both ask."""
    if photo not in _LINES:
        _LINES[photo] = _look_for_lines(photo)
    return _LINES[photo]


def _look_for_lines(photo: Photo) -> PictureLines:
    chains, size, step = straight_chains(photo)
    in_photo = tuple((chain + 0.5) * step - 0.5 for chain in chains)
    return PictureLines(in_photo, distortion_of_chains(chains, size), _END_ERROR * step)


def camera_and_floor(
    photo: Photo,
    sheets: Sequence[SheetView],
    *,
    lines: PictureLines | None = None,
) -> tuple[CameraFit, FloorLines | None]:
    """The camera over sheets of known shape, with all that the picture's straight lines say of lens and tilt, and the
    lines of the floor that it was fitted to, if there are any. `lines`: those of the photo, if they were looked for
    already.

    Raises InputError if three corners of a sheet lie on a line.
    """
    seen = lines or lines_of(photo)

    def fitted(floor: FloorLines | None) -> CameraFit:
        return fit_camera(sheets, photo.size, focal=photo.focal, lines=seen.bend, floor=floor)

    return fit_to_floor(fitted, seen.chains, photo.size, seen.end_error)


def fit_to_floor(
    fitted: Callable[[FloorLines | None], CameraFit],
    chains: Sequence[Floats],
    size: tuple[int, int],
    end_error: float,
) -> tuple[CameraFit, FloorLines | None]:
    """The camera that `fitted` gives with those of `chains` (n, 2) that are the floor's lines, and these, if there are
    any that suit; `size` of the photo and `end_error` of a line's end in pixels."""
    plain = fit = fitted(None)
    floor = None
    if plain.lens is None:
        # No camera sees the sheet so (a picture cropped askew): then none sees the floor.
        return plain, None
    for closely in (False, True):
        floor = floor_lines(chains, size, fit, end_error, closely=closely)
        if floor is None:
            return plain, None
        fit = fitted(floor)
    if floor is None or fit.misfit - plain.misfit > _MOST_MISFIT * floor.independent:
        return plain, None
    return fit, floor


def floor_lines(
    chains: Sequence[Floats],
    size: tuple[int, int],
    fit: CameraFit,
    end_error: float,
    *,
    closely: bool = False,
) -> FloorLines | None:
    """Those of `chains` (n, 2), pixels of a photo of `size`, that run the two ways of the floor's own lines, as a
    camera sees them; None if there is no such floor.

    `end_error`: standard error of a line's end, pixels; `closely`: the camera was fitted to such lines already.
    """
    diagonal = float(np.hypot(*size))
    ends = np.array([_ends(chain) for chain in chains]).reshape(-1, 2, 2)
    long = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    kept = (long > _LEAST_LENGTH * diagonal) & ~_on_a_sheet(ends, fit)
    ends, long = ends[kept], long[kept]
    if len(ends) < _LEAST_LINES:
        return None
    ways = _directions(ends, fit)
    # Four times an angle is the same for both ways.
    fourfold = np.exp(4j * ways)
    turned = np.abs(np.angle(fourfold[:, None] / fourfold[None])) / 4 < _TURNED[closely]
    best = int((turned @ long).argmax())
    base = np.angle((fourfold * long)[turned[best]].sum()) / 4
    own = np.abs(np.angle(fourfold * np.exp(-4j * base))) / 4 < _TURNED[closely]
    across = np.cos(2 * (ways - base)) < 0
    for way in (across, ~across):
        if (own & way).sum() < _LEAST_ONE_WAY:
            own &= ~way
    if own.sum() < _LEAST_LINES or long[own].sum() < _LEAST_SHARE * long.sum():
        return None
    ends, ways, across = ends[own], ways[own], across[own]
    if np.ptp(ends.reshape(-1, 2), axis=0).min() < _LEAST_SPREAD * diagonal:
        return None
    errors = _direction_errors(ends, ways, end_error, fit)
    # Where they scatter more than that (the grain of wood), they tell less.
    turned_by = np.angle(fourfold[own] * np.exp(-4j * base)) / 4
    scatter = max(1.0, _TO_DEVIATION * _middle_scatter(turned_by / errors, across))
    counts = np.where(across, across.sum(), (~across).sum())
    shared = np.sqrt(np.maximum(counts / _INDEPENDENT, 1.0))
    independent = sum(min(_INDEPENDENT, float(way.sum())) for way in (across, ~across))
    return FloorLines(ends, across, errors * scatter * shared, independent)


def rectangle_lines(corners: Floats, fit: CameraFit, corner_error: float) -> FloorLines:
    """The sides of what is seen at `corners` (4, 2), pixels, each with that standard error, as lines of a floor: of a
    box or a paper, whatever its size, they run two ways square to each other."""
    ends = np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)
    errors = _direction_errors(ends, _directions(ends, fit), corner_error, fit)
    return FloorLines(ends, np.array([False, True, False, True]), errors, len(ends))


def _middle_scatter(values: Floats, across: NDArray[np.bool_]) -> float:
    """Median distance of values from the median of those that run the same way."""
    off = [np.abs(values[way] - np.median(values[way])) for way in (across, ~across) if way.any()]
    return float(np.median(np.concatenate(off)))


def _ends(chain: Floats) -> Floats:
    """Two points (2, 2) of a chain: the means of its first and last third, which lens and noise move little."""
    middle = chain.mean(axis=0)
    along = (chain - middle) @ np.linalg.svd(chain - middle, full_matrices=False)[2][0]
    order = np.argsort(along)
    third = max(1, len(chain) // 3)
    return np.array([chain[order[:third]].mean(axis=0), chain[order[-third:]].mean(axis=0)])


def _on_a_sheet(ends: Floats, fit: CameraFit) -> NDArray[np.bool_]:
    """Which lines lie on a sheet or along its sides."""
    import shapely

    on = np.zeros(len(ends), dtype=bool)
    for quad in [] if fit.sheets is None else fit.sheets:
        middle = quad.mean(axis=0)
        grown = fit.seen_at(middle + (quad - middle) * _SHEET_REACH)
        shape = shapely.convex_hull(shapely.multipoints(grown))
        on |= shapely.contains_xy(shape, ends[..., 0], ends[..., 1]).all(axis=1)
    return on


def _directions(ends: Floats, fit: CameraFit) -> Floats:
    """Directions (n,), radians, on the floor of lines with ends (n, 2, 2) in the photo."""
    floor = fit.floor_of(ends.reshape(-1, 2)).reshape(-1, 2, 2)
    way = floor[:, 1] - floor[:, 0]
    return np.arctan2(way[:, 1], way[:, 0])


def _direction_errors(ends: Floats, ways: Floats, end_error: float, fit: CameraFit) -> Floats:
    """Standard errors (n,), radians, of directions on the floor."""
    way = ends[:, 1] - ends[:, 0]
    aside = np.column_stack([-way[:, 1], way[:, 0]]) / np.hypot(*way.T)[:, None]
    moved = ends.copy()
    moved[:, 1] += aside * (end_error * np.sqrt(2))
    off = np.abs(np.angle(np.exp(2j * (_directions(moved, fit) - ways)))) / 2
    return np.asarray(np.hypot(off, _LAID_ERROR))
