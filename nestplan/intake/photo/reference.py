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
_LEAST_SCORE, _RIVAL, _LEAST_LINE_SCORE = 0.018, 0.15, 0.06
"""Below this a candidate is chance, and above this share of the best it is a rival (on rendered
photographs the true sheet scored 0.025 or more and everything else 0.009 or less)."""
_SHARP_CORNERS, _SHARE_OF_SHARP = 0.4, 0.45
"""Four sides that meet in corners this sharp (standard error, pixels) tell a sheet of paper where its colour does not:
then so much of the least score is enough (a printed sheet on gravel scored 0.015, with corners good to 0.18)."""
_ALWAYS_REFINED, _MOST_REFINED = 4, 12
_CORNER_DEPTH, _CORNER_COLOUR = 4.0, 0.2
"""How many pixels inside a corner its colour is read, and how far (a logarithm) it may lie off the sheet's own."""
_SHORT_REACH, _MOST_CORNER_ERROR = 6.0, 1.5
"""How far off (pixels) corners that lines or an even patch tell may be; the error from which on sides are no lines."""
_MOST_APART, _BASES = 8, 3
"""How many candidates that lie apart are compared, and how many of them are tried as the first of several sheets."""
_MISFIT_OF_A_LIKE = 45.0
"""By how much another sheet of the same size may raise the sum of squared residuals of a camera over all (9 expected; a
sheet of another size raises it by hundreds)."""
_MOST_MISFIT = 20.0
"""Sum of squared residuals, in standard errors, up to which a sheet has the shape named."""
_NAMED_MISFIT, _BETTER = 9.0, 3.0
"""From this sum on a sheet is another paper, if that lowers it by so much: no usual focal length explains the shape
named, another paper's is plain. (On 21 rendered sheets the right name gave 1.6 in the middle and 5.0 at most, the wrong
one 3 more than the right one in 16.) Where another paper's sum is no higher, the picture cannot tell which it is."""
_CONFUSED = 0.15
"""Logarithm up to which the sides of two papers that people take for each other differ."""
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
    `others`: further sheets of the same size that lie about, used together with this one. `suits_as_well`: names of
    papers of nearly that size whose shape suits what is seen as well.
    """

    seen: Floats
    plane: Floats
    standard_error: float = 1.0
    sides: tuple[Floats, ...] = ()
    others: tuple[ReferenceCorners, ...] = ()
    suits_as_well: tuple[str, ...] = ()


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
        accepted, _ = _accepted(by_lines, size_mm, photo, reach=_SHORT_REACH, least=_LEAST_LINE_SCORE)
        missed = 0.0
        rough += by_lines
    if not accepted:
        raise InputError(_no_reference_words([quad for quad, _ in rough]), mend=_MEND, file=photo.name)
    chosen, apart = _with_its_likes(accepted, photo)
    if apart or (missed > 0 and not chosen.others):
        raise InputError(
            "The reference cannot be told for certain: " + _places_words([chosen, *apart]),
            mend="Give its four corners with --corners, or take the photo again with no other sheet or board in it.",
            file=photo.name,
        )
    return replace(chosen, suits_as_well=_check_named_size(chosen, size_mm, photo))


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
        if reach is None and (refined is None or refined[1] > _MOST_CORNER_ERROR):
            # Print near the sides draws long profiles away from them.
            refined = refine_corners(photo, quad.corners, reach=_SHORT_REACH)
        if refined is None or refined[1] > _MOST_CORNER_ERROR:
            missed = max(missed, rough)
            continue
        cost = _shape_cost_through_lenses(refined[0], size_mm, photo)
        score = plain * float(np.exp(-cost / 3.0 - refined[1]))
        enough = least * _SHARE_OF_SHARP if paper and refined[1] < _SHARP_CORNERS else least
        if score > enough and _width_shown(refined[0], size_mm, photo) < WIDEST_MM:
            corners = assign_corners(refined[0], size_mm, photo, standard_error=refined[1], sides=refined[2])
            accepted.append((score, corners))
            accepted.sort(key=lambda entry: -entry[0])
            best_rough = max(best_rough, rough)
    return accepted, missed if missed > best_rough else 0.0


def _is_paper(size_mm: tuple[float, float]) -> bool:
    return any(sorted(size_mm) == sorted(size) for size in PAPER_SIZES.values())


def _corners_filled(candidate: ReferenceCorners, photo: Photo) -> int:
    """How many of its corners show its own colour: those of a sheet do, those of a thing with round corners do not."""
    middle = candidate.seen.mean(axis=0)
    inward = middle - candidate.seen
    inward /= np.hypot(*inward.T)[:, None]
    own = _colours_near(photo, middle + 0.7 * (candidate.seen - middle))
    at_corner = _colours_near(photo, candidate.seen + _CORNER_DEPTH * inward)
    return int((np.abs(np.log((at_corner + 12) / (own + 12))).max(axis=1) < _CORNER_COLOUR).sum())


def _colours_near(photo: Photo, places: Floats) -> Floats:
    """Mean colours (n, 3) of 3 × 3 pixels at places (n, 2)."""
    cells = np.clip(np.rint(places).astype(int), 1, np.array(photo.size) - 2)
    return np.array([photo.image[y - 1 : y + 2, x - 1 : x + 2].mean(axis=(0, 1)) for x, y in cells])


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
    accepted: Sequence[tuple[float, ReferenceCorners]], photo: Photo
) -> tuple[ReferenceCorners, list[ReferenceCorners]]:
    """The sheet chosen with the others that one camera sees at the same size, laid about to be used together; and its
    rivals, which stand out about as well and tell another scale.

    Sheets that agree outvote things that stand alone: their shape might be a box's by chance, their size hardly.
    """
    distinct: list[tuple[float, ReferenceCorners]] = []
    for score, each in accepted:
        if len(distinct) < _MOST_APART and all(_differ(each, other, photo) for _, other in distinct):
            distinct.append((score, each))
    best_score = distinct[0][0]
    chosen = distinct[0][1]
    if len(distinct) > 1:
        for _, base in distinct[:_BASES]:
            together = _agreeing(base, [other for _, other in distinct if other is not base], photo)
            if len(together.others) > len(chosen.others):
                chosen = together
    if chosen.others:
        return chosen, []
    full = _corners_filled(chosen, photo) - 2
    return chosen, [
        other
        for score, other in distinct[1:]
        if score > _RIVAL * best_score and _corners_filled(other, photo) >= full
    ]


def _agreeing(base: ReferenceCorners, others: Sequence[ReferenceCorners], photo: Photo) -> ReferenceCorners:
    """The sheet with those others that a camera over all of them sees at their size."""
    likes: list[ReferenceCorners] = []
    views = [_view(base)]
    misfit = fit_camera(views, photo.size, focal=photo.focal).misfit
    for other in others:
        for turned in (other, replace(other, plane=other.plane[:, ::-1][[0, 3, 2, 1]])):
            more = fit_camera([*views, _view(turned)], photo.size, focal=photo.focal).misfit
            if more - misfit < _MISFIT_OF_A_LIKE:
                likes.append(turned)
                views.append(_view(turned))
                misfit = more
                break
    return replace(base, others=tuple(likes))


def _view(corners: ReferenceCorners) -> SheetView:
    return SheetView(corners.plane, corners.seen, corners.standard_error, corners.sides)


def _check_named_size(
    chosen: ReferenceCorners, size_mm: tuple[float, float], photo: Photo
) -> tuple[str, ...]:
    """Names of papers of nearly that size which what is seen suits as well.

    Raises InputError if no usual camera sees the sheet so, or sees another paper so far better, and names that.
    """
    misfit, others = _misfits(chosen, size_mm, photo)
    better = sorted(
        (name for name in others if others[name] < misfit - _BETTER and others[name] < _MOST_MISFIT),
        key=lambda name: (not _is_confused_with(PAPER_SIZES[name], size_mm), others[name]),
    )
    shape = f"{max(size_mm):g} × {min(size_mm):g} mm"
    if misfit >= _NAMED_MISFIT and better:
        raise InputError(
            f"The sheet found does not have the shape of {shape}; it has that of {' or '.join(better)}.",
            mend=f"Say --reference {better[0]}, if that is what lies there, or measure the sheet and give its sides; "
            "if it is as you said, give its four corners with --corners.",
            file=photo.name,
        )
    if misfit >= _MOST_MISFIT:
        raise InputError(
            f"What was taken for the reference does not have the shape of {shape}.",
            mend="Check its size, measure its sides, or " + _MEND[0].lower() + _MEND[1:],
            file=photo.name,
        )
    return _suiting_as_well(size_mm, misfit, others)


def _misfits(
    chosen: ReferenceCorners, size_mm: tuple[float, float], photo: Photo
) -> tuple[float, dict[str, float]]:
    """The misfit of the size named, and of papers of another shape that might be meant."""
    misfit = _misfit(chosen, size_mm, photo)
    return misfit, {
        name: _misfit(chosen, size, photo)
        for name, size in PAPER_SIZES.items()
        if abs(np.log(max(size) / min(size) * min(size_mm) / max(size_mm))) > 0.01
        and (misfit >= _NAMED_MISFIT or _is_confused_with(size, size_mm))
    }


def _suiting_as_well(
    size_mm: tuple[float, float], misfit: float, others: dict[str, float]
) -> tuple[str, ...]:
    """Papers of nearly the size named, if that is a paper's, whose misfit is no higher."""
    return tuple(
        name
        for name, other in others.items()
        if _is_paper(size_mm) and other <= misfit and _is_confused_with(PAPER_SIZES[name], size_mm)
    )


def _is_confused_with(size: tuple[float, float], other: tuple[float, float]) -> bool:
    """Whether people take paper of one size for that of the other."""
    return bool(np.abs(np.log(np.array(sorted(size)) / sorted(other))).max() < _CONFUSED)


def _misfit(chosen: ReferenceCorners, size_mm: tuple[float, float], photo: Photo) -> float:
    """Sum of squared residuals of the camera that suits sheets of a size best."""
    best = np.inf
    for long_way in (True, False):
        views = []
        for each in (chosen, *chosen.others):
            wide = (float(np.ptp(each.plane[:, 0])) >= float(np.ptp(each.plane[:, 1]))) == long_way
            width, height = (max(size_mm), min(size_mm)) if wide else (min(size_mm), max(size_mm))
            plane = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float64)
            views.append(SheetView(plane, each.seen, max(each.standard_error, 0.2), each.sides))
        best = min(best, fit_camera(views, photo.size, focal=photo.focal).misfit)
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
    corners = assign_corners(refined[0], size_mm, photo, standard_error=refined[1], sides=refined[2])
    return replace(corners, suits_as_well=_suiting_as_well(size_mm, *_misfits(corners, size_mm, photo)))


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
