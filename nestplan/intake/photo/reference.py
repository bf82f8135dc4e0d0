"""Finding the reference in a photograph: four straight sides round one even colour, and its corners to a fraction
of a pixel.

Not here: what the corners say about the camera (camera). A reference is any flat board or sheet of known size
that differs from the floor; it lies on the floor beside the hide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from nestplan.errors import InputError
from nestplan.geometry.ring import area
from nestplan.intake.photo.camera import RadialDistortion, camera_cost, homography_of
from nestplan.intake.photo.quadrilaterals import Quadrilateral, candidate_quadrilaterals
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.subpixel import LEAST_STANDARD_ERROR, refine_corners

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

__all__ = [
    "PAPER_SIZES",
    "ReferenceCorners",
    "assign_corners",
    "corners_from_clicks",
    "counterclockwise_corners",
    "estimate_distortion",
    "find_reference",
    "refine_corners",
]

PAPER_SIZES = {
    "A2": (594.0, 420.0),
    "A3": (420.0, 297.0),
    "A4": (297.0, 210.0),
    "A5": (210.0, 148.0),
    "letter": (279.4, 215.9),
    "legal": (355.6, 215.9),
    "tabloid": (431.8, 279.4),
}
"""Sizes in mm, long side first: ISO 216 (A series) and ANSI/ASME Y14.1 (A size, "letter")."""

_COLOUR_ELSEWHERE_HALVES = 5.0
"""Rest of the picture in the candidate's colour, in its own areas, that halves its score."""
_LEAST_SCORE, _RIVAL = 0.018, 0.35
"""Below this a candidate is chance, and above this share of the best it is a rival (on rendered
photographs the true sheet scored 0.025 or more and everything else 0.009 or less)."""
WIDEST_MM = 9000.0
"""No hide is photographed in a picture this wide, mm: what would make it so is not the reference."""

_MEND = (
    "Give its four corners with --corners, or lay a plain sheet that contrasts with the floor flat beside the hide, "
    "wholly in the picture, and take the photo again."
)


@dataclass(frozen=True, eq=False)
class ReferenceCorners:
    """The reference's corners in the picture and on the floor.

    `seen` (4, 2) pixels, `plane` (4, 2) mm in the same order, beginning at the corner seen lower left, so that
    the floor's x runs to the right of the picture and y up. `standard_error` of a corner, pixels.
    `sides`: points (n, 2) found along each side, pixels, for judging how the lens bends straight lines.
    """

    seen: Floats
    plane: Floats
    standard_error: float = 1.0
    sides: tuple[Floats, ...] = ()


def find_reference(photo: Photo, size_mm: tuple[float, float]) -> ReferenceCorners:
    """The corners of the one board or sheet of `size_mm` (width, height in either order) in the photo.

    A candidate is weighed by how plainly it stands out, how well its shape suits a camera over a sheet of that
    size, and how little of the rest of the picture shares its colour. A wrong scale spoils every piece, so
    uncertainty refuses: InputError if nothing four-sided, even-coloured and rare of that shape stands out from
    the floor, or if two places would serve about as well and tell different scales.
    """
    _check_reference_size(size_mm)
    first = []
    for quad in candidate_quadrilaterals(photo.image):
        # Corners read off a patch are rough: its shape only sorts, it does not refuse.
        shape = np.exp(-min(_shape_cost(quad.corners, size_mm, photo), 600.0) / 200.0)
        first.append(
            (quad.score * float(shape) / (1 + quad.colour_elsewhere / _COLOUR_ELSEWHERE_HALVES), quad)
        )
    first.sort(key=lambda entry: -entry[0])
    accepted: list[tuple[float, ReferenceCorners]] = []
    missed = 0.0
    for rough, quad in first[:8]:
        if accepted and accepted[0][0] * _RIVAL > rough:
            continue
        refined = refine_corners(photo, quad.corners)
        if refined is None or refined[1] > 1.5:
            missed = max(missed, rough)
            continue
        cost = _shape_cost(refined[0], size_mm, photo)
        score = (
            quad.score
            / (1 + quad.colour_elsewhere / _COLOUR_ELSEWHERE_HALVES)
            * float(np.exp(-cost / 10.0 - refined[1]))
        )
        if score > _LEAST_SCORE and _width_shown(refined[0], size_mm, photo) < WIDEST_MM:
            assigned = assign_corners(refined[0], size_mm, photo, standard_error=refined[1], sides=refined[2])
            accepted.append((score, assigned))
            accepted.sort(key=lambda entry: -entry[0])
    if not accepted:
        raise InputError(_no_reference_words(first), mend=_MEND, file=photo.name)
    best, chosen = accepted[0]
    rivals = [
        other for score, other in accepted[1:] if score > _RIVAL * best and _differ(chosen, other, photo)
    ]
    if rivals or missed > best:
        raise InputError(
            "The reference cannot be told for certain: " + _places_words([chosen, *rivals]),
            mend="Give its four corners with --corners, or take the photo again with no other sheet or board in it.",
            file=photo.name,
        )
    return chosen


