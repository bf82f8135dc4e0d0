"""Finding the reference in a photograph: four straight sides of one thing on the floor, of the size named, and its
corners to a fraction of a pixel.

Not here: what the corners say about the camera (camera). A reference is any flat board or sheet of known size
that differs from the floor; it lies on the floor beside the hide.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from nestplan.errors import InputError
from nestplan.geometry.ring import area
from nestplan.intake.photo.camera import SheetView, fit_camera
from nestplan.intake.photo.floor_lines import rectangle_lines
from nestplan.intake.photo.quadrilaterals import (
    candidate_quadrilaterals,
    quadrilaterals_of_lines,
)
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.reference_candidates import (
    CORNER_LINES_REACH,
    Candidate,
    judged_candidates,
    overlap,
)
from nestplan.intake.photo.reference_corners import ReferenceCorners, assign_corners, check_reference_size
from nestplan.intake.photo.sheet_sizes import (
    check_named_size,
    is_paper,
    is_taken_for,
    refuse_other_shape,
    sizes_of_shape,
    sizes_suiting_as_well,
)
from nestplan.intake.photo.subpixel import refine_corners

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

__all__ = ["ReferenceCorners", "assign_corners", "corners_from_clicks", "find_reference"]

_COLOUR_ELSEWHERE_HALVES = 5.0
"""Rest of the picture in the candidate's colour, in its own areas, that halves its rough score."""
_LEAST_SCORE, _RIVAL = 0.05, 0.1
"""Below this a candidate is chance, and above this share of the best it is a rival."""
_HARDLY, _SLANTED, _STEEP = 0.5, 45.0, 60.0
"""A rival of less than this share of the best score is none if it would mean a camera so steeply aslant, in degrees,
while over the best the camera looks down as for a photograph of a hide. Panels and straps with straight sides that were
laid about beside a sheet: 67 to 81 degrees."""
_FAINT_CORNERS = 1.5
"""How many times further off corners that faint lines tell may be."""
_SURE, _SURER, _AS_PLAIN = 0.2, 3.0, 0.5
"""Evidence from which on something is a sheet whatever its shape; how many times more of it than the reference shows
makes it the sheet that was meant; and what share of that makes it as plain a sheet."""
_WHOLE, _MOST_OF_A_WHOLE, _SHARED_CORNER = 0.2, 0.85, 0.06
"""A part of a sheet: what share of its score the whole must have, what share of the whole it is at most, and how near
(as a share of the whole's size) corners are that both have."""
_CORNER_DEPTH, _CORNER_COLOUR, _UNFILLED = 4.0, 0.2, 0.45
"""How many pixels inside a corner its colour is read, how far (a logarithm) it may lie off the sheet's own, and what
share of its score a rival keeps for each corner fewer than the reference's that shows its colour: a folded corner does
not, of a strap or a template that is cut askew two or more do not."""
_MOST_APART, _BASES = 8, 3
"""How many candidates that lie apart are compared, and how many of them are tried as the first of several sheets."""
_MISFIT_OF_A_LIKE = 45.0
"""By how much another sheet of the same size may raise the sum of squared residuals of a camera over all (9 expected; a
sheet of another size raises it by hundreds)."""
_SUITS_BOTH, _CONTRADICTED = 14.0, 12.0
"""Sum of squared residuals up to which a camera over one candidate sees another as a rectangle (10 expected, beliefs
aside); and by how much more the other way round says that the other is not the reference (boards beside boxes of their
shape: 2 to 6 one way, 20 to 80 more the other)."""

_MEND = (
    "Give its four corners, or lay a plain sheet that contrasts with the floor flat beside the hide, "
    "wholly in the picture, and take the photo again."
)
_MEND_SEVERAL = "Give its four corners, or take the photo again with no other sheet or board in it."


def find_reference(photo: Photo, size_mm: tuple[float, float]) -> ReferenceCorners:
    """The corners of the board or sheet of `size_mm` (width, height in either order) in the photo, or of several.

    Candidates are even patches, or where none will do figures of straight edges; they are judged by what the picture
    shows along their sides and by their shape. Several of the same size are used together. A wrong scale spoils every
    piece, so uncertainty refuses.

    Raises InputError if nothing four-sided of that shape stands out from the floor, if what does has the shape of
    another known size, or if two places would serve about as well and tell different scales.
    """
    check_reference_size(size_mm)
    judged, missed = _judged_in_stages(photo, size_mm)
    accepted = _without_parts([candidate for candidate in judged if candidate.score > _LEAST_SCORE])
    _check_no_other_is_meant(judged, accepted, size_mm, photo)
    if not accepted:
        raise InputError(_no_reference_words(judged), mend=_MEND, file=photo.name)
    chosen, apart = _without_contradicted(*_with_its_likes(accepted, photo), photo)
    if apart or (not chosen.others and _missed_a_plainer_one(missed, accepted)):
        raise InputError(
            "The reference cannot be told for certain: " + _places_words([chosen, *apart]),
            mend=_MEND_SEVERAL,
            file=photo.name,
        )
    return replace(chosen, suits_as_well=check_named_size(chosen, size_mm, photo))


