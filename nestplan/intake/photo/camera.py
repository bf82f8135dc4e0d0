"""From four corners of known size to the camera that saw them: homography, its uncertainty, lens distortion.

Plane points are mm on the floor (x right, y up), picture points are pixels (x right, y down). Not here: finding
the corners (reference), drawing the picture anew (rectify).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from nestplan.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

__all__ = [
    "CameraFit",
    "RadialDistortion",
    "apply_homography",
    "camera_cost",
    "fit_camera",
    "fit_camera_to_markers",
    "homography_of",
]

FOCAL_PRIOR, FOCAL_PRIOR_SPREAD = 0.75, 0.3
FOCAL_SPREAD_FROM_FILE = 0.03
AXIS_PRIOR_SPREAD = 0.05
"""What is believed of a camera before its picture is looked at [memory: phones and compacts, 24-50 mm
equivalent]: focal length over the picture's diagonal and the spread of its logarithm; how far the
optical axis may lie from the picture's middle, as a share of the diagonal."""


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
class CameraFit:
    """Plane mm -> pixel `homography` (3, 3), and `homography_samples` (m, 3, 3): others that explain the points
    as well.
    """

    homography: Floats
    homography_samples: Floats
    residual: float


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
    plane: Floats,
    seen: Floats,
    standard_error: float,
    size: tuple[int, int],
    *,
    focal: float | None = None,
    sample_count: int = 24,
) -> CameraFit:
    """The camera over a plane that best explains where known points are seen.

    `plane` (n, 2) mm, `seen` (n, 2) pixels with a standard deviation of `standard_error` pixels, `size` (w, h)
    of the picture. Maximum a posteriori: besides the points it weighs what any camera is like (square pixels,
    axis near the middle, a usual focal length), which steadies the far side of a hide beside a small sheet.
    Where that belief disagrees plainly with the points, the plain homography is taken. The `homography_samples`
    is drawn from the normal approximation of the posterior, fixed seed.
    """
    from scipy.optimize import least_squares

    plain = homography_of(plane, seen)
    diagonal = float(np.hypot(*size))
    middle = np.array([(size[0] - 1) / 2, (size[1] - 1) / 2])
    guess = np.log(FOCAL_PRIOR * diagonal if focal is None else focal)
    focal_spread = FOCAL_PRIOR_SPREAD if focal is None else FOCAL_SPREAD_FROM_FILE
    reach = float(np.abs(plane - plane.mean(axis=0)).max())
    shift = plane.mean(axis=0)

    def residuals(values: Floats) -> Floats:
        matrix = _camera_homography(values, middle, diagonal, reach, shift)
        points = (apply_homography(matrix, plane) - seen).ravel() / standard_error
        prior = [
            (values[0] - guess) / focal_spread,
            values[1] / AXIS_PRIOR_SPREAD,
            values[2] / AXIS_PRIOR_SPREAD,
        ]
        return np.concatenate([points, prior])

    best = None
    for start in _initial_cameras(plain, guess, middle, reach, shift):
        fit = least_squares(residuals, start, method="lm", max_nfev=300)
        if best is None or fit.cost < best.cost:
            best = fit
        if best.cost < 4:
            # No start can end much lower: this is what honest corners and a usual camera come to.
            break
    assert best is not None
    matrix = _camera_homography(best.x, middle, diagonal, reach, shift)
    residual = float(np.sqrt(((apply_homography(matrix, plane) - seen) ** 2).mean()))
    if residual > 3 * standard_error + 0.3:
        return CameraFit(plain, _corner_noise_samples(plane, seen, standard_error, sample_count), 0.0)
    covariance = np.linalg.pinv(best.jac.T @ best.jac)
    steps = np.random.default_rng(0).multivariate_normal(
        np.zeros(9), covariance, size=sample_count, method="svd"
    )
    return CameraFit(
        matrix, matrix + _first_order_samples(best.x, steps, middle, diagonal, reach, shift), residual
    )


