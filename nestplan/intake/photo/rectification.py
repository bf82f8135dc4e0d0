"""A photograph drawn anew as seen from straight above, at true scale, with the uncertainty of that scale.

Not here: finding the reference (reference), the camera (camera), the hide in the picture (outline).
Two frames: the floor's mm (x right, y up, origin at a corner of the reference) and the picture's pixels
(x right, y down, pixel centres at whole numbers). Only this file turns the y axis.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from nestplan.errors import InputError
from nestplan.geometry.ring import area, perimeter
from nestplan.intake.photo.camera import (
    CameraFit,
    RadialDistortion,
    SheetView,
    apply_homography,
)
from nestplan.intake.photo.floor_lines import PictureLines, camera_and_floor
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.reference_corners import ReferenceCorners

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

__all__ = ["RectifiedPhoto", "area_error_over", "corners_from_two_points", "rectify", "scale_error_over"]

MOST_PIXELS = 2_400_000
FINEST_MM, COARSEST_MM = 0.25, 12.0
"""Pixels of the redrawn picture: a cow side at 1.5 mm a pixel."""
EDGE_ERROR = 0.25
"""Standard error, pixels of the redrawn picture, of an outline as a whole: further out or in all round."""
LEAST_DISTORTION = 2e-4
"""Distortion k below which nothing is bent: less than a fifth of a pixel in a thousand."""
FAR_RATIO = 3.5
_UNSEEN_GREY = 215
"""The far part of the floor, seen this many times coarser than the middle, is left out."""


@dataclass(frozen=True, eq=False)
class RectifiedPhoto:
    """The floor from straight above.

    `image` (h, w, 3) uint8; `mm_per_pixel`; `origin` (x, y) mm of the centre of its upper left pixel; `seen`
    (h, w) bool: where the photo shows anything; `reference` (4, 2) mm; `homography` floor mm -> photo pixels
    (after `lens`, if any); `scale_error`: expected relative error (one standard deviation) of a length at the
    picture's middle; `fit` the camera with its uncertainty, for errors elsewhere; `has_reference` False where no
    board lies in the picture, so that nothing of it is left out; `suits_as_well` names papers that the sheet might be
    too.
    """

    image: NDArray[np.uint8]
    mm_per_pixel: float
    origin: tuple[float, float]
    visible: NDArray[np.bool_]
    reference: Floats
    homography: Floats
    scale_error: float
    fit: CameraFit
    lens: RadialDistortion | None = None
    name: str = ""
    has_reference: bool = True
    suits_as_well: tuple[str, ...] = ()

    def uncertain_size_words(self) -> tuple[str, str]:
        """What is uncertain of the sheet's size where other papers suit as well, and what to do."""
        return (
            f"Seen so slanted, the sheet might as well be {' or '.join(self.suits_as_well)}.",
            "Check which size it has; a picture from more nearly above can tell.",
        )

    def to_mm(self, pixels: ArrayLike) -> Floats:
        """Floor mm (n, 2) of places (column, row) in `image`."""
        places = np.asarray(pixels, dtype=np.float64)
        return np.column_stack(
            [
                self.origin[0] + places[:, 0] * self.mm_per_pixel,
                self.origin[1] - places[:, 1] * self.mm_per_pixel,
            ]
        )

    def to_pixels(self, points: ArrayLike) -> Floats:
        """Places (column, row) (n, 2) in `image` of floor mm."""
        given = np.asarray(points, dtype=np.float64)
        return np.column_stack(
            [
                (given[:, 0] - self.origin[0]) / self.mm_per_pixel,
                (self.origin[1] - given[:, 1]) / self.mm_per_pixel,
            ]
        )

    def photo_points(self, points: ArrayLike) -> Floats:
        """Where floor points (n, 2), mm, are seen in the photo itself, pixels."""
        seen = apply_homography(self.homography, points)
        return seen if self.lens is None else self.lens.distort(seen)

    def floor_points(self, pixels: ArrayLike) -> Floats:
        """Floor mm (n, 2) of places in the photo itself, pixels."""
        given = np.asarray(pixels, dtype=np.float64)
        straight = given if self.lens is None else self.lens.undistort(given)
        return apply_homography(np.linalg.inv(self.homography), straight)


