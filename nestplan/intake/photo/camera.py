"""From four corners of known size to the camera that saw them: homography, its uncertainty, lens distortion.

Plane points are mm on the floor (x right, y up), picture points are pixels (x right, y down). Not here: finding
the corners (reference), drawing the picture anew (rectification).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from nestplan.errors import InputError
from nestplan.intake.photo.least_squares import solve_least_squares

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

__all__ = [
    "CameraFit",
    "FloorLines",
    "RadialDistortion",
    "SheetView",
    "apply_homography",
    "camera_cost",
    "fit_camera",
    "homography_of",
]

FOCAL_PRIOR, FOCAL_PRIOR_SPREAD = 0.75, 0.3
FOCAL_SPREAD_FROM_FILE = 0.03
AXIS_PRIOR_SPREAD = 0.05
"""What is believed of a camera before its picture is looked at [memory: phones and compacts, 24-50 mm
equivalent]: focal length over the picture's diagonal and the spread of its logarithm; how far the
optical axis may lie from the picture's middle, as a share of the diagonal."""
CORRECTED_SPREAD, BENT_SPREAD = 0.002, 0.06
"""Spread of the distortion k of lenses that are corrected, and of those that are not [memory: phones correct their main
lens to a few tenths of a per cent at the corners, the widest lenses bend by ten]."""
CORRECTED_ODDS = 1.0
"""Odds that a picture is corrected before it is looked at: even, so that its own evidence decides."""
LEAST_SIDE_ERRORS = (0.5, 0.45)
"""Standard errors of a side's own offset and turn (at its ends), whatever its points say, over that of a corner, which
is made of both (800 sides on rendered photographs: 0.06 and 0.05 pixels where corners are told to 0.12)."""
SHARED_OFFSET = 0.7
"""Standard error of the offset that all sides of all sheets share, over that of a corner: a shadow beside them and
white cut off move all alike (of 200 sheets 0.083 pixels where corners are told to 0.12, 0.33 where to 0.46)."""
LEAST_SIDE = 1e-6
"""Length in pixels below which a side, while poses are tried, counts as shrunk to a point: it has no direction."""
LEAST_BEND_ERROR, PAPER_BEND = 0.045, 0.1
"""Standard error of how far a side bends, whatever its points say: pixels (the same 92 sides), and mm, for paper is cut
straight and lies flat to about a tenth [memory]."""
NOISE_SHARED = (1.3, 1.0, 1.7)
"""How many times more offset, turn and bend of a side scatter than its points would let them if neighbours had nothing
in common (the same 92 sides): a stone or a shadow moves several."""
MOST_ALIKE = 0.8
"""Correlation of neighbouring points of a side up to which it is read from them."""
MOST_BEND = 2.5
"""The most, in standard errors, that the bend of one side can say."""
LEAST_DEPTH = 1e-9
"""Share of the least depth, nearer to the horizon than which no point of the floor is believed to lie."""
SQUARE_ERROR = np.radians(0.2)
"""How far from square a floor's two ways of lines are laid [memory: 3 mm in a metre]."""
MOST_TURN = 3.0
"""The most, in standard errors, that the turn of one line can say: it may be another thing's."""
_FARTHEST = 50.0
"""Logarithm of the depth and the focal length at which poses that are tried end: beyond, numbers do."""
_NO_CAMERA = 60.0
"""Sum of squared residuals, in standard errors, from which on no usual camera sees one sheet so: a picture that was
cropped askew, or corners given by hand that are not the sheet's. Of honest ones it is about 6."""
_LEAST_CHANCE = 0.002
"""A kind of lens less likely than this is left out of the uncertainty."""
_MOST_CALLS = 200
"""How many cameras are tried in one fit: where focal length and distance are hardly told apart it takes a hundred."""
_CAMERA_VALUES = 10
"""Values of the camera itself, distortion included: see `_CameraProblem`."""


@dataclass(frozen=True)
class RadialDistortion:
    """Radial distortion by the lens, one term: straight = seen / (1 + k r²).

    r is the distance from `centre` (pixels) over `radius` (half the picture's diagonal). k < 0: barrel.
    The division model of Fitzgibbon (2001), "Simultaneous linear estimation of multiple view geometry and
    lens distortion", one term.
    """

    k: float
    centre: tuple[float, float]
    radius: float

    def undistort(self, points: Floats) -> Floats:
        """Picture points (n, 2) as a lens without distortion would have shown them."""
        offset = (points - np.array(self.centre)) / self.radius
        scale = 1 + self.k * (offset**2).sum(axis=-1, keepdims=True)
        return np.asarray(offset / scale * self.radius + np.array(self.centre))

    def distort(self, points: Floats) -> Floats:
        """The inverse of `undistort`, in closed form: r_seen solves k r_s r² - r + r_s = 0."""
        offset = (points - np.array(self.centre)) / self.radius
        square = self.k * (offset**2).sum(axis=-1, keepdims=True)
        root = np.sqrt(np.maximum(1 - 4 * square, 0.0))
        return np.asarray(offset * (2 / (1 + root)) * self.radius + np.array(self.centre))


