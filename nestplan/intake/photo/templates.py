"""Pattern templates of paper, card or plastic in a photograph: one found piece for each, with all that is on it.

Not here: where they lie (template_ground), their edges (template_edges), holes and ink (template_marks), which are each
other's mirror image (template_likeness), and what becomes of them as pieces (templates_to_model).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from nestplan.errors import Cancelled, InputError
from nestplan.geometry.lines_and_arcs import edge_noise, fit_edge
from nestplan.geometry.ring import area, perimeter
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.rectification import RectifiedPhoto, scale_error_of_ring
from nestplan.intake.photo.template_edges import contour_of, edge_points, linear_light
from nestplan.intake.photo.template_ground import (
    LEAST_CONTRAST,
    Ground,
    RoughTemplate,
    mm_per_pixel,
    read_ground,
    rough_templates,
    surface_colour,
)
from nestplan.intake.photo.template_marks import (
    DrawnSpot,
    Inside,
    RoundHole,
    StretchArrow,
    is_simple,
    look_inside,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["FoundTemplate", "TemplateWarning", "Templates", "find_templates", "laid_anew"]

MOST_TEMPLATES = 400
"""More things than this are no templates on a plain ground."""
EDGE_PIXELS = 0.25
"""Pixels by which an edge may lie further out or in all round: shadow beside it, light that flows over (on rendered
photographs 0.1 to 0.25)."""
BLUR_PIXELS = 1.8
"""Within how many pixels a corner is rounded by the lens and the coder."""


@dataclass(frozen=True)
class TemplateWarning:
    """Something to look at: what, how to mend it, and where in mm on the ground."""

    what: str
    mend: str
    at: tuple[float, float]


@dataclass(frozen=True, eq=False)
class FoundTemplate:
    """One template: its `outline` (n, 2), mm on the ground, counter-clockwise, the `points` it was drawn through, the
    number of its sharp `corners`, and what lies `inside`.

    `straight`: numbers of the points along each straight edge. `noise` mm is a point's standard error; `scale_error`
    the expected relative error of its lengths.
    """

    outline: Floats
    points: Floats
    corners: int
    inside: Inside
    noise: float
    scale_error: float
    straight: tuple[NDArray[np.intp], ...] = ()


@dataclass(frozen=True, eq=False)
class Templates:
    """All templates in a photograph, in reading order, and what to look at."""

    found: tuple[FoundTemplate, ...]
    warnings: tuple[TemplateWarning, ...] = ()


def find_templates(
    photo: Photo,
    rectified: RectifiedPhoto,
    *,
    progress: Callable[[float, str], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Templates:
    """The templates on the plain ground of a photograph, each with its holes and drawn marks.

    `rectified` gives the way from the photograph to the ground.

    Raises InputError if there is no plain ground or nothing lies on it, Cancelled if `cancelled()` says so.
    """

    def report(share: float, words: str) -> None:
        if cancelled is not None and cancelled():
            raise Cancelled
        if progress is not None:
            progress(share, words)

    report(0.05, "reading the ground")
    ground = read_ground(photo, rectified)
    report(0.2, "looking for templates")
    rough = rough_templates(photo, rectified, ground)
    if len(rough) > MOST_TEMPLATES:
        raise InputError(
            f"{len(rough)} things lie on the ground, or it is not plain.",
            mend="Use a ground of one colour without a pattern.",
            file=photo.name,
        )
    found, warnings = [], _size_warnings(rectified)
    for number, each in enumerate(rough):
        report(
            0.3 + 0.7 * number / len(rough), f"following the edge of template {number + 1} of {len(rough)}"
        )
        warning = _warning(each, photo, rectified)
        if warning is not None:
            warnings.append(warning)
        if not each.cut_off:
            found.append(_template(each, photo, rectified, ground))
    if not found:
        raise InputError(
            "No template was found: nothing lies on the ground wholly in the picture.",
            mend="Lay the templates on one plain colour that differs from theirs, with room to the picture's edge.",
            file=photo.name,
        )
    order = _reading_order(found)
    return Templates(tuple(found[k] for k in order), tuple(warnings))


def _template(rough: RoughTemplate, photo: Photo, rectified: RectifiedPhoto, ground: Ground) -> FoundTemplate:
    patch = linear_light(photo.image, rough.rows, rough.columns)
    contour = contour_of(rough.mask, rough.share, patch.corner)
    points = edge_points(patch, contour, rectified.floor_points)
    middle = contour.mean(axis=0)
    pixel = mm_per_pixel(rectified, photo, (float(middle[0]), float(middle[1])))
    inside = look_inside(
        rough.mask,
        surface_colour(photo, ground, rough.rows, rough.columns),
        rough.colour,
        patch,
        rectified.floor_points,
        pixel,
    )
    return _drawn_through(points, inside, rectified, pixel)


def _drawn_through(points: Floats, inside: Inside, rectified: RectifiedPhoto, pixel: float) -> FoundTemplate:
    """The template whose edge runs through points (n, 2), mm, about a pixel of `pixel` mm apart."""
    noise = edge_noise(points)
    fit = fit_edge(points, noise=noise, blur=BLUR_PIXELS * pixel)
    outline = fit.ring if is_simple(fit.ring) else points
    return FoundTemplate(
        outline,
        points,
        len(fit.corners),
        inside,
        noise,
        _scale_error(rectified, outline, pixel),
        tuple(fit.straight_runs(len(points), round(2 * BLUR_PIXELS))),
    )


def laid_anew(found: FoundTemplate, before: RectifiedPhoto, after: RectifiedPhoto) -> FoundTemplate:
    """A template as another camera over the same photograph sees it."""

    def moved(points: Floats) -> Floats:
        return after.floor_points(before.photo_points(points))

    def circle(at: tuple[float, float], diameter: float) -> tuple[tuple[float, float], float]:
        angle = np.arange(12) * np.pi / 6
        rim = moved(np.array(at) + diameter / 2 * np.column_stack([np.cos(angle), np.sin(angle)]))
        middle = rim.mean(axis=0)
        return (float(middle[0]), float(middle[1])), float(2 * np.hypot(*(rim - middle).T).mean())

    inside = found.inside
    holes = (circle(hole.at, hole.diameter) for hole in inside.holes)
    spots = ((spot, circle(spot.at, spot.diameter)) for spot in inside.spots)
    ends = (moved(np.array([arrow.tail, arrow.tip])).tolist() for arrow in inside.arrows)
    laid = Inside(
        tuple(RoundHole(at, diameter) for at, diameter in holes),
        tuple(moved(ring) for ring in inside.openings),
        tuple(DrawnSpot(spot.form, spot.colour, at, diameter) for spot, (at, diameter) in spots),
        tuple(StretchArrow((tail[0], tail[1]), (tip[0], tip[1])) for tail, tip in ends),
        tuple((float(x), float(y)) for x, y in moved(np.array(inside.writing).reshape(-1, 2))),
    )
    points = moved(found.points)
    step = float(np.median(np.hypot(*np.diff(points, axis=0).T)))
    return _drawn_through(points, laid, after, step)


def _scale_error(rectified: RectifiedPhoto, ring: Floats, pixel: float) -> float:
    """Expected relative error (one standard error) of the template's lengths: the camera's and the edge's."""
    edge = EDGE_PIXELS * pixel * perimeter(ring) / area(ring) / 2
    return float(np.hypot(scale_error_of_ring(rectified.fit, ring), edge))