def corners_from_two_points(a: ArrayLike, b: ArrayLike, length_mm: float, photo: Photo) -> ReferenceCorners:
    """Corners for a picture taken from straight above: two marks (pixels) a known length apart.

    The picture is believed to be free of perspective; `rectify` cannot check that.
    """
    start, end = np.asarray(a, dtype=np.float64), np.asarray(b, dtype=np.float64)
    apart = float(np.hypot(*(end - start)))
    if apart < 20 or not 10 <= length_mm <= 20_000:
        raise InputError(
            "The two marks are too close together, or their distance is no length.",
            mend="Click two marks far apart, at best on both sides of the hide, and give their distance in mm.",
            file=photo.name,
        )
    scale = length_mm / apart
    width, height = photo.size
    seen = np.array([[0, height - 1], [width - 1, height - 1], [width - 1, 0], [0, 0]], dtype=np.float64)
    plane = np.column_stack([seen[:, 0] * scale, (height - 1 - seen[:, 1]) * scale])
    # A point is clicked to about a pixel and a half; over the picture's width that is the corners' error.
    return ReferenceCorners(seen, plane, 1.5 * max(width, height) / apart)


def rectify(
    photo: Photo, corners: ReferenceCorners, *, lines: PictureLines | None = None, upright: bool = False
) -> RectifiedPhoto:
    """The photo as seen from straight above, true to the corners' mm.

    The lens's distortion is read from what is straight (the sheets' sides, long lines of the floor, or other `lines`);
    joints of the floor that run two ways square to each other help to tell the tilt. `upright` for a picture
    taken from straight above: no perspective is looked for.

    Raises InputError if what the photo shows at that scale is no table or floor (smaller than 5 cm or larger than
    30 m), or the horizon is in the way.
    """
    if upright:
        fit = _fit_similarity(corners.plane, corners.seen, corners.standard_error)
        return rectify_through(photo, fit, corners.plane, has_reference=False)
    views = [
        SheetView(each.plane, each.seen, each.standard_error, each.sides)
        for each in (corners, *corners.others)
    ]
    fit, _ = camera_and_floor(photo, views, lines=lines)
    sheets = corners.plane if fit.sheets is None else fit.sheets.reshape(-1, 2)
    return replace(rectify_through(photo, fit, sheets), suits_as_well=corners.suits_as_well)


def rectify_through(
    photo: Photo, fit: CameraFit, reference: Floats, *, has_reference: bool = True
) -> RectifiedPhoto:
    """The photo drawn anew through a known camera; `reference` (n, 2) mm is what the hide cannot be, if
    it `has_reference`."""
    homography = fit.homography
    lens = fit.lens if fit.lens is not None and abs(fit.lens.k) > LEAST_DISTORTION else None
    low, high, finest = _floor_bounds(photo, homography, lens)
    extent = high - low
    if not (50 < extent.max() < 30_000):
        raise InputError(
            f"By its reference the picture would show {extent[0] / 1000:.2f} × {extent[1] / 1000:.2f} m.",
            mend="Check the reference's size and unit, and that the corners are those of the reference.",
            file=photo.name,
        )
    step = float(np.clip(max(finest, np.sqrt(extent.prod() / MOST_PIXELS)), FINEST_MM, COARSEST_MM))
    columns, rows = (np.ceil(extent / step).astype(int) + 1).tolist()
    origin = (float(low[0]), float(high[1]))
    image, visible = _warp(photo, homography, lens, origin, step, (rows, columns))
    middle = (low + high) / 2
    error = _length_error(fit, middle[None])
    return RectifiedPhoto(
        image,
        step,
        origin,
        visible,
        reference,
        homography,
        error,
        fit,
        lens,
        photo.name,
        has_reference=has_reference,
    )