@dataclass(frozen=True, eq=False)
class SheetView:
    """A sheet or board of known shape as it is seen.

    `plane` (4, 2) mm and `seen` (4, 2) pixels in the same order, `standard_error` of a seen corner, pixels;
    `side_points`: points (n, 2), pixels, along the side from each corner to the next, or none.
    """

    plane: Floats
    seen: Floats
    standard_error: float
    side_points: tuple[Floats, ...] = ()


@dataclass(frozen=True, eq=False)
class FloorLines:
    """Lines of the floor that run two ways, square to each other.

    `ends` (n, 2, 2): two points of each as they are seen, pixels; `across` (n,): which of the two ways it runs;
    `errors` (n,): standard errors of their directions on the floor, radians, grown so that all count as so many as are
    `independent`.
    """

    ends: Floats
    across: NDArray[np.bool_]
    errors: Floats
    independent: float

    def residuals(self, homographies: Floats, ends: Floats) -> Floats:
        """How far each line is turned from its way, and the two ways from square, in standard errors (m, n + 1), for
        floors seen by homographies (m, 3, 3) and the lines' ends as no lens bends them (m, n, 2, 2)."""
        first, second, third = np.moveaxis(homographies, -1, 0)
        # The inverse but for its scale, which does not turn lines, and there for all poses that are tried.
        crossed = [np.cross(second, third), np.cross(third, first), np.cross(first, second)]
        back = np.stack(crossed, axis=-2)[:, None]
        floor = ends @ back[..., :2].swapaxes(-1, -2) + back[..., None, :, 2]
        depth = floor[..., 2:]
        # While the fit tries poses, a point may come to lie on the horizon.
        least = LEAST_DEPTH * np.abs(depth).max(axis=(1, 2, 3), keepdims=True)
        floor = floor[..., :2] / np.where(np.abs(depth) <= least, np.maximum(least, LEAST_SIDE**3), depth)
        way = (floor[..., 1, 0] - floor[..., 0, 0]) + 1j * (floor[..., 1, 1] - floor[..., 0, 1])
        # Twice the angle is the same whichever end comes first.
        twice = (way / np.maximum(np.abs(way), LEAST_SIDE)) ** 2
        off = np.zeros((len(homographies), len(self.errors) + 1))
        means = []
        for own in (~self.across, self.across):
            if own.any():
                mean = (twice[:, own] / self.errors[own] ** 2).sum(axis=1, keepdims=True)
                off[:, :-1][:, own] = np.angle(twice[:, own] * mean.conj()) / 2 / self.errors[own]
                means.append(mean[:, 0])
        off[:, :-1] /= np.sqrt(1 + (off[:, :-1] / MOST_TURN) ** 2)
        if len(means) == 2:
            off[:, -1] = np.angle(-means[0] * means[1].conj()) / 2 / SQUARE_ERROR
        return off