def fit_camera_to_markers(
    squares: Sequence[Floats],
    side: float,
    standard_error: float,
    size: tuple[int, int],
    *,
    focal: float | None = None,
    sample_count: int = 24,
) -> tuple[CameraFit, Floats]:
    """The camera that sees squares of one known side lying anywhere on the floor, and their corners there.

    `squares`: corners (4, 2) of each in pixels, counter-clockwise as people see them; `side` mm. Camera and
    the places of the squares are fitted together, so distances between them need not be measured: the floor's
    frame is the first square's. Returns the fit and the corners (n, 4, 2) in mm.
    """
    from scipy.optimize import least_squares

    square = np.array([[0, 0], [side, 0], [side, side], [0, side]], dtype=np.float64)
    shift = np.full(2, side / 2)
    first = fit_camera(square, squares[0], standard_error, size, focal=focal, sample_count=1)
    diagonal = float(np.hypot(*size))
    middle = np.array([(size[0] - 1) / 2, (size[1] - 1) / 2])
    guess = np.log(FOCAL_PRIOR * diagonal if focal is None else focal)
    focal_spread = FOCAL_PRIOR_SPREAD if focal is None else FOCAL_SPREAD_FROM_FILE
    back = np.linalg.inv(first.homography)
    places = [_rigid_fit(square, apply_homography(back, seen)) for seen in squares[1:]]
    seen = np.concatenate(squares)

    def corners_of(values: Floats) -> Floats:
        laid = [square]
        for x, y, angle in values[9:].reshape(-1, 3):
            cos, sin = np.cos(angle), np.sin(angle)
            laid.append(square @ np.array([[cos, sin], [-sin, cos]]) + np.array([x, y]) * side)
        return np.array(laid)

    def residuals(values: Floats) -> Floats:
        matrix = _camera_homography(values[:9], middle, diagonal, side / 2, shift)
        points = (apply_homography(matrix, corners_of(values).reshape(-1, 2)) - seen).ravel() / standard_error
        prior = [
            (values[0] - guess) / focal_spread,
            values[1] / AXIS_PRIOR_SPREAD,
            values[2] / AXIS_PRIOR_SPREAD,
        ]
        return np.concatenate([points, prior])

    starts = [
        np.concatenate([start, *[[x / side, y / side, angle] for x, y, angle in places]])
        for start in _initial_cameras(first.homography, guess, middle, side / 2, shift)
    ]
    fits = [least_squares(residuals, start, method="lm", max_nfev=3000) for start in starts]
    best = min(fits, key=lambda fit: float(fit.cost))
    matrix = _camera_homography(best.x[:9], middle, diagonal, side / 2, shift)
    covariance = np.linalg.pinv(best.jac.T @ best.jac)[:9, :9]
    steps = np.random.default_rng(0).multivariate_normal(
        np.zeros(9), covariance, size=sample_count, method="svd"
    )
    homography_samples = matrix + _first_order_samples(best.x[:9], steps, middle, diagonal, side / 2, shift)
    laid = corners_of(best.x)
    residual = float(np.sqrt(((apply_homography(matrix, laid.reshape(-1, 2)) - seen) ** 2).mean()))
    return CameraFit(matrix, homography_samples, residual), laid


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
    slopes = [
        (_camera_homography(values + small * way, middle, diagonal, reach, shift)
         - _camera_homography(values - small * way, middle, diagonal, reach, shift)) / (2 * small)
        for way in np.eye(9)
    ]  # fmt: skip
    return np.asarray(np.einsum("mk,kij->mij", steps, np.array(slopes)))


def _corner_noise_samples(plane: Floats, seen: Floats, standard_error: float, sample_count: int) -> Floats:
    shaken = seen + standard_error * np.random.default_rng(0).standard_normal((sample_count, *seen.shape))
    return np.array([homography_of(plane, points) for points in shaken])


def _camera_homography(
    values: Floats, middle: Floats, diagonal: float, reach: float, shift: Floats
) -> Floats:
    """The homography of a camera: log focal, axis offset (2), turn vector (3), place (2) and log depth.

    The place is where the middle of the known points is seen, and the depth is in units of their reach:
    parameters of like size, which the solver needs.
    """
    focal = np.exp(values[0])
    axis = middle + values[1:3] * diagonal
    turn = _rotation_matrix(values[3:6])
    depth = np.exp(values[8])
    place = np.array([values[6] * depth, values[7] * depth, depth])
    lens = np.array([[focal, 0, axis[0]], [0, focal, axis[1]], [0, 0, 1.0]])
    matrix = lens @ np.column_stack([turn[:, 0] / reach, turn[:, 1] / reach, place])
    matrix = matrix @ np.array([[1, 0, -shift[0]], [0, 1, -shift[1]], [0, 0, 1.0]])
    return np.asarray(matrix / matrix[2, 2])


def _rotation_matrix(vector: Floats) -> Floats:
    angle = float(np.linalg.norm(vector))
    x, y, z = vector / (angle or 1.0)
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.asarray(np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross)


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
    from scipy.spatial.transform import Rotation

    return np.asarray(Rotation.from_matrix(turn).as_rotvec(), dtype=np.float64)