def _width_shown(corners: Floats, size_mm: tuple[float, float], photo: Photo) -> float:
    """How many mm the picture's longer side shows where the reference lies."""
    return float(np.sqrt(size_mm[0] * size_mm[1] / max(area(corners), 1e-9))) * max(photo.size)


def _differ(a: ReferenceCorners, b: ReferenceCorners, photo: Photo) -> bool:
    """Whether two candidates lie apart: two cuts of one sheet's edge are no rivals."""
    reach = 0.25 * float(np.sqrt(np.ptp(a.seen, axis=0).prod()))
    return float(np.abs(a.seen - b.seen).max()) > max(reach, 0.004 * max(photo.size))


def _places_words(candidates: Sequence[ReferenceCorners]) -> str:
    spots = [f"({x:.0f}, {y:.0f})" for x, y in (entry.seen.mean(axis=0) for entry in candidates)]
    if len(spots) == 1:
        return f"what lies at {spots[0]} pixels has its shape, but something else stands out more."
    return f"what lies at {' and at '.join(spots)} pixels has its shape alike."


def _shape_cost(corners: Floats, size_mm: tuple[float, float], photo: Photo) -> float:
    try:
        return min(_assignments(corners, size_mm, photo))[0]
    except InputError:
        return 1e6


def _check_reference_size(size_mm: tuple[float, float]) -> None:
    if not (min(size_mm) >= 20 and max(size_mm) <= 5000 and np.isfinite(size_mm).all()):
        raise InputError(
            f"A reference of {size_mm[0]:g} × {size_mm[1]:g} mm cannot serve.",
            mend="Use a sheet or board between 20 mm and 5 m a side and give its size in mm.",
        )


def _no_reference_words(accepted: Sequence[tuple[float, Quadrilateral]]) -> str:
    if not accepted:
        return "No reference was found: nothing in the picture has four straight sides and one colour."
    return "No reference was found: nothing four-sided in the picture has the shape of the size given."


def assign_corners(
    seen: ArrayLike,
    size_mm: tuple[float, float],
    photo: Photo,
    *,
    standard_error: float = 1.0,
    sides: Sequence[Floats] = (),
) -> ReferenceCorners:
    """Which corner is which: four picture points in any order, and the way round that suits a camera best.

    Raises InputError if the four points do not make a convex four-sided figure.
    """
    _check_reference_size(size_mm)
    points = np.asarray(seen, dtype=np.float64)
    if points.shape != (4, 2):
        raise InputError(
            "The reference needs exactly four corners.", mend="Give four points.", file=photo.name
        )
    ordered, order = counterclockwise_corners(points, photo)
    turned = tuple(sides[place % 4] for place in order) if len(sides) == 4 else ()
    _, size = min(_assignments(ordered, size_mm, photo), key=lambda entry: entry[0])
    width, height = size
    plane = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float64)
    return ReferenceCorners(ordered, plane, max(standard_error, LEAST_STANDARD_ERROR), turned)