@dataclass(frozen=True, eq=False)
class CameraFit:
    """The camera over the floor: plane mm -> pixels by `homography` (3, 3), then bent by `lens`, if any.

    `homography_samples` (m, 3, 3) and `distortion_samples` (m,) are cameras that explain the points as well: as many of
    each kind of lens, a kind as likely as `chances` say; `residual` is the root mean square of the corners, pixels;
    `misfit` the sum of squared residuals and beliefs in standard errors; `sheets` (n, 4, 2) the corners of all sheets
    on the floor, mm.
    """

    homography: Floats
    homography_samples: Floats
    residual: float
    lens: RadialDistortion | None = None
    distortion_samples: Floats | None = None
    misfit: float = 0.0
    sheets: Floats | None = None
    chances: tuple[float, ...] = (1.0,)

    def standard_error(self, deviations: ArrayLike) -> float:
        """Half of what a value is not further off than with 95 % chance, given its deviations (m,) in the samples.

        With one kind of lens that is their root mean square. With two it is that of a mixture of two normal
        distributions, whose root mean square would hide that a little likely lens is far off.
        """
        from scipy.special import ndtr

        values = np.asarray(deviations, dtype=np.float64).reshape(len(self.chances), -1)
        if values.size == 0:
            return 0.0
        means = values.mean(axis=1)
        spreads = np.maximum(values.std(axis=1), 1e-12)
        low, high = 0.0, float((np.abs(means) + 6 * spreads).max())
        wanted = ndtr(2) - ndtr(-2)
        for _ in range(40):
            trial = (low + high) / 2
            within = np.array(self.chances) @ (
                ndtr((trial - means) / spreads) - ndtr((-trial - means) / spreads)
            )
            low, high = (trial, high) if within < wanted else (low, trial)
        return high / 2

    def floor_of(self, pixels: Floats) -> Floats:
        """Floor mm (n, 2) of places (n, 2) in the photo."""
        straight = pixels if self.lens is None else self.lens.undistort(pixels)
        return apply_homography(np.linalg.inv(self.homography), straight)

    def tilt(self, size: tuple[int, int]) -> float:
        """Degrees by which a camera looks aslant at the floor, of a picture of `size` (width, height): in its middle
        lengths towards the camera are drawn shorter than those across by the cosine."""
        middle = np.array(size) / 2
        here, right, down = self.floor_of(middle + np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]))
        longest, shortest = np.linalg.svd(np.array([right - here, down - here]), compute_uv=False)
        return math.degrees(math.acos(min(1.0, shortest / longest)))

    def seen_at(self, points: Floats) -> Floats:
        """Where floor points (n, 2), mm, are seen in the photo, pixels."""
        seen = apply_homography(self.homography, points)
        return seen if self.lens is None else self.lens.distort(seen)

    def sampled_floors_of(self, pixels: Floats) -> list[Floats]:
        """Where the cameras that explain the points as well would put places (n, 2) in the photo, mm."""
        bends = self.distortion_samples
        if bends is None or self.lens is None:
            straight = pixels if self.lens is None else self.lens.undistort(pixels)
            return [apply_homography(np.linalg.inv(other), straight) for other in self.homography_samples]
        return [
            apply_homography(np.linalg.inv(other), replace(self.lens, k=float(k)).undistort(pixels))
            for other, k in zip(self.homography_samples, bends, strict=True)
        ]


def apply_homography(homography: ArrayLike, points: ArrayLike) -> Floats:
    """Images (n, 2) of points (n, 2) under a homography (3, 3)."""
    given, matrix = np.asarray(points, dtype=np.float64), np.asarray(homography, dtype=np.float64)
    moved = given @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(moved[..., :2] / moved[..., 2:])


def homography_of(source: ArrayLike, target: ArrayLike) -> Floats:
    """The homography (3, 3) that takes `source` points (n, 2) to `target`, least squares in n >= 4 points.

    Direct linear transform on normalised points (Hartley 1997, "In defense of the eight-point algorithm").

    Raises InputError if three of four points lie on a line.
    """
    a, b = np.asarray(source, dtype=np.float64), np.asarray(target, dtype=np.float64)
    if len(a) < 4 or a.shape != b.shape:
        raise InputError("A homography needs four point pairs or more.", mend="Give all four corners.")
    to_a, to_b = _normalisation(a), _normalisation(b)
    a, b = apply_homography(to_a, a), apply_homography(to_b, b)
    rows = np.zeros((2 * len(a), 9))
    rows[0::2, 0:2], rows[0::2, 2] = a, 1
    rows[0::2, 6:8], rows[0::2, 8] = -b[:, :1] * a, -b[:, 0]
    rows[1::2, 3:5], rows[1::2, 5] = a, 1
    rows[1::2, 6:8], rows[1::2, 8] = -b[:, 1:] * a, -b[:, 1]
    _, values, vectors = np.linalg.svd(rows)
    matrix = vectors[-1].reshape(3, 3)
    if values[7] < 1e-7 * values[0] or abs(np.linalg.det(matrix)) < 1e-12:
        raise InputError(
            "Three of the corners lie on one line.", mend="Click the four corners of the reference again."
        )
    matrix = np.linalg.inv(to_b) @ matrix @ to_a
    return np.asarray(matrix / matrix[2, 2])


def _normalisation(points: Floats) -> Floats:
    middle = points.mean(axis=0)
    reach = float(np.hypot(*(points - middle).T).mean()) or 1.0
    scale = np.sqrt(2) / reach
    return np.array([[scale, 0, -scale * middle[0]], [0, scale, -scale * middle[1]], [0, 0, 1.0]])


