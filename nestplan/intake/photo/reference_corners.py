"""The reference's corners in a picture and on the floor: which corner is which, and how well a camera suits them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from nestplan.errors import InputError
from nestplan.intake.photo.camera import RadialDistortion, camera_cost, homography_of
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.subpixel import LEAST_STANDARD_ERROR

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

__all__ = [
    "ReferenceCorners",
    "assign_corners",
    "check_reference_size",
    "counterclockwise_corners",
    "shape_cost",
    "shape_cost_through_lenses",
    "sheet_plane",
    "way_round_cost",
]


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
    check_reference_size(size_mm)
    points = np.asarray(seen, dtype=np.float64)
    if points.shape != (4, 2):
        raise InputError(
            "The reference needs exactly four corners.", mend="Give four points.", file=photo.name
        )
    ordered, order = counterclockwise_corners(points, photo)
    turned = tuple(sides[place % 4] for place in order) if len(sides) == 4 else ()
    _, size = min(_assignments(ordered, size_mm, photo), key=lambda entry: entry[0])
    return ReferenceCorners(ordered, sheet_plane(*size), max(standard_error, LEAST_STANDARD_ERROR), turned)


def sheet_plane(width: float, height: float) -> Floats:
    """The corners (4, 2) of a sheet on the floor, mm, counter-clockwise from the lower left one."""
    return np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float64)


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


def check_reference_size(size_mm: tuple[float, float]) -> None:
    if not (min(size_mm) >= 20 and max(size_mm) <= 5000 and np.isfinite(size_mm).all()):
        raise InputError(
            f"A reference of {size_mm[0]:g} × {size_mm[1]:g} mm cannot serve.",
            mend="Use a sheet or board between 20 mm and 5 m a side and give its size in mm.",
        )


def shape_cost(corners: Floats, size_mm: tuple[float, float], photo: Photo) -> float:
    try:
        return min(_assignments(corners, size_mm, photo))[0]
    except InputError:
        return 1e6


def shape_cost_through_lenses(corners: Floats, size_mm: tuple[float, float], photo: Photo) -> float:
    """As `shape_cost`, but near the picture's border a lens that bends lines may have changed the shape."""
    return min(shape_cost(seen, size_mm, photo) + price for seen, price in _through_lenses(corners, photo))


def way_round_cost(seen: Floats, plane: Floats, photo: Photo) -> float:
    """As `shape_cost_through_lenses`, for corners (4, 2) of which it is said which is which by `plane` (4, 2), mm."""
    return min(
        camera_cost(homography_of(plane, straight), photo.size, photo.focal) + price
        for straight, price in _through_lenses(seen, photo)
    )


def _through_lenses(corners: Floats, photo: Photo) -> Iterator[tuple[Floats, float]]:
    """The corners (4, 2) as lenses of several distortions would have seen them straight, and how unlikely each is."""
    width, height = photo.size
    lens = RadialDistortion(0.0, ((width - 1) / 2, (height - 1) / 2), float(np.hypot(width, height)) / 2)
    for k in (-0.09, -0.06, -0.03, 0.0, 0.03):
        yield replace(lens, k=k).undistort(corners), (k / 0.06) ** 2


def _assignments(
    corners: Floats, size_mm: tuple[float, float], photo: Photo
) -> list[tuple[float, tuple[float, float]]]:
    ordered, _ = counterclockwise_corners(corners, photo)
    out = []
    for width, height in {size_mm, size_mm[::-1]}:
        cost = camera_cost(homography_of(sheet_plane(width, height), ordered), photo.size, photo.focal)
        out.append((cost, (width, height)))
    return sorted(out)
