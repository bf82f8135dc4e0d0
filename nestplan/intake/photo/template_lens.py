"""How the lens bends straight edges, read from those of many templates: they lie all over the picture.

What one sheet's sides cannot tell, sixty straight edges can: each bends with the lens by an amount that depends on its
length and place, and edges that were cut a little round do so either way.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from nestplan.intake.photo.camera import RadialDistortion
from nestplan.intake.photo.floor_lines import lines_of
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.rectification import RectifiedPhoto, rectify
from nestplan.intake.photo.reference_corners import ReferenceCorners
from nestplan.intake.photo.templates import FoundTemplate, Templates, find_templates, laid_anew

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["bend_of_templates", "find_templates_beside_sheet"]

LEAST_LENGTH = 60.0
"""Straight edges shorter than this, pixels, tell nothing of the lens."""
CUT_ROUND = 0.12
"""How far a straight edge bends of itself, pixels at its middle: scissors and paper are not quite straight."""
USUAL_EDGES = 6
"""As much as so many edges weighs what is usual against how straight the edges of a picture are."""
MOST_ERROR = 0.03
"""With a greater standard error edges tell nothing that is not known of any lens."""
_STEP = 0.01


def find_templates_beside_sheet(
    photo: Photo,
    corners: ReferenceCorners,
    *,
    progress: Callable[[float, str], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> tuple[RectifiedPhoto, Templates]:
    """The templates in a photograph and the ground they lie on, once more through the lens that their edges tell.

    Raises InputError if no template is found, Cancelled if `cancelled()` says so.
    """
    straight = rectify(photo, corners)
    result = find_templates(photo, straight, progress=progress, cancelled=cancelled)
    bend = bend_of_templates(result.found, straight, photo.size)
    if bend is None:
        return straight, result
    better = rectify(photo, corners, lines=replace(lines_of(photo), bend=bend))
    found = tuple(laid_anew(each, straight, better) for each in result.found)
    warnings = []
    for each in result.warnings:
        x, y = better.floor_points(straight.photo_points([each.at]))[0]
        warnings.append(replace(each, at=(float(x), float(y))))
    return better, Templates(found, tuple(warnings))


def bend_of_templates(
    found: Sequence[FoundTemplate], rectified: RectifiedPhoto, size: tuple[int, int]
) -> tuple[float, float] | None:
    """The distortion k that makes the templates' straight edges straight and its standard error; None without edges.

    `size` (w, h) of the photograph, pixels. Least squares in the bends with Huber's weights (1964).
    """
    edges = [
        rectified.photo_points(template.points[run])
        for template in found
        for run in template.straight
        if len(run) > 12
    ]
    edges = [edge for edge in edges if float(np.hypot(*(edge[-1] - edge[0]))) > LEAST_LENGTH]
    if len(edges) < 4:
        return None
    middle = ((size[0] - 1) / 2, (size[1] - 1) / 2)
    radius = float(np.hypot(*size)) / 2
    bends = np.array(
        [
            [_bend(RadialDistortion(k, middle, radius).undistort(edge)) for k in (-_STEP, 0.0, _STEP)]
            for edge in edges
        ]
    )
    slope, base = (bends[:, 2] - bends[:, 0]) / (2 * _STEP), bends[:, 1]
    k, weights = 0.0, np.ones(len(edges))
    for _ in range(12):
        k = -float((weights * base * slope).sum() / max(float((weights * slope**2).sum()), 1e-12))
        off = np.abs(base + k * slope)
        scale = _scatter(off)
        weights = np.minimum(1.0, 1.5 * scale / np.maximum(off, 1e-9))
    error = scale / float(np.sqrt(max(float((weights * slope**2).sum()), 1e-12)))
    return (k, error) if error < MOST_ERROR and abs(k) < 0.3 else None


def _scatter(off: Floats) -> float:
    """How far straight edges bend of themselves, pixels, that are off (n,): by what is usual and by what they show."""
    seen = 1.4826 * float(np.median(off))
    return float(np.sqrt((USUAL_EDGES * CUT_ROUND**2 + len(off) * seen**2) / (USUAL_EDGES + len(off))))


def _bend(points: Floats) -> float:
    """How far (pixels, signed) points (n, 2) along an edge bend at its middle: a parabola over its chord."""
    way = points[-1] - points[0]
    length = float(np.hypot(*way))
    along = (points - points[0]) @ way / length**2 * 2 - 1
    across = (points - points[0]) @ np.array([-way[1], way[0]]) / length
    return float(-np.polyfit(along, across, 2)[0])