def camera_cost(homography: Floats, size: tuple[int, int], focal: float | None = None) -> float:
    """How badly a plane homography suits a camera with square pixels and its axis in the middle; 0 = perfectly.

    Judges which way round a rectangle lies: the wrong side for its width needs an unlikely focal length or
    an oblong pixel. `size` (w, h) of the picture in pixels; `focal` in pixels where known.
    """
    diagonal = float(np.hypot(*size))
    guess = FOCAL_PRIOR * diagonal if focal is None else focal
    trial = guess * np.exp(np.linspace(-1.2, 1.2, 97))
    first, second = _centred_on_picture(homography, size).T[:2]
    a = np.column_stack([first[0] / trial, first[1] / trial, np.full_like(trial, first[2])])
    b = np.column_stack([second[0] / trial, second[1] / trial, np.full_like(trial, second[2])])
    long_a, long_b = np.linalg.norm(a, axis=1), np.linalg.norm(b, axis=1)
    skew = (a * b).sum(axis=1) / (long_a * long_b)
    stretch = np.log(long_a / long_b)
    homography_samples = FOCAL_PRIOR_SPREAD if focal is None else 0.1
    cost = (skew**2 + stretch**2) / 0.02**2 + (np.log(trial / guess) / homography_samples) ** 2
    return float(cost.min())


def _centred_on_picture(homography: Floats, size: tuple[int, int]) -> Floats:
    shift = np.array([[1, 0, -(size[0] - 1) / 2], [0, 1, -(size[1] - 1) / 2], [0, 0, 1.0]])
    return np.asarray(shift @ homography)


def fit_camera(
    sheets: Sequence[SheetView],
    size: tuple[int, int],
    *,
    focal: float | None = None,
    lines: tuple[float, float] | None = None,
    floor: FloorLines | None = None,
) -> CameraFit:
    """The camera that best explains how sheets of known shape, lying anywhere on the floor, are seen.

    `size` (w, h) of the picture, `focal` in pixels where known; `lines`: distortion k and its standard error as lines
    of the floor tell it; `floor`: the floor's own lines. Camera, distortion and
    the places of the sheets are fitted together, so distances between them need not be measured: the floor's frame is
    the first one's.

    Maximum a posteriori: besides where sides lie and how straight they are it weighs what any camera is like (square
    pixels, axis near the middle, a usual focal length, little distortion), which steadies the far side of a hide
    beside a small sheet. A lens is corrected or not: both are fitted and weighed by their evidence (Laplace's
    approximation). The uncertainty is the covariance at the solution (Gauss and Newton's approximation), widened where
    the residuals are larger than their errors (Birge 1932), as points two of which lie along each of its axes (Julier
    and Uhlmann 1997, "unscented"). Where one sheet disagrees plainly with all cameras, its plain homography is taken.

    Raises InputError if three corners of a sheet lie on a line.
    """
    problem = replace(_CameraProblem.of(sheets, size, focal, lines), floor=floor)
    corrected = problem.solved(0.0, CORRECTED_SPREAD)
    bent = problem.solved(0.0, BENT_SPREAD, start=corrected.values)
    evidence = np.array([np.log(CORRECTED_ODDS) + corrected.evidence, bent.evidence])
    chances = np.exp(evidence - evidence.max())
    chances /= chances.sum()
    fits = sorted(zip(chances.tolist(), (corrected, bent), strict=True), key=lambda fit: -fit[0])
    best = fits[0][1]
    residual = problem.corner_residual(best.values)
    only = sheets[0]
    if len(sheets) == 1 and floor is None and best.misfit > _NO_CAMERA:
        plain = homography_of(only.plane, only.seen)
        samples = _corner_noise_samples(only.plane, only.seen, only.standard_error)
        return CameraFit(plain, samples, 0.0, misfit=best.misfit, sheets=only.plane[None])
    fits = [(chance, fit) for chance, fit in fits if chance > _LEAST_CHANCE]
    samples, bends = problem.samples([fit for _, fit in fits])
    total = sum(chance for chance, _ in fits)
    return CameraFit(
        problem.homography(best.values[None])[0],
        samples,
        residual,
        problem.lens(float(best.values[9])),
        bends,
        best.misfit,
        problem.laid(best.values[None])[0],
        tuple(chance / total for chance, _ in fits),
    )


@dataclass(frozen=True, eq=False)
class _Solution:
    """Camera values (n,), their covariance (n, n), the sum of squared residuals and the log of the evidence."""

    values: Floats
    covariance: Floats
    misfit: float
    evidence: float


