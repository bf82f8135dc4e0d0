"""What in a picture may be the reference, with its corners to a fraction of a pixel, judged and sorted.

A candidate is judged by what the picture shows along its refined sides (sheet_evidence), by how well its shape suits a
camera over a sheet of the size named, and, if that is a paper's, by how white it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from nestplan.geometry.ring import area
from nestplan.intake.photo.quadrilaterals import Quadrilateral
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.reference_corners import (
    ReferenceCorners,
    assign_corners,
    shape_cost,
    shape_cost_through_lenses,
)
from nestplan.intake.photo.sheet_evidence import sheet_evidence
from nestplan.intake.photo.subpixel import refine_corners

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["CORNER_LINES_REACH", "Candidate", "judged_candidates", "overlap"]

CORNER_LINES_REACH = 6.0
"""How far off (pixels) corners that lines or an even patch tell may be."""
_SECOND_REACH = 1.7
"""How many times further off corners are looked for where lines do not lead to sides."""
_MOST_CORNER_ERROR = 1.5
"""The standard error of a corner, pixels, from which on sides are no lines."""
_ALWAYS_REFINED, _MOST_REFINED, _MUCH_ROUGHER = 4, 14, 0.1
"""How many candidates are refined at least and at most; and below what share of the best one's rough score no more."""
_SAME_CORNERS = 3.0
"""Candidates whose corners are refined to within so many pixels of each other are one."""
_DARKER, _DARKER_SCALE = 0.05, 0.15
"""How much darker (a logarithm) than the floor round it paper may be, and what more than that divides evidence by e."""
_ERROR_SCALE = 1.5
"""Standard error of a corner, pixels, that divides evidence by e."""
WIDEST_MM = 9000.0
"""No hide is photographed in a picture this wide, mm: what would make it so is not the reference."""


@dataclass(frozen=True, eq=False)
class Candidate:
    """What may be the reference.

    `evidence`, 0 to 1: how surely it is one thing on the floor (and paper, if the size named is a paper's); `shape`, 0
    to 1: how well a camera over a sheet of that size suits it; `rough`: how plainly its patch stands out.
    """

    corners: ReferenceCorners
    evidence: float
    shape: float
    rough: float

    @property
    def score(self) -> float:
        """How surely it is the reference, 0 to 1."""
        return self.evidence * self.shape


def judged_candidates(
    quads: Sequence[tuple[Quadrilateral, float]],
    size_mm: tuple[float, float],
    photo: Photo,
    *,
    paper: bool,
    reach: float | None = None,
) -> tuple[list[Candidate], list[tuple[float, Floats]]]:
    """Those of `quads` (with their rough scores) whose sides are lines, best first; and the rough scores and corners of
    those without. `reach`: how far off (pixels) the corners of the quads may be, by default that of patches."""
    first = []
    for quad, score in quads:
        # Corners read off a patch are rough: its shape only sorts, it does not refuse. Those of lines are good.
        trust = 200.0 if reach is None else 10.0
        shape = np.exp(-min(shape_cost(quad.corners, size_mm, photo), 600.0) / trust)
        white = _whiteness(photo, quad.corners) if paper else 1.0
        first.append((score * float(shape) * white, quad))
    first.sort(key=lambda entry: -entry[0])
    found: list[Candidate] = []
    missed: list[tuple[float, Floats]] = []
    for number, (rough, quad) in enumerate(first[:_MOST_REFINED]):
        best = max(found, key=lambda candidate: candidate.score, default=None)
        if number > _ALWAYS_REFINED and best is not None and rough < _MUCH_ROUGHER * best.rough * best.score:
            continue
        refined = _refined(photo, quad, reach)
        if refined is None:
            missed.append((rough, quad.corners))
            continue
        if any(_farthest_corner(refined[0], other.corners.seen) < _SAME_CORNERS for other in found):
            continue
        if _width_shown(refined[0], size_mm, photo) < WIDEST_MM:
            found.append(_judged(photo, refined, size_mm, paper=paper, rough=rough))
    return sorted(found, key=lambda candidate: -candidate.score), missed


def _judged(
    photo: Photo,
    refined: tuple[Floats, float, tuple[Floats, ...]],
    size_mm: tuple[float, float],
    *,
    paper: bool,
    rough: float,
) -> Candidate:
    seen, error, sides = refined
    seen_sides = sheet_evidence(photo, seen)
    evidence = seen_sides.strength * float(np.exp(-error / _ERROR_SCALE))
    if paper:
        dark = max(-seen_sides.lightness - _DARKER, 0.0)
        evidence *= _whiteness(photo, seen) * float(np.exp(-dark / _DARKER_SCALE))
    shape = float(np.exp(-shape_cost_through_lenses(seen, size_mm, photo) / 3.0))
    corners = assign_corners(seen, size_mm, photo, standard_error=error, sides=sides)
    return Candidate(corners, evidence, shape, rough)


def _farthest_corner(seen: Floats, other: Floats) -> float:
    """How far (pixels) the corners (4, 2) of one lie from the nearest ones of the other, at most."""
    return float(np.hypot(*(seen[:, None] - other[None]).transpose(2, 0, 1)).min(axis=1).max())


def _refined(
    photo: Photo, quad: Quadrilateral, reach: float | None
) -> tuple[Floats, float, tuple[Floats, ...]] | None:
    """Corners, their standard error and side points where its sides are lines, else None."""
    refined = refine_corners(photo, quad.corners, reach=reach)
    if refined is None or refined[1] > _MOST_CORNER_ERROR:
        # Print near the sides draws long profiles away from them; a side that no line tells is known roughly only.
        second = CORNER_LINES_REACH if reach is None else _SECOND_REACH * reach
        refined = refine_corners(photo, quad.corners, reach=second)
    return None if refined is None or refined[1] > _MOST_CORNER_ERROR else refined


def overlap(corners: Floats, other: Floats) -> bool:
    """Whether two four-sided figures share more than a fifth of the smaller one."""
    import shapely

    a, b = shapely.convex_hull(shapely.multipoints(corners)), shapely.convex_hull(shapely.multipoints(other))
    return bool(shapely.area(shapely.intersection(a, b)) > 0.2 * min(shapely.area(a), shapely.area(b)))


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


def _width_shown(corners: Floats, size_mm: tuple[float, float], photo: Photo) -> float:
    """How many mm the picture's longer side shows where the reference lies."""
    return float(np.sqrt(size_mm[0] * size_mm[1] / max(area(corners), 1e-9))) * max(photo.size)
