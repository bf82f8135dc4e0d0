"""A projector over a table: where a millimetre of the table is in the projector's picture.

Four markers of the picture are moved onto the corners of a rectangle of known size on the table; from them follows
the homography from millimetres to pixels. Lenses are taken as free of distortion: on a far corner that may cost more
than the calibration's own error, so check a known length there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestplan.drawing.primitives import Points
from nestplan.errors import InputError

__all__ = ["Calibration", "calibrate", "check_square", "fit_homography"]


@dataclass(frozen=True, eq=False)
class Calibration:
    """Where a millimetre of the table is in the picture: `matrix` (3, 3) takes (x, y, 1) mm to pixels.

    `error` is the largest distance, in pixels, of a corner from where the matrix puts it.
    """

    matrix: NDArray[np.float64]
    error: float

    def pixels(self, points: Points) -> Points:
        """Table points (n, 2), mm, y up, as pixels (n, 2), y down."""
        return _apply(self.matrix, points)

    def table(self, pixels: Points) -> Points:
        """Pixels (n, 2) as table points, mm."""
        return _apply(np.linalg.inv(self.matrix).astype(np.float64), pixels)


def calibrate(corners: Points, width: float, height: float) -> Calibration:
    """The calibration from the pixels (4, 2) of a rectangle's corners on the table.

    The corners in order: lower left, lower right, upper right, upper left of a rectangle `width` by `height`
    mm, whose lower left corner becomes the table's origin.

    Raises InputError if three of the corners lie on one line, the corners cross over, or a side is not above zero.
    """
    seen = np.asarray(corners, dtype=np.float64)
    if seen.shape != (4, 2) or not np.isfinite(seen).all():
        raise InputError(
            "A calibration needs four corners.", mend="Move all four markers onto the rectangle."
        )
    if not (math.isfinite(width) and math.isfinite(height) and width > 0.0 and height > 0.0):
        raise InputError("The rectangle’s sides must be above zero.", mend="Measure it and give both sides.")
    turns = [_turn(seen[n], seen[(n + 1) % 4], seen[(n + 2) % 4]) for n in range(4)]
    scale = float(np.ptp(seen, axis=0).max()) ** 2
    if min(abs(turn) for turn in turns) < 1e-4 * scale or len({turn > 0 for turn in turns}) > 1:
        raise InputError(
            "The four corners do not form a rectangle seen at a slant: three lie on one line, or two are swapped.",
            mend="Take them in order: lower left, lower right, upper right, upper left.",
        )
    table = np.array(((0.0, 0.0), (width, 0.0), (width, height), (0.0, height)))
    matrix = fit_homography(table, seen)
    error = float(np.hypot(*(_apply(matrix, table) - seen).T).max())
    return Calibration(matrix, error)


def fit_homography(source: Points, target: Points) -> NDArray[np.float64]:
    """The matrix (3, 3) that takes `source` (n, 2) to `target` (n, 2), n >= 4, in the least-squares sense.

    Direct linear transform with both point sets normalised first (Hartley 1997, "In defense of the eight-point
    algorithm"); exact for four points. Scaled so that its last entry is 1.
    """
    from_norm, to_norm = _normaliser(source), _normaliser(target)
    a, b = _apply(from_norm, source), _apply(to_norm, target)
    rows = []
    for (x, y), (u, v) in zip(a, b, strict=True):
        rows.append((x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y, -u))
        rows.append((0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y, -v))
    flat = np.linalg.svd(np.array(rows))[2][-1].reshape(3, 3)
    matrix: NDArray[np.float64] = np.linalg.inv(to_norm) @ flat @ from_norm
    matrix /= matrix[2, 2]
    return matrix


def check_square(side: float = 1000.0) -> Points:
    """A square ring (4, 2) of `side` mm at the table's origin, to be projected and measured with a tape."""
    return np.array(((0.0, 0.0), (side, 0.0), (side, side), (0.0, side)))


def _apply(matrix: NDArray[np.float64], points: Points) -> Points:
    homogeneous = np.column_stack((points, np.ones(len(points)))) @ matrix.T
    flat: Points = homogeneous[:, :2] / homogeneous[:, 2:]
    return flat


def _normaliser(points: Points) -> NDArray[np.float64]:
    """The similarity that moves the points' middle to the origin and their mean distance from it to sqrt(2)."""
    middle = points.mean(axis=0)
    spread = float(np.hypot(*(points - middle).T).mean())
    scale = math.sqrt(2.0) / spread
    return np.array(((scale, 0.0, -scale * middle[0]), (0.0, scale, -scale * middle[1]), (0.0, 0.0, 1.0)))


def _turn(a: Points, b: Points, c: Points) -> float:
    return float((b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]))