@dataclass(frozen=True, eq=False)
class _Sides:
    """Sides of sheets with the points found along them.

    `sheet` and `corner` (s,): which side of which sheet; `points` (s, p, 2) pixels, padded; `weights` (s, 3, p): from
    how far points lie aside to offset, turn (at the end) and bend of the side; `errors` (s, 3) of those, pixels.
    """

    sheet: NDArray[np.intp]
    corner: NDArray[np.intp]
    points: Floats
    weights: Floats
    errors: Floats
    corner_errors: Floats

    @classmethod
    def of(cls, sheets: Sequence[SheetView]) -> _Sides:
        """The sides of those sheets that have points on all four."""
        sides = [
            (number, k, points, sheet)
            for number, sheet in enumerate(sheets)
            if len(sheet.side_points) == 4
            for k, points in enumerate(sheet.side_points)
        ]
        most = max((len(points) for _, _, points, _ in sides), default=0)
        places, weights = np.zeros((len(sides), most, 2)), np.zeros((len(sides), 3, most))
        errors = np.ones((len(sides), 3))
        for row, (_, k, points, sheet) in enumerate(sides):
            count = len(points)
            start, end = sheet.seen[k], sheet.seen[(k + 1) % 4]
            way = (end - start) / np.hypot(*(end - start))
            along = (points - start) @ way / np.hypot(*(end - start)) * 2 - 1
            aside = (points - start) @ np.array([-way[1], way[0]])
            design = np.column_stack([np.ones(count), along, along**2 - 1 / 3])
            places[row, :count] = points
            places[row, count:] = points.mean(axis=0)
            weights[row, :, :count] = np.linalg.pinv(design)
            spare = aside - design @ (weights[row, :, :count] @ aside)
            noise = float(np.sqrt((spare**2).sum() / max(count - 3, 1)))
            offset, turn = np.array(LEAST_SIDE_ERRORS) * sheet.standard_error
            paper = (
                PAPER_BEND * np.hypot(*(end - start)) / np.hypot(*(sheet.plane[(k + 1) % 4] - sheet.plane[k]))
            )
            # A stone moves several neighbours: so many fewer are independent.
            alike = float(np.clip(spare[1:] @ spare[:-1] / max(spare @ spare, 1e-12), 0.0, MOST_ALIKE))
            noise *= np.sqrt((1 + alike) / (1 - alike))
            scatter = noise * np.sqrt((weights[row] ** 2).sum(axis=1)) * NOISE_SHARED
            errors[row] = np.hypot(scatter, [offset, turn, np.hypot(LEAST_BEND_ERROR, paper)])
        return cls(
            np.array([number for number, *_ in sides], dtype=np.intp),
            np.array([k for _, k, *_ in sides], dtype=np.intp),
            places,
            weights,
            errors,
            np.array([sheet.standard_error for *_, sheet in sides]),
        )

    def residuals(self, corners: Floats, points: Floats, shared: Floats) -> Floats:
        """Offset, turn and bend of each side in standard errors (m, 3 s), against corners (m, n, 4, 2); those and the
        sides' points (m, s, p, 2) as no lens bends them. `shared` (m,): the offset all have, in errors of a corner."""
        start, end = corners[:, self.sheet, self.corner], corners[:, self.sheet, (self.corner + 1) % 4]
        length = np.linalg.norm(end - start, axis=2)[..., None]
        way = (end - start) / np.maximum(length, LEAST_SIDE)
        apart = points - start[:, :, None]
        aside = apart[..., 1] * way[:, :, None, 0] - apart[..., 0] * way[:, :, None, 1]
        # While the fit tries poses, a side may shrink to nothing: its points then lie as far aside as from it.
        aside = np.where(length < LEAST_SIDE, np.linalg.norm(apart, axis=3), aside)
        found = (self.weights @ aside[..., None])[..., 0]
        found[..., 0] -= shared[:, None] * self.corner_errors
        found /= self.errors
        # A stone or a curl bends one side alone.
        found[..., 2] /= np.sqrt(1 + (found[..., 2] / MOST_BEND) ** 2)
        return np.asarray(found.reshape(len(found), -1))