def _fit_similarity(plane: Floats, seen: Floats, standard_error: float) -> CameraFit:
    """Scale, turn and shift only, with the y axis turned: least squares."""
    a, b = plane - plane.mean(axis=0), seen - seen.mean(axis=0)
    p, q = a[:, 0] + 1j * a[:, 1], b[:, 0] - 1j * b[:, 1]
    factor = complex(np.vdot(p, q) / np.vdot(p, p))

    def matrix(scale: complex) -> Floats:
        linear = np.array([[scale.real, -scale.imag], [-scale.imag, -scale.real]])
        shift = seen.mean(axis=0) - linear @ plane.mean(axis=0)
        return np.vstack([np.column_stack([linear, shift]), [0, 0, 1.0]])

    relative = standard_error / float(np.hypot(*b.T).max())
    return CameraFit(matrix(factor), np.array([matrix(factor * (1 + n)) for n in (relative, -relative)]), 0.0)


def _floor_bounds(
    photo: Photo, homography: Floats, lens: RadialDistortion | None
) -> tuple[Floats, Floats, float]:
    """Bounds in mm of what the photo shows (its far part left out) and the mm per pixel at its finest."""
    width, height = photo.size
    xs, ys = np.meshgrid(np.linspace(0, width - 1, 41), np.linspace(0, height - 1, 41))
    pixels = np.column_stack([xs.ravel(), ys.ravel()])
    if lens is not None:
        pixels = lens.undistort(pixels)
    inverse = np.linalg.inv(homography)
    depth = np.column_stack([pixels, np.ones(len(pixels))]) @ inverse[2]
    middle = len(pixels) // 2
    ahead = depth * np.sign(depth[middle]) > 0
    floor = apply_homography(inverse, pixels[ahead])
    scale = _mm_per_pixel(inverse, pixels[ahead])
    near = scale < FAR_RATIO * float(_mm_per_pixel(inverse, pixels[middle : middle + 1])[0])
    if near.sum() < 50:
        raise InputError(
            "The picture is taken too much along the floor.",
            mend="Hold the camera higher, looking down: at most about 45 degrees from straight above.",
            file=photo.name,
        )
    return floor[near].min(axis=0), floor[near].max(axis=0), float(np.percentile(scale[near], 5))


def _mm_per_pixel(inverse: NDArray[np.floating[Any]], pixels: Floats) -> Floats:
    """Root of the area a pixel covers on the floor, mm."""
    depth = np.column_stack([pixels, np.ones(len(pixels))]) @ inverse[2]
    return np.asarray(np.sqrt(np.abs(np.linalg.det(inverse) / depth**3)))


def _warp(
    photo: Photo,
    homography: Floats,
    lens: RadialDistortion | None,
    origin: tuple[float, float],
    step: float,
    shape: tuple[int, int],
) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    from scipy.ndimage import map_coordinates

    source, reduction = _reduced(photo, homography, origin, step, shape)
    height, width = source.shape[:2]
    image = np.empty((*shape, 3), dtype=np.uint8)
    visible = np.empty(shape, dtype=bool)
    x_mm = origin[0] + np.arange(shape[1]) * step

    def warp_band(first: int) -> None:
        # Bands of rows keep the memory for coordinates small. A pixel's place is linear in x along each row, but for
        # the division: far fewer operations than a full product, in single precision (good to 0.001 pixels).
        rows = slice(first, min(first + 256, shape[0]))
        y_mm = origin[1] - np.arange(rows.start, rows.stop) * step
        along = (homography[:, 0, None] * x_mm)[:, None, :]
        across = (homography[:, 1, None] * y_mm + homography[:, 2, None])[:, :, None]
        column, row, depth = (along[k].astype(np.float32) + across[k].astype(np.float32) for k in range(3))
        places = np.stack([column / depth, row / depth], axis=-1)
        if lens is not None:
            places = lens.distort(places.reshape(-1, 2)).reshape(places.shape).astype(np.float32)
        places = (places + np.float32(0.5)) / np.float32(reduction) - np.float32(0.5)
        visible[rows] = ((places > -0.5) & (places < [width - 0.5, height - 0.5])).all(axis=-1)
        coordinates = [places[..., 1], places[..., 0]]
        for colour in range(3):
            map_coordinates(
                source[..., colour], coordinates, output=image[rows, :, colour], order=1, mode="nearest"
            )
        image[rows][~visible[rows]] = _UNSEEN_GREY

    with ThreadPoolExecutor(max_workers=2) as pool:
        list(pool.map(warp_band, range(0, shape[0], 256)))
    return image, visible


