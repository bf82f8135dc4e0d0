"""The plan at full size on a table under a projector: the geometry of it, without a window.

Four markers of the projector's picture are moved onto the corners of a rectangle of known size on the table;
from them follows the homography from millimetres on the table to pixels. The hide lies on the table where two
of its points were found. What the window does with the lines is not said here. Lenses are taken as free of
distortion: on a far corner that may cost more than the calibration's own error, so check a known length there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from nestplan.drawing.primitives import Points
from nestplan.errors import InputError
from nestplan.geometry.pose import Pose
from nestplan.model import Hide, Job, Plan
from nestplan.sheets.cutting_order import CuttingStep, cutting_steps
from nestplan.sheets.placement_names import placement_label

__all__ = [
    "Calibration",
    "ProjectedLine",
    "ProjectedRole",
    "ProjectorStep",
    "calibrate",
    "check_square",
    "fit_homography",
    "hide_on_table",
    "projected_lines",
    "projector_steps",
]


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


@dataclass(frozen=True, eq=False)
class ProjectorStep:
    """What to show for one step of the cutting order: closed rings (n, 2), hide coordinates, mm.

    `cut` are the lines the knife follows, `finished` those it is trimmed to later (empty without an overcut).
    """

    number: int
    label: str
    words: str
    reason: str
    cut: tuple[Points, ...]
    finished: tuple[Points, ...]


ProjectedRole = Literal["hide", "cut already", "later", "finished now", "cut now"]


@dataclass(frozen=True, eq=False)
class ProjectedLine:
    """One closed line in the projector's picture: what it is, and its corners (n, 2) in pixels, y down."""

    role: ProjectedRole
    pixels: Points


def calibrate(corners: Points, width: float, height: float) -> Calibration:
    """The calibration from the pixels (4, 2) of a rectangle's corners on the table.

    The corners in order: lower left, lower right, upper right, upper left of a rectangle `width` by `height`
    mm, whose lower left corner becomes the table's origin. Errors: InputError if three of the corners lie on
    one line, the corners cross over, or a side is not above zero.
    """
    spots = np.asarray(corners, dtype=np.float64)
    if spots.shape != (4, 2) or not np.isfinite(spots).all():
        raise InputError(
            "A calibration needs four corners.", mend="Move all four markers onto the rectangle."
        )
    if not (math.isfinite(width) and math.isfinite(height) and width > 0.0 and height > 0.0):
        raise InputError("The rectangle’s sides must be above zero.", mend="Measure it and give both sides.")
    turns = [_turn(spots[n], spots[(n + 1) % 4], spots[(n + 2) % 4]) for n in range(4)]
    scale = float(np.ptp(spots, axis=0).max()) ** 2
    if min(abs(turn) for turn in turns) < 1e-4 * scale or len({turn > 0 for turn in turns}) > 1:
        raise InputError(
            "The four corners do not form a rectangle seen at a slant: three lie on one line, or two are swapped.",
            mend="Take them in order: lower left, lower right, upper right, upper left.",
        )
    table = np.array(((0.0, 0.0), (width, 0.0), (width, height), (0.0, height)))
    matrix = fit_homography(table, spots)
    error = float(np.hypot(*(_apply(matrix, table) - spots).T).max())
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


def hide_on_table(on_hide: Points, on_table: Points) -> Pose:
    """The pose from hide coordinates to the table's, from two points (2, 2) found on both, mm.

    Lengths are kept: the second point only gives the direction. Errors: InputError if the two points are one.
    """
    hide, table = np.asarray(on_hide, dtype=np.float64), np.asarray(on_table, dtype=np.float64)
    along_hide, along_table = hide[1] - hide[0], table[1] - table[0]
    if min(float(np.hypot(*along_hide)), float(np.hypot(*along_table))) < 1.0:
        raise InputError("The two points are the same.", mend="Take two points far apart, such as A and B.")
    angle = math.degrees(
        math.atan2(along_table[1], along_table[0]) - math.atan2(along_hide[1], along_hide[0])
    )
    turned = Pose(0.0, 0.0, angle).apply(hide)
    # The middle of both points is kept, so that an error of the tape is shared by both ends.
    shift = (table - turned).mean(axis=0)
    return Pose(float(shift[0]), float(shift[1]), angle)


def projector_steps(plan: Plan, job: Job, hide: Hide) -> tuple[ProjectorStep, ...]:
    """The steps for one hide in cutting order, as `cutting_order` numbers them."""
    return tuple(_step(plan, job, cut) for cut in cutting_steps(plan, job, hide))


def projected_lines(
    calibration: Calibration, on_table: Pose, hide: Hide, steps: Sequence[ProjectorStep], current: int
) -> list[ProjectedLine]:
    """Everything to draw for one moment at the table, in pixels: the hide, what is cut, what is cut now, the rest.

    `current` is the place of the step in `steps`; the lines of the step itself come last, to lie on top.
    Errors: InputError if there is no such step.
    """
    if not 0 <= current < max(len(steps), 1):
        raise InputError(
            f"There is no step {current + 1}; there are {len(steps)}.", mend="Choose another step."
        )

    def shown(role: ProjectedRole, ring: Points) -> ProjectedLine:
        return ProjectedLine(role, calibration.pixels(on_table.apply(ring)))

    lines = [shown("hide", ring) for ring in (hide.ring, *hide.hole_rings)]
    for place, step in enumerate(steps):
        if place != current:
            role: ProjectedRole = "cut already" if place < current else "later"
            lines.extend(shown(role, ring) for ring in step.cut)
    for step in steps[current : current + 1]:
        lines.extend(shown("finished now", ring) for ring in step.finished)
        lines.extend(shown("cut now", ring) for ring in step.cut)
    return lines


def _step(plan: Plan, job: Job, cut: CuttingStep) -> ProjectorStep:
    placed: Sequence[int] = cut.members
    first = plan.placements[placed[0]]
    words = placement_label(job, plan, placed[0])
    if len(placed) > 1:
        words = f"{len(placed)} × {words}"
    elif first.piece and first.mirrored:
        words = f"{words}, turned over"
    return ProjectorStep(
        cut.number,
        cut.label,
        words,
        cut.reason,
        tuple(plan.placements[n].cut_ring for n in placed),
        tuple(plan.placements[n].finished_ring for n in placed if plan.placements[n].overcut > 0.0),
    )


def _apply(matrix: NDArray[np.float64], points: Points) -> Points:
    spots = np.column_stack((points, np.ones(len(points)))) @ matrix.T
    flat: Points = spots[:, :2] / spots[:, 2:]
    return flat


def _normaliser(points: Points) -> NDArray[np.float64]:
    """The similarity that moves the points' middle to the origin and their mean distance from it to sqrt(2)."""
    middle = points.mean(axis=0)
    spread = float(np.hypot(*(points - middle).T).mean())
    scale = math.sqrt(2.0) / spread
    return np.array(((scale, 0.0, -scale * middle[0]), (0.0, scale, -scale * middle[1]), (0.0, 0.0, 1.0)))


def _turn(a: Points, b: Points, c: Points) -> float:
    return float((b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]))