@dataclass(frozen=True, eq=False)
class _CameraProblem:
    """Residuals of a camera over sheets, in standard errors.

    Parameters: log focal, axis offset (2), turn vector (3), place (2) and log depth of the first sheet's middle,
    distortion k, x, y (in units of `reach`) and turn of each further sheet, and the offset that all sides share, in
    standard errors of a corner.
    """

    sheets: Sequence[SheetView]
    size: tuple[int, int]
    guess: float
    focal_spread: float
    lines: tuple[float, float] | None
    reach: float
    shift: Floats
    straight: RadialDistortion
    sides: _Sides
    seen: Floats
    bare: NDArray[np.bool_]
    floor: FloorLines | None = None

    @classmethod
    def of(
        cls,
        sheets: Sequence[SheetView],
        size: tuple[int, int],
        focal: float | None,
        lines: tuple[float, float] | None,
    ) -> _CameraProblem:
        """The problem with all that does not change during the fit worked out."""
        diagonal = float(np.hypot(*size))
        plane = sheets[0].plane
        return cls(
            sheets,
            size,
            float(np.log(FOCAL_PRIOR * diagonal if focal is None else focal)),
            FOCAL_PRIOR_SPREAD if focal is None else FOCAL_SPREAD_FROM_FILE,
            lines,
            float(np.abs(plane - plane.mean(axis=0)).max()),
            plane.mean(axis=0),
            RadialDistortion(0.0, ((size[0] - 1) / 2, (size[1] - 1) / 2), diagonal / 2),
            _Sides.of(sheets),
            np.array([sheet.seen for sheet in sheets], dtype=np.float64),
            np.array([len(sheet.side_points) != 4 for sheet in sheets]),
        )

    @property
    def middle(self) -> Floats:
        return np.array([(self.size[0] - 1) / 2, (self.size[1] - 1) / 2])

    @property
    def diagonal(self) -> float:
        return float(np.hypot(*self.size))

    def lens(self, k: float) -> RadialDistortion:
        return replace(self.straight, k=k)

    def homography(self, values: Floats) -> Floats:
        return _camera_homography(values, self.middle, self.diagonal, self.reach, self.shift)

    def laid(self, values: Floats) -> Floats:
        """Corners (m, n, 4, 2) of the sheets on the floor, mm, for values (m, v)."""
        laid = np.empty((len(values), len(self.sheets), 4, 2))
        for number, sheet in enumerate(self.sheets):
            if number == 0:
                laid[:, 0] = sheet.plane
                continue
            x, y, angle = values[:, 7 + 3 * number : 10 + 3 * number].T
            cos, sin = np.cos(angle), np.sin(angle)
            turn = np.array([[cos, sin], [-sin, cos]]).transpose(2, 0, 1)
            laid[:, number] = sheet.plane @ turn + np.column_stack([x, y])[:, None] * self.reach
        return laid

    def corners(self, values: Floats) -> Floats:
        """Where (m, n, 4, 2) cameras (m, v) see the corners, pixels, distortion undone."""
        homographies = self.homography(values)[:, None]
        moved = self.laid(values) @ homographies[..., :2].swapaxes(-1, -2) + homographies[..., None, :, 2]
        return np.asarray(moved[..., :2] / moved[..., 2:])

    def undistorted(self, seen: Floats, values: Floats) -> Floats:
        """Picture points (…, 2) under the distortion of each of the cameras (m, v): (m, …, 2)."""
        offset = (seen - self.straight.centre) / self.straight.radius
        bends = values[:, 9].reshape(-1, *[1] * seen.ndim)
        scale = 1 + bends * (offset**2).sum(axis=-1, keepdims=True)
        return np.asarray(offset / scale * self.straight.radius + self.straight.centre)

    def corner_residual(self, values: Floats) -> float:
        """Root mean square, pixels, of how far corners lie from where the camera (v,) sees them."""
        off = self.corners(values[None]) - self.undistorted(self.seen, values[None])
        return float(np.sqrt((off**2).mean()))

    def residuals(self, values: Floats, k: float, spread: float) -> Floats:
        """Residuals (m, r) of cameras (m, v), in standard errors."""
        corners = self.corners(values)
        parts = [
            (values[:, :1] - self.guess) / self.focal_spread,
            values[:, 1:3] / AXIS_PRIOR_SPREAD,
            (values[:, 9:10] - k) / spread,
            values[:, -1:] / SHARED_OFFSET,
        ]
        if len(self.sides.sheet):
            straight = self.undistorted(self.sides.points, values)
            parts.append(self.sides.residuals(corners, straight, values[:, -1]))
        if self.bare.any():
            errors = np.array([sheet.standard_error for sheet in self.sheets])[self.bare]
            off = corners[:, self.bare] - self.undistorted(self.seen[self.bare], values)
            parts.append((off / errors[:, None, None]).reshape(len(values), -1))
        if self.lines is not None:
            parts.append((values[:, 9:10] - self.lines[0]) / self.lines[1])
        if self.floor is not None:
            straight = self.undistorted(self.floor.ends, values)
            parts.append(self.floor.residuals(self.homography(values), straight))
        return np.concatenate(parts, axis=1)

    def slopes(self, values: Floats, k: float, spread: float) -> Floats:
        """How the residuals of a camera (v,) change with its values (r, v): differences, all in one go."""
        step = 1e-6
        both = self.residuals(
            values + np.vstack([np.eye(len(values)), -np.eye(len(values))]) * step, k, spread
        )
        return np.asarray((both[: len(values)] - both[len(values) :]).T / (2 * step))

    def solved(self, k: float, spread: float, start: Floats | None = None) -> _Solution:
        """The camera with k believed to lie about `k`; `start`: values to begin with."""
        best = None
        size = np.concatenate([np.ones(9), [min(spread, 0.02)], np.ones(3 * len(self.sheets) - 2)])
        for values in self._starts(k, start):
            fit = solve_least_squares(
                lambda values: self.residuals(values[None], k, spread)[0],
                lambda values: self.slopes(values, k, spread),
                values,
                size=size,
                most_calls=_MOST_CALLS,
            )
            if best is None or fit.cost < best.cost:
                best = fit
            if best.cost < 8 * len(self.sheets) + (0.0 if self.floor is None else self.floor.independent):
                # No start can end much lower: this is what honest sides and a usual camera come to.
                break
        assert best is not None
        information = best.slopes.T @ best.slopes
        covariance = np.asarray(np.linalg.pinv(information), dtype=np.float64)
        misfit = 2 * best.cost
        # Where the sides leave a value open, as far as numbers go, it counts as told by no more than they can hold.
        told = np.linalg.eigvalsh(information)
        told = np.maximum(told, np.finfo(np.float64).eps * told[-1])
        evidence = -(misfit + float(np.log(told).sum())) / 2 - float(np.log(spread))
        # Of what is seen and believed, less what was fitted: more misfit than that says the errors are larger.
        spare = len(best.residuals) - len(best.values)
        if self.floor is not None:
            spare -= int(len(self.floor.errors) - self.floor.independent)
        return _Solution(best.values, covariance * max(1.0, misfit / max(spare, 1)), misfit, evidence)

    def _starts(self, k: float, start: Floats | None) -> Iterator[Floats]:
        if start is not None:
            near = start.copy()
            near[9] = near[9] if self.lines is None else self.lines[0]
            yield near
        first = self.sheets[0]
        seen = self.lens(k).undistort(self.seen)
        plain = homography_of(first.plane, seen[0])
        back = np.linalg.inv(plain)
        places = [
            _rigid_fit(sheet.plane, apply_homography(back, corners))
            for sheet, corners in zip(self.sheets[1:], seen[1:], strict=True)
        ]
        others = [value for x, y, angle in places for value in (x / self.reach, y / self.reach, angle)]
        for camera in _initial_cameras(plain, self.guess, self.middle, self.reach, self.shift):
            yield np.concatenate([camera, [k], others, [0.0]])

    def samples(self, fits: Sequence[_Solution]) -> tuple[Floats, Floats]:
        """Homographies (m, 3, 3) and distortions (m,): for each solution two points along each axis of its covariance,
        so far out that their spread is the standard error of whatever depends on them."""
        homographies, bends = [], []
        for solution in fits:
            spreads, axes = np.linalg.eigh(solution.covariance[:_CAMERA_VALUES, :_CAMERA_VALUES])
            steps = (axes * np.sqrt(np.maximum(spreads, 0) * _CAMERA_VALUES)).T
            steps = np.concatenate([steps, -steps])
            change = _first_order_samples(
                solution.values[:9], steps[:, :9], self.middle, self.diagonal, self.reach, self.shift
            )
            homographies.append(self.homography(solution.values[None]) + change)
            bends.append(solution.values[9] + steps[:, 9])
        return np.concatenate(homographies), np.concatenate(bends)