def _size_warnings(rectified: RectifiedPhoto) -> list[TemplateWarning]:
    """A warning at the sheet where it might as well be another paper than the one named."""
    if not rectified.suits_as_well:
        return []
    x, y = rectified.reference.reshape(-1, 4, 2)[0].mean(axis=0).tolist()
    return [TemplateWarning(*rectified.uncertain_size_words(), (x, y))]


def _warning(rough: RoughTemplate, photo: Photo, rectified: RectifiedPhoto) -> TemplateWarning | None:
    y, x = np.nonzero(rough.mask)
    place = rectified.floor_points([(x.mean() + rough.columns.start, y.mean() + rough.rows.start)])[0]
    at = (float(place[0]), float(place[1]))
    if rough.cut_off:
        return TemplateWarning(
            "Something reaches beyond the picture; it was left out.",
            "Take the photo again with all of it in sight, if it is a template.",
            at,
        )
    if rough.by_sheet:
        return TemplateWarning(
            "A template touches the sheet: its edge there is the sheet's.",
            "Move it a finger's width away and take the photo again.",
            at,
        )
    if rough.contrast < LEAST_CONTRAST:
        return TemplateWarning(
            "A template hardly differs from the ground; its edge may be wrong.",
            "Lay it on a ground of another colour.",
            at,
        )
    return None


def _reading_order(found: list[FoundTemplate]) -> list[int]:
    """Row by row from the top, each from the left: a row is what lies beside its first template's middle."""
    middles = np.array([(each.outline.min(axis=0) + each.outline.max(axis=0)) / 2 for each in found])
    heights = np.array([np.ptp(each.outline[:, 1]) for each in found])
    left = sorted(range(len(found)), key=lambda k: -middles[k, 1])
    order: list[int] = []
    while left:
        first = left[0]
        row = [k for k in left if middles[first, 1] - middles[k, 1] < 0.5 * heights[first]]
        order += sorted(row, key=lambda k: middles[k, 0])
        left = [k for k in left if k not in row]
    return order
