"""Which templates are each other's mirror image or equal, and which are symmetric and might be made exactly so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from nestplan.geometry.lines_and_arcs import edge_noise, fit_edge
from nestplan.geometry.ring import centroid
from nestplan.intake.photo.outline_match import OutlineMatch, alike_in_size, match_outlines, mirror_image
from nestplan.intake.photo.templates import BLUR_PIXELS, FoundTemplate

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["SymmetryAxis", "made_symmetric", "mirrored_pairs", "symmetry_axis"]

ALIKE, FARTHEST_ALIKE = 0.45, 1.3
"""Two outlines are one shape if their distance is less than this in the mean square, mm, and nowhere more than the
second: what scissors and a photograph leave (ours; no source)."""
ALIKE_SHARE = 0.003
"""The same as a share of the shape's size, for large ones: the scale varies over a photograph."""
MARKS_ALIKE = 2.0
"""Holes and drawn marks that belong to both lie within so many mm."""


@dataclass(frozen=True, eq=False)
class SymmetryAxis:
    """A line through `at` (2,) along `way` (2,) in which an outline is its own mirror image but for `distance` mm;
    `with_marks` where holes and marks are too."""

    at: Floats
    way: Floats
    distance: float
    with_marks: bool = False

    def mirrored(self, points: Floats) -> Floats:
        """Points (n, 2) mirrored in the line."""
        off = points - self.at
        along = (off @ self.way)[:, None] * self.way
        return np.asarray(self.at + 2 * along - off)


def mirrored_pairs(found: Sequence[FoundTemplate]) -> tuple[tuple[int, int, float], ...]:
    """Pairs of numbers of templates that are each other's mirror image and not equal, with their distance, mm.

    Each is in one pair at most, the nearest.
    """
    trials = []
    for a in range(len(found)):
        for b in range(a + 1, len(found)):
            one, other = found[a], found[b]
            if not alike_in_size(one.outline, other.outline, 0.02):
                continue
            match = match_outlines(mirror_image(one.outline), other.outline)
            if not _same(match, one.outline) or not _same_holes(one, other, match):
                continue
            equal = match_outlines(one.outline, other.outline)
            if not _same(equal, one.outline):
                trials.append((match.residual, a, b))
    pairs: list[tuple[int, int, float]] = []
    for residual, a, b in sorted(trials):
        if not any({a, b} & {x, y} for x, y, _ in pairs):
            pairs.append((a, b, round(residual, 2)))
    return tuple(sorted(pairs))


def symmetry_axis(template: FoundTemplate) -> SymmetryAxis | None:
    """The line in which the template's outline is its own mirror image, or None."""
    ring = template.outline
    match = match_outlines(mirror_image(ring), ring)
    if not _same(match, ring):
        return None
    # x -> A M x + t with M the mirror in the y axis is a mirror in a line: its matrix has the eigenvalues 1 and -1.
    matrix = match.matrix @ np.diag([-1.0, 1.0])
    angle = np.arctan2(matrix[1, 0], matrix[0, 0]) / 2
    way = np.array([np.cos(angle), np.sin(angle)])
    middle = ring.mean(axis=0)
    mirrored = matrix @ middle + match.shift
    with_marks = _same_holes(template, template, match)
    return SymmetryAxis((middle + mirrored) / 2, way, round(match.residual, 2), with_marks)


def made_symmetric(template: FoundTemplate, axis: SymmetryAxis, pixel: float = 0.4) -> Floats:
    """The template's outline (n, 2) made its own exact mirror image: both halves' points drawn through together.

    `pixel` is how many mm one of the photograph showed.
    """
    import shapely

    points = template.points
    mirrored = axis.mirrored(points)
    line = shapely.LinearRing(points)
    at = shapely.line_locate_point(line, shapely.points(np.vstack([points, mirrored[::-1]])))
    both = np.vstack([points, mirrored[::-1]])[np.argsort(at, kind="stable")]
    # Two points each to the mean: steps along the edge stay as even as they were.
    both = (both[0::2] + both[1::2]) / 2
    ring = fit_edge(both, noise=edge_noise(both), blur=BLUR_PIXELS * pixel).ring
    along, across = 1e4 * axis.way, 1e4 * np.array([-axis.way[1], axis.way[0]])
    half_plane = shapely.Polygon(axis.at + np.array([-along, along, along + across, across - along]))
    half = shapely.intersection(shapely.Polygon(ring).buffer(0), half_plane)
    half = max(getattr(half, "geoms", [half]), key=lambda part: float(part.area))
    return _both_halves(np.asarray(half.exterior.coords)[:-1], axis)


def _both_halves(half: Floats, axis: SymmetryAxis) -> Floats:
    """The ring of a half that lies along the axis by one edge, and its mirror image."""
    normal = np.array([-axis.way[1], axis.way[0]])
    height = (half - axis.at) @ normal
    on = np.abs(height) < 1e-6
    half = np.where(on[:, None], axis.at + ((half - axis.at) @ axis.way)[:, None] * axis.way, half)
    # The chain off the axis runs from one end on it to the other.
    first = next(k for k in range(len(half)) if on[k] and not on[(k + 1) % len(half)])
    chain = np.roll(half, -first, axis=0)
    last = next(k for k in range(1, len(chain)) if np.roll(on, -first)[k])
    chain = chain[: last + 1]
    back = axis.mirrored(chain[1:-1])[::-1]
    ring = np.vstack([chain, back])
    x, y = (ring - ring[0]).T
    turning = float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))
    return np.asarray(ring if turning > 0 else ring[::-1])


def _same(match: OutlineMatch, ring: Floats) -> bool:
    size = float(np.hypot(*np.ptp(ring, axis=0)))
    most = max(ALIKE, ALIKE_SHARE * size)
    return match.residual < most and float(match.distances.max()) < FARTHEST_ALIKE * most / ALIKE


def _same_holes(one: FoundTemplate, other: FoundTemplate, match: OutlineMatch) -> bool:
    """Whether holes, windows and drawn marks of the first, mirrored, lie where the second's do."""
    groups = (
        ([each.at for each in one.inside.holes], [each.at for each in other.inside.holes]),
        (
            [centroid(ring) for ring in one.inside.openings],
            [centroid(ring) for ring in other.inside.openings],
        ),
        ([each.at for each in one.inside.spots], [each.at for each in other.inside.spots]),
    )
    for first, second in groups:
        if len(first) != len(second):
            return False
        if first:
            laid = match.moved(np.array(first) * (-1.0, 1.0))
            apart = np.hypot(*(laid[:, None] - np.array(second)[None]).transpose(2, 0, 1))
            if float(apart.min(axis=1).max()) > MARKS_ALIKE or float(apart.min(axis=0).max()) > MARKS_ALIKE:
                return False
    return True