def corners_from_clicks(
    photo: Photo, clicked: ArrayLike, size_mm: tuple[float, float], *, tolerance: float = 0.02
) -> ReferenceCorners:
    """Corners from four clicked ones: moved onto the board's edges where these are plain nearby, else as clicked.

    `tolerance` is how far they may be moved, as a share of the picture's longer side.
    """
    points = np.asarray(clicked, dtype=np.float64)
    rough = assign_corners(points, size_mm, photo, standard_error=2.0)
    refined = refine_corners(photo, rough.seen)
    if refined is None or np.abs(refined[0] - rough.seen).max() > tolerance * max(photo.size):
        return rough
    return assign_corners(refined[0], size_mm, photo, standard_error=refined[1], sides=refined[2])


def _assignments(
    corners: Floats, size_mm: tuple[float, float], photo: Photo
) -> list[tuple[float, tuple[float, float]]]:
    ordered, _ = counterclockwise_corners(corners, photo)
    out = []
    for width, height in {size_mm, size_mm[::-1]}:
        plane = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float64)
        cost = camera_cost(homography_of(plane, ordered), photo.size, photo.focal)
        out.append((cost, (width, height)))
    return sorted(out)


def counterclockwise_corners(points: Floats, photo: Photo) -> tuple[Floats, list[int]]:
    """The points counter-clockwise as people see them, from the lower left one on, and their old places."""
    middle = points.mean(axis=0)
    angle = np.arctan2(-(points[:, 1] - middle[1]), points[:, 0] - middle[0])
    by_angle = np.argsort(angle)
    ring = points[by_angle]
    after = np.roll(ring, -1, axis=0) - ring
    later = np.roll(after, -1, axis=0)
    turns = after[:, 0] * later[:, 1] - after[:, 1] * later[:, 0]
    if not (turns < 0).all():
        raise InputError(
            "The four corners do not make a four-sided figure.",
            mend="Click the corners of the sheet or board itself, one after the other.",
            file=photo.name,
        )
    # The side that runs most nearly to the right begins at the lower left corner.
    lean = after[:, 0] / np.hypot(*after.T)
    first = int(np.argmax(lean))
    order = [int(by_angle[(first + k) % 4]) for k in range(4)]
    return points[order], order


def estimate_distortion(photo: Photo, corners: ReferenceCorners) -> RadialDistortion | None:
    """The lens's distortion read from the reference's sides, which are straight; None if the sides do not tell.

    Fits k of `RadialDistortion` so that the four sides' points lie on lines; kept only if it lessens their
    scatter beyond doubt (three times its own standard deviation).
    """
    from scipy.optimize import minimize_scalar

    if len(corners.sides) != 4:
        return None
    width, height = photo.size
    centre = ((width - 1) / 2, (height - 1) / 2)
    radius = float(np.hypot(width, height)) / 2

    def scatter(k: float) -> float:
        total = 0.0
        for side in corners.sides:
            points = RadialDistortion(k, centre, radius).undistort(side)
            total += float(np.linalg.svd(points - points.mean(axis=0), compute_uv=False)[1] ** 2)
        return total

    fit = minimize_scalar(scatter, bounds=(-0.35, 0.35), method="bounded", options={"xatol": 1e-5})
    count = sum(len(side) for side in corners.sides) - 9
    noise = fit.fun / max(count, 1)
    bend = (scatter(fit.x + 0.01) - 2 * fit.fun + scatter(fit.x - 0.01)) / 0.01**2 / 2
    # Points along a side are not independent of their neighbours: four share one error.
    standard_error = float(np.sqrt(4 * noise / bend)) if bend > 0 else np.inf
    if abs(fit.x) < 3 * standard_error or abs(fit.x) > 0.34:
        return None
    return RadialDistortion(float(fit.x), centre, radius)
