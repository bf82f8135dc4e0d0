"""Printed marks to lay round a hide before it is photographed: their shape, and the camera read from them.

Each mark is a black square on a white sheet; all are alike, and may lie anywhere round the hide, turned as they
fall. Since each has the same known side, camera and places are found together: no distance is measured by hand,
and the scale is held on all sides of the hide. Not here: printing them (sheets.photo_sheet).
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from nestplan.errors import InputError
from nestplan.intake.photo.camera import (
    CameraFit,
    SheetView,
    camera_cost,
    fit_camera,
    homography_of,
)
from nestplan.intake.photo.distortion import distortion_from_lines
from nestplan.intake.photo.quadrilaterals import candidate_quadrilaterals
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.rectification import RectifiedPhoto, rectify_through
from nestplan.intake.photo.reference_corners import counterclockwise_corners
from nestplan.intake.photo.subpixel import refine_corners

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["MARKERS_WANTED", "MARKER_SIDE", "find_markers", "marker_rings", "rectify_by_markers"]

MARKER_SIDE = 150.0
MARKERS_WANTED = 4
_DOT = 12.0
"""Side of the black square, mm: with a white rim it fits both A4 and letter paper."""


def marker_rings() -> tuple[Floats, Floats]:
    """The black square (4, 2) and the small white one in its middle (4, 2), mm, centre at (0, 0), ccw."""
    corners = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
    return corners * MARKER_SIDE, corners * _DOT


def find_markers(photo: Photo) -> tuple[list[Floats], float]:
    """Corners (4, 2) of the marks in the photo, pixels, counter-clockwise as seen, and their standard error in
    pixels.

    Raises InputError if fewer than two are found.
    """
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=np.float64)
    found: list[tuple[float, Floats, float]] = []
    for quad in candidate_quadrilaterals(photo.image, most=60):
        if not _is_black_on_white(photo, quad.corners):
            continue
        refined = refine_corners(photo, quad.corners)
        if refined is None or refined[1] > 1.0 or not _is_black_on_white(photo, refined[0]):
            continue
        corners, _ = counterclockwise_corners(refined[0], photo)
        if camera_cost(homography_of(square, corners), photo.size, photo.focal) > 25:
            continue
        found.append((quad.score, corners, refined[1]))
    found.sort(key=lambda entry: -entry[0])
    kept: list[tuple[Floats, float]] = []
    for _, corners, standard_error in found:
        if all(np.hypot(*(corners.mean(axis=0) - other.mean(axis=0))) > 20 for other, _ in kept):
            kept.append((corners, standard_error))
    if len(kept) < 2:
        raise InputError(
            f"{len(kept) or 'No'} printed mark{'s were' if len(kept) != 1 else ' was'} found; two or more are needed.",
            mend="Lay the four printed marks flat round the hide, wholly in the picture, and take it again.",
            file=photo.name,
        )
    kept = kept[: 3 * MARKERS_WANTED]
    return [corners for corners, _ in kept], float(np.median([standard_error for _, standard_error in kept]))


def _is_black_on_white(photo: Photo, corners: Floats) -> bool:
    """Whether a patch is far darker than a white rim all round it, and has a white dot in its middle."""
    middle = corners.mean(axis=0)
    width, height = photo.size
    t = np.linspace(0, 1, 12, endpoint=False)[:, None]
    sides = np.vstack([corners[k] + t * (corners[(k + 1) % 4] - corners[k]) for k in range(4)])

    def grey(points: Floats) -> Floats:
        cells = np.clip(np.rint(points).astype(int), 0, [width - 1, height - 1])
        return np.asarray(photo.image[cells[:, 1], cells[:, 0]].mean(axis=1))

    inside, rim = grey(middle + (sides - middle) * 0.7), grey(middle + (sides - middle) * 1.12)
    dot = float(grey(middle[None])[0])
    black, white = float(np.median(inside)), float(np.percentile(rim, 15))
    return black < 0.5 * white and white - black > 50 and dot > black + 0.25 * (white - black)


def rectify_by_markers(photo: Photo) -> RectifiedPhoto:
    """The photo as seen from straight above, true to the printed marks found in it.

    The floor's x axis runs along the picture.

    Raises InputError as `find_markers`, or if what was taken for
    marks cannot all be squares of one size.
    """
    marks, standard_error = find_markers(photo)
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=np.float64) * MARKER_SIDE
    views = [SheetView(square, corners, standard_error) for corners in marks]
    fit = fit_camera(views, photo.size, focal=photo.focal, lines=distortion_from_lines(photo))
    assert fit.sheets is not None
    if fit.residual > 6 * standard_error + 0.5:
        raise InputError(
            "The marks found cannot all be printed squares of one size.",
            mend="Check that all sheets were printed at 100 % and lie flat, and that nothing black and square is near.",
            file=photo.name,
        )
    fit, laid = _along_the_picture(photo, fit, fit.sheets)
    # The sheet of paper as far as it is sure to reach on all sides of its square.
    sheets = np.array([quad.mean(axis=0) + (quad - quad.mean(axis=0)) * 1.4 for quad in laid])
    return rectify_through(photo, fit, sheets.reshape(-1, 2))


def _along_the_picture(photo: Photo, fit: CameraFit, laid: Floats) -> tuple[CameraFit, Floats]:
    """The same camera and squares (n, 4, 2) in a floor frame whose x axis runs to the right of the picture."""
    width, height = photo.size
    across = np.array([[0.4 * width, 0.5 * height], [0.6 * width, 0.5 * height]])
    start, end = fit.floor_of(across)
    angle = np.arctan2(*(end - start)[::-1])
    cos, sin = np.cos(angle), np.sin(angle)
    back = np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1.0]])
    turned = replace(fit, homography=fit.homography @ back, homography_samples=fit.homography_samples @ back)
    return turned, laid @ back[:2, :2]