def _judged_in_stages(
    photo: Photo, size_mm: tuple[float, float]
) -> tuple[list[Candidate], list[tuple[float, Floats]]]:
    """Candidates for a sheet of a size, best first: patches that stand out, then what plain straight edges enclose,
    then what faint ones do, each only where nothing before will do; and the patches whose sides are no lines."""
    paper = is_paper(size_mm)
    patches = [
        (quad, quad.score / (1 + quad.colour_elsewhere / _COLOUR_ELSEWHERE_HALVES))
        for quad in candidate_quadrilaterals(photo.image)
    ]
    judged, missed = judged_candidates(patches, size_mm, photo, paper=paper)
    for faint in (False, True):
        if any(candidate.score > _LEAST_SCORE for candidate in judged):
            break
        by_lines = [(quad, quad.score) for quad in quadrilaterals_of_lines(photo, faint=faint)]
        reach = CORNER_LINES_REACH * (_FAINT_CORNERS if faint else 1.0)
        more, _ = judged_candidates(by_lines, size_mm, photo, paper=paper, reach=reach)
        judged = sorted([*judged, *more], key=lambda candidate: -candidate.score)
        missed = []
    return judged, missed


def _without_parts(accepted: Sequence[Candidate]) -> list[Candidate]:
    """The candidates that are no part of another: half of a creased sheet has two of its corners, and in the A series
    its shape."""
    return [
        each
        for each in accepted
        if not any(
            other.score > _WHOLE * each.score and _is_part_of(each.corners, other.corners)
            for other in accepted
        )
    ]


def _is_part_of(corners: ReferenceCorners, other: ReferenceCorners) -> bool:
    """Whether corners lie inside another figure and share two or three corners with it."""
    size = area(other.seen)
    if area(corners.seen) > _MOST_OF_A_WHOLE * size or not overlap(corners.seen, other.seen):
        return False
    apart = np.hypot(*(corners.seen[:, None] - other.seen[None]).transpose(2, 0, 1)).min(axis=0)
    return bool((apart < _SHARED_CORNER * np.sqrt(size)).sum() >= 2)


def _check_no_other_is_meant(
    judged: Sequence[Candidate],
    accepted: Sequence[Candidate],
    size_mm: tuple[float, float],
    photo: Photo,
) -> None:
    """Nothing, unless something plainly a sheet has another known size's shape, and nothing as plain has the one named;
    or something larger has that of a size which is taken for the one named.

    Raises InputError that names the size that fits.
    """
    best = max(accepted, key=lambda candidate: candidate.evidence, default=None)
    most = 0.0 if best is None else best.evidence
    for other in sorted(judged, key=lambda candidate: -candidate.evidence):
        if other.evidence < max(_SURE, _AS_PLAIN * most):
            return
        names = [] if other in accepted else sizes_of_shape(other.corners.seen, size_mm, photo)
        if names and (best is None or other.evidence > _SURER * most):
            raise refuse_other_shape(names, size_mm, photo)
        if names and best is not None and area(other.corners.seen) > area(best.corners.seen):
            near = [name for name in names if is_taken_for(name, size_mm)]
            if near:
                raise InputError(
                    f"The reference cannot be told for certain: what lies at {_place(best.corners)} pixels has its "
                    f"shape; what lies at {_place(other.corners)} is larger and has that of {near[0]}.",
                    mend=_MEND_SEVERAL,
                    file=photo.name,
                )


def _missed_a_plainer_one(missed: Sequence[tuple[float, Floats]], accepted: Sequence[Candidate]) -> bool:
    """Whether a patch whose sides are no lines stands out more than all candidates, none of which is sure, and lies
    apart from the best: print on a sheet, or its half in the light, is part of it."""
    best = accepted[0]
    apart = [rough for rough, corners in missed if not overlap(corners, best.corners.seen)]
    return best.evidence < _SURE and max(apart, default=0.0) > max(other.rough for other in accepted)


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