def _rigid_fit(square: Floats, laid: Floats) -> tuple[float, float, float]:
    """Shift and turn (radians) that lay a square (4, 2) on four corners best."""
    a, b = square - square.mean(axis=0), laid - laid.mean(axis=0)
    turn = np.angle(np.vdot(a[:, 0] + 1j * a[:, 1], b[:, 0] + 1j * b[:, 1]))
    cos, sin = np.cos(turn), np.sin(turn)
    x, y = laid.mean(axis=0) - square.mean(axis=0) @ np.array([[cos, sin], [-sin, cos]])
    return float(x), float(y), float(turn)


def _first_order_samples(
    values: Floats, steps: Floats, middle: Floats, diagonal: float, reach: float, shift: Floats
) -> Floats:
    """Changes (m, 3, 3) of the homography for small steps (m, 9) in its camera's values, first order.

    Focal length and depth are known badly but together: exact matrices for long steps along that valley would
    leave it, and show an uncertainty that the points seen do not.
    """
    small = 1e-5
    ahead = _camera_homography(values + small * np.eye(9), middle, diagonal, reach, shift)
    behind = _camera_homography(values - small * np.eye(9), middle, diagonal, reach, shift)
    return np.asarray(np.einsum("mk,kij->mij", steps, (ahead - behind) / (2 * small)))


