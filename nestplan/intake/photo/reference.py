"""Finding the reference in a photograph: four straight sides round one even colour, and its corners to a fraction
of a pixel.

Not here: what the corners say about the camera (camera). A reference is any flat board or sheet of known size
that differs from the floor; it lies on the floor beside the hide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from nestplan.errors import InputError
from nestplan.geometry.ring import area
from nestplan.intake.photo.camera import (
    RadialDistortion,
    SheetView,
    apply_homography,
    camera_cost,
    fit_camera,
    homography_of,
)
from nestplan.intake.photo.quadrilaterals import (
    Quadrilateral,
    candidate_quadrilaterals,
    quadrilaterals_of_lines,
)
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
_LEAST_SCORE, _RIVAL, _LEAST_LINE_SCORE = 0.018, 0.15, 0.1
"""Below this a candidate is chance, and above this share of the best it is a rival (on rendered
photographs the true sheet scored 0.025 or more and everything else 0.009 or less)."""
_ALWAYS_REFINED, _MOST_REFINED = 4, 12
_ALIKE = 0.07
"""Logarithm by which the sides of another sheet may differ from the size given, through the first one's camera."""
_MOST_MISFIT = 20.0
"""Sum of squared residuals, in standard errors, up to which a sheet has the shape named."""
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
    `others`: further sheets of the same size that lie about, used together with this one.
    """

    seen: Floats
    plane: Floats
    standard_error: float = 1.0
    sides: tuple[Floats, ...] = ()
    others: tuple[ReferenceCorners, ...] = ()


def find_reference(photo: Photo, size_mm: tuple[float, float]) -> ReferenceCorners:
    """The corners of the board or sheet of `size_mm` (width, height in either order) in the photo, or of several.

    A candidate is weighed by how plainly it stands out, how well its shape suits a camera over a sheet of that
    size, and how little of the rest of the picture shares its colour; where none stands out by its colour, by its
    edges. Several of the same size are used together. A wrong scale spoils every piece, so uncertainty refuses.

    Raises InputError if nothing four-sided of that shape stands out from the floor, if what does has the shape of
    another size of paper, or if two places would serve about as well and tell different scales.
    """
    _check_reference_size(size_mm)
    rough = [
        (quad, quad.score / (1 + quad.colour_elsewhere / _COLOUR_ELSEWHERE_HALVES))
        for quad in candidate_quadrilaterals(photo.image)
    ]
    accepted, missed = _accepted(rough, size_mm, photo, reach=None, least=_LEAST_SCORE)
    if not accepted:
        by_lines = [(quad, quad.score) for quad in quadrilaterals_of_lines(photo)]
        accepted, _ = _accepted(by_lines, size_mm, photo, reach=6.0, least=_LEAST_LINE_SCORE)
        missed = 0.0
        rough += by_lines
    if not accepted:
        raise InputError(_no_reference_words([quad for quad, _ in rough]), mend=_MEND, file=photo.name)
    best, chosen = accepted[0]
    chosen = _with_its_likes(chosen, [other for _, other in accepted[1:]], photo)
    apart = [
        other
        for score, other in accepted[1:]
        if score > _RIVAL * best and all(_differ(each, other, photo) for each in (chosen, *chosen.others))
    ]
    if apart or missed > 0:
        raise InputError(
            "The reference cannot be told for certain: " + _places_words([chosen, *apart]),
            mend="Give its four corners with --corners, or take the photo again with no other sheet or board in it.",
            file=photo.name,
        )
    _check_named_size(chosen, size_mm, photo)
    return chosen


def _accepted(
    candidates: Sequence[tuple[Quadrilateral, float]],
    size_mm: tuple[float, float],
    photo: Photo,
    *,
    reach: float | None,
    least: float,
) -> tuple[list[tuple[float, ReferenceCorners]], float]:
    """(score, corners) of candidates that are refined and score more than `least`, best first; and the best rough
    score of one that could not be refined, if it stands out more than all that were."""
    paper = _is_paper(size_mm)
    first = []
    for quad, score in candidates:
        # Corners read off a patch are rough: its shape only sorts, it does not refuse. Those of lines are good.
        trust = 200.0 if reach is None else 10.0
        shape = np.exp(-min(_shape_cost(quad.corners, size_mm, photo), 600.0) / trust)
        white = _whiteness(photo, quad.corners) if paper else 1.0
        first.append((score * float(shape) * white, score * white, quad))
    first.sort(key=lambda entry: -entry[0])
    accepted: list[tuple[float, ReferenceCorners]] = []
    missed = best_rough = 0.0
    for number, (rough, plain, quad) in enumerate(first[:_MOST_REFINED]):
        if accepted and accepted[0][0] * _RIVAL > rough and number > _ALWAYS_REFINED:
            continue
        refined = refine_corners(photo, quad.corners, reach=reach)
        if refined is None or refined[1] > 1.5:
            missed = max(missed, rough)
            continue
        cost = _shape_cost_through_lenses(refined[0], size_mm, photo)
        score = plain * float(np.exp(-cost / 3.0 - refined[1]))
        if score > least and _width_shown(refined[0], size_mm, photo) < WIDEST_MM:
            corners = assign_corners(refined[0], size_mm, photo, standard_error=refined[1], sides=refined[2])
            accepted.append((score, corners))
            accepted.sort(key=lambda entry: -entry[0])
            best_rough = max(best_rough, rough)
    return accepted, missed if missed > best_rough else 0.0


def _is_paper(size_mm: tuple[float, float]) -> bool:
    return any(sorted(size_mm) == sorted(size) for size in PAPER_SIZES.values())


def _whiteness(photo: Photo, corners: Floats) -> float:
    """1 for a patch as little coloured as paper, down to a tenth for a plainly coloured board."""
    middle = corners.mean(axis=0)
    t = np.linspace(0, 1, 9)[:, None]
    rim = np.vstack([corners[k] + t * (corners[(k + 1) % 4] - corners[k]) for k in range(4)])
    cells = np.rint(middle + (rim - middle) * 0.85).astype(int)
    cells = np.clip(cells, 0, np.array(photo.size) - 1)
    colour = np.median(photo.image[cells[:, 1], cells[:, 0]].astype(float), axis=0)
    tint = float(np.ptp(colour)) / max(float(colour.max()), 20.0)
    return float(np.clip(1.6 - 4.0 * tint, 0.1, 1.0))


def _with_its_likes(
    chosen: ReferenceCorners, others: Sequence[ReferenceCorners], photo: Photo
) -> ReferenceCorners:
    """The chosen sheet with the others that, seen through its camera, have its size: laid about to be used together.

    Each differs from all that are already taken.
    """
    homography = homography_of(chosen.plane, chosen.seen)
    likes: list[ReferenceCorners] = []
    for other in others:
        if not all(_differ(each, other, photo) for each in (chosen, *likes)):
            continue
        floor = apply_homography(np.linalg.inv(homography), other.seen)
        sides = np.hypot(*(np.roll(floor, -1, axis=0) - floor).T)
        wanted = np.hypot(*(np.roll(other.plane, -1, axis=0) - other.plane).T)
        # Far from the first sheet its scale is uncertain by some per cent; another paper differs by more.
        if np.abs(np.log(sides / wanted)).max() < _ALIKE:
            likes.append(other)
    return replace(chosen, others=tuple(likes))


def _check_named_size(chosen: ReferenceCorners, size_mm: tuple[float, float], photo: Photo) -> None:
    """Raise InputError if no usual camera sees the sheet so, and name the paper whose shape would suit."""
    misfit = _misfit(chosen, size_mm, photo)
    if misfit < _MOST_MISFIT:
        return
    better = [
        name
        for name, size in PAPER_SIZES.items()
        if sorted(size) != sorted(size_mm) and _misfit(chosen, size, photo) < min(_MOST_MISFIT, misfit - 8)
    ]
    shape = f"{max(size_mm):g} × {min(size_mm):g} mm"
    if better:
        raise InputError(
            f"The sheet found does not have the shape of {shape}; it has that of {' or '.join(better)}.",
            mend=f"Say --reference {better[0]}, if that is what lies there, or measure the sheet and give its sides.",
            file=photo.name,
        )
    raise InputError(
        f"What was taken for the reference does not have the shape of {shape}.",
        mend="Check its size, measure its sides, or " + _MEND[0].lower() + _MEND[1:],
        file=photo.name,
    )


def _misfit(chosen: ReferenceCorners, size_mm: tuple[float, float], photo: Photo) -> float:
    """Sum of squared residuals of the camera that suits a sheet of a size best."""
    best = np.inf
    for width, height in {size_mm, size_mm[::-1]}:
        plane = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float64)
        view = SheetView(plane, chosen.seen, max(chosen.standard_error, 0.4), chosen.sides)
        best = min(best, fit_camera([view], photo.size, focal=photo.focal).misfit)
    return best


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


def _shape_cost_through_lenses(corners: Floats, size_mm: tuple[float, float], photo: Photo) -> float:
    """As `_shape_cost`, but near the picture's border a lens that bends lines may have changed the shape."""
    width, height = photo.size
    lens = RadialDistortion(0.0, ((width - 1) / 2, (height - 1) / 2), float(np.hypot(width, height)) / 2)
    return min(
        _shape_cost(replace(lens, k=k).undistort(corners), size_mm, photo) + (k / 0.06) ** 2
        for k in (-0.09, -0.06, -0.03, 0.0, 0.03)
    )


def _check_reference_size(size_mm: tuple[float, float]) -> None:
    if not (min(size_mm) >= 20 and max(size_mm) <= 5000 and np.isfinite(size_mm).all()):
        raise InputError(
            f"A reference of {size_mm[0]:g} × {size_mm[1]:g} mm cannot serve.",
            mend="Use a sheet or board between 20 mm and 5 m a side and give its size in mm.",
        )


def _no_reference_words(candidates: Sequence[Quadrilateral]) -> str:
    if not candidates:
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