def _with_its_likes(
    accepted: Sequence[Candidate], photo: Photo
) -> tuple[ReferenceCorners, list[ReferenceCorners]]:
    """The sheet chosen with the others that one camera sees at the same size, laid about to be used together; and its
    rivals, which stand out about as well and tell another scale.

    Sheets that agree outvote things that stand alone: their shape might be a box's by chance, their size hardly.
    """
    distinct: list[tuple[float, ReferenceCorners]] = []
    for candidate in accepted:
        each = candidate.corners
        if len(distinct) < _MOST_APART and all(_differ(each, other, photo) for _, other in distinct):
            distinct.append((candidate.score, each))
    best_score = distinct[0][0]
    chosen = distinct[0][1]
    if len(distinct) > 1:
        for _, base in distinct[:_BASES]:
            together = _agreeing(base, [other for _, other in distinct if other is not base], photo)
            if len(together.others) > len(chosen.others):
                chosen = together
    if chosen.others:
        return chosen, []
    filled = _corners_filled(chosen, photo)
    return chosen, [
        other
        for score, other in distinct[1:]
        if score * _UNFILLED ** max(filled - _corners_filled(other, photo), 0) > _RIVAL * best_score
        and not (score < _HARDLY * best_score and _is_seen_too_aslant(other, chosen, photo))
    ]


def _is_seen_too_aslant(rival: ReferenceCorners, chosen: ReferenceCorners, photo: Photo) -> bool:
    """Whether a camera over the rival would look along the floor, while over the sheet chosen it looks down."""
    steep, plain = (
        fit_camera([_view(each)], photo.size, focal=photo.focal).tilt(photo.size) for each in (rival, chosen)
    )
    return steep > _STEEP and plain < _SLANTED


def _without_contradicted(
    chosen: ReferenceCorners, rivals: Sequence[ReferenceCorners], photo: Photo
) -> tuple[ReferenceCorners, list[ReferenceCorners]]:
    """The sheet chosen and its rivals without those that another contradicts: over the true reference a camera sees
    every box and paper as a rectangle, over a box that has its shape by chance it sees the reference askew."""
    if not rivals:
        return chosen, []
    all_of_them = [chosen, *rivals]
    cameras = [fit_camera([_view(each)], photo.size, focal=photo.focal) for each in all_of_them]

    def misfit(base: int, other: int) -> float:
        """The sum of squared residuals of a camera over one candidate to which another is a rectangle."""
        seen = all_of_them[other]
        sides = rectangle_lines(seen.seen, cameras[base], seen.standard_error)
        return fit_camera([_view(all_of_them[base])], photo.size, focal=photo.focal, floor=sides).misfit

    numbers = range(len(all_of_them))
    misfits = {(base, other): misfit(base, other) for base, other in itertools.permutations(numbers, 2)}
    left = [
        all_of_them[k]
        for k in numbers
        if not any(
            misfits[other, k] < min(_SUITS_BOTH, misfits[k, other] - _CONTRADICTED)
            for other in numbers
            if other != k
        )
    ]
    return (left[0], left[1:]) if left else (chosen, list(rivals))


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


def _differ(a: ReferenceCorners, b: ReferenceCorners, photo: Photo) -> bool:
    """Whether two candidates lie apart: two cuts of one sheet's edge are no rivals."""
    reach = 0.25 * float(np.sqrt(np.ptp(a.seen, axis=0).prod()))
    return float(np.abs(a.seen - b.seen).max()) > max(reach, 0.004 * max(photo.size))


def _places_words(candidates: Sequence[ReferenceCorners]) -> str:
    spots = [_place(candidate) for candidate in candidates]
    if len(spots) == 1:
        return f"what lies at {spots[0]} pixels has its shape, but something else stands out more."
    return f"what lies at {' and at '.join(spots)} pixels has its shape alike."


def _place(corners: ReferenceCorners) -> str:
    x, y = corners.seen.mean(axis=0)
    return f"({x:.0f}, {y:.0f})"


def _no_reference_words(judged: Sequence[Candidate]) -> str:
    if not any(candidate.evidence > _LEAST_SCORE for candidate in judged):
        return (
            "No reference was found: nothing in the picture has four straight sides that end at its corners."
        )
    return "No reference was found: nothing four-sided in the picture has the shape of the size given."


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
    return replace(corners, suits_as_well=sizes_suiting_as_well(corners, size_mm, photo))