def _corner_noise_samples(plane: Floats, seen: Floats, standard_error: float) -> Floats:
    """Homographies (16, 3, 3) with each coordinate moved both ways, so far that their spread is the standard error."""
    steps = np.eye(8).reshape(8, 4, 2) * standard_error * np.sqrt(8)
    return np.array([homography_of(plane, seen + step) for step in (*steps, *-steps)])


def _camera_homography(
    values: Floats, middle: Floats, diagonal: float, reach: float, shift: Floats
) -> Floats:
    """The homographies (m, 3, 3) of cameras (m, 9 or more): log focal, axis offset (2), turn vector (3), place (2) and
    log depth.

    The place is where the middle of the known points is seen, and the depth is in units of their reach:
    parameters of like size, which the solver needs.
    """
    focal, depth = np.exp(np.clip(values[:, [0, 8]], -_FARTHEST, _FARTHEST)).T
    axis = middle + values[:, 1:3] * diagonal
    # Columns: where the floor's x and y lead in the camera's frame, per mm, and its place.
    columns = _rotation_matrices(values[:, 3:6])
    columns[:, :, :2] /= reach
    columns[:, :2, 2], columns[:, 2, 2] = values[:, 6:8] * depth[:, None], depth
    columns[:, :, 2] -= columns[:, :, :2] @ shift
    columns[:, :2] = columns[:, :2] * focal[:, None, None] + axis[:, :, None] * columns[:, 2:]
    return np.asarray(columns / columns[:, 2:, 2:])


def _rotation_matrices(vectors: Floats) -> Floats:
    """Rotation matrices (m, 3, 3) of turn vectors (m, 3): Rodrigues' formula."""
    angle = np.linalg.norm(vectors, axis=1)
    x, y, z = (vectors / np.where(angle == 0, 1.0, angle)[:, None]).T
    nought = np.zeros_like(x)
    cross = np.array([[nought, -z, y], [z, nought, -x], [-y, x, nought]]).transpose(2, 0, 1)
    sine, rest = np.sin(angle)[:, None, None], (1 - np.cos(angle))[:, None, None]
    return np.asarray(np.eye(3) + sine * cross + rest * (cross @ cross))


def _initial_cameras(
    plain: Floats, guess: float, middle: Floats, reach: float, shift: Floats
) -> Sequence[Floats]:
    """Three cameras read off the plain homography at different focal lengths."""
    to_reach = np.array([[reach, 0, shift[0]], [0, reach, shift[1]], [0, 0, 1.0]])
    starts = []
    for factor in (0.0, -0.4, 0.4):
        focal = np.exp(guess + factor)
        away = np.array([[1 / focal, 0, -middle[0] / focal], [0, 1 / focal, -middle[1] / focal], [0, 0, 1.0]])
        columns = away @ plain @ to_reach
        columns /= (np.linalg.norm(columns[:, 0]) + np.linalg.norm(columns[:, 1])) / 2
        if columns[2, 2] < 0:
            columns = -columns
        third = np.cross(columns[:, 0], columns[:, 1])
        left, _, right = np.linalg.svd(np.column_stack([columns[:, :2], third]))
        turn = left @ right
        place = columns[:, 2]
        starts.append(
            np.concatenate(
                [[np.log(focal), 0, 0], _rotation_vector(turn), place[:2] / place[2], [np.log(place[2])]]
            )
        )
    return starts


def _rotation_vector(turn: Floats) -> Floats:
    """The turn vector (3,) of a rotation matrix (3, 3), by way of its quaternion (Shepperd 1978)."""
    # Four times the products of the quaternion's four values, the real one last.
    products = np.empty((4, 4))
    products[:3, :3] = turn + turn.T + (1 - np.trace(turn)) * np.eye(3)
    products[3, :3] = products[:3, 3] = (
        turn[2, 1] - turn[1, 2],
        turn[0, 2] - turn[2, 0],
        turn[1, 0] - turn[0, 1],
    )
    products[3, 3] = 1 + np.trace(turn)
    row = products[int(np.argmax(products.diagonal()))]
    quaternion = row / np.linalg.norm(row) * (1.0 if row[3] >= 0 else -1.0)
    sine = float(np.linalg.norm(quaternion[:3]))
    angle = 2 * float(np.arctan2(sine, quaternion[3]))
    return np.asarray(quaternion[:3] * (angle / sine if sine > 0 else 2.0))