def _reduced(
    photo: Photo, homography: Floats, origin: tuple[float, float], step: float, shape: tuple[int, int]
) -> tuple[NDArray[np.uint8], int]:
    """The photo averaged down by a whole number where the redrawn picture is much coarser than it."""
    from PIL import Image

    middle = np.array([[origin[0] + shape[1] * step / 2, origin[1] - shape[0] * step / 2]])
    pixel = apply_homography(homography, middle)
    native = float(_mm_per_pixel(np.linalg.inv(homography), pixel)[0])
    reduction = max(1, int(step / native / 0.8))
    if reduction == 1:
        return photo.image, 1
    return np.asarray(Image.fromarray(photo.image).reduce(reduction)), reduction


def _length_error(fit: CameraFit, places: Floats) -> float:
    """Largest over `places` (n, 2) mm of the standard deviation of the local scale, over the camera's samples."""
    steps = np.array([[-5.0, -5.0], [5.0, -5.0], [5.0, 5.0], [-5.0, 5.0]])
    return max((scale_error_of_ring(fit, place + steps) for place in places), default=0.0)


def scale_error_over(rectified: RectifiedPhoto, ring: Floats) -> float:
    """Expected relative error (one standard error) of lengths on a hide with this outline (n, 2), mm.

    The largest of half the area's and those of the lengths across the hide in four directions, over cameras that
    explain the reference equally well, and over edges that lie a fraction of a pixel further out or in all round.
    """
    edge = _edge_share(rectified, ring) / 2
    return float(np.hypot(scale_error_of_ring(rectified.fit, ring), edge))


def area_error_over(rectified: RectifiedPhoto, ring: Floats) -> float:
    """As `scale_error_over`, of the area inside the outline."""
    return float(np.hypot(area_error_of_ring(rectified.fit, ring), _edge_share(rectified, ring)))


def _edge_share(rectified: RectifiedPhoto, ring: Floats) -> float:
    """Relative error of the area from an edge that lies a fraction of a pixel further out or in all round."""
    return EDGE_ERROR * rectified.mm_per_pixel * perimeter(ring) / max(area(ring), 1e-9)


def scale_error_of_ring(fit: CameraFit, ring: Floats) -> float:
    """As `scale_error_over`, for a camera and a ring that is known exactly."""
    return max(area_error_of_ring(fit, ring) / 2, *length_errors_of_ring(fit, ring))


def area_error_of_ring(fit: CameraFit, ring: Floats) -> float:
    """As `area_error_over`, for a camera and a ring that is known exactly."""
    base = area(ring)
    return fit.standard_error([area(other) / base - 1 for other in fit.sampled_floors_of(fit.seen_at(ring))])


def length_errors_of_ring(fit: CameraFit, ring: Floats) -> list[float]:
    """Relative standard errors of the lengths between the outermost points of a ring in four directions."""
    ways = np.radians([0.0, 45.0, 90.0, 135.0])
    reach = ring @ np.array([np.cos(ways), np.sin(ways)])
    first, last = ring[reach.argmin(axis=0)], ring[reach.argmax(axis=0)]
    lengths = np.hypot(*(last - first).T)
    sampled = fit.sampled_floors_of(fit.seen_at(np.vstack([first, last])))
    off = np.array([np.hypot(*(each[4:] - each[:4]).T) / lengths - 1 for each in sampled]).reshape(-1, 4)
    return [fit.standard_error(column) for column in off.T]
