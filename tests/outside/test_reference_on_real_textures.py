"""Sheets that OpenCV lays on photographed floors: corners, homography and pose as OpenCV has them.

The floors are the photographs of brick, grass and gravel inside scikit-image (skimage.data), under the Creative Commons
CC0 licence as the documentation of each says. Picture and truth are made by OpenCV alone (putText, warpPerspective,
projectPoints, solvePnP), which shares no code with the project or its renderer.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import skimage.data

from nestplan.intake.photo.camera import SheetView, fit_camera
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.reference import find_reference

SIZE, FOCAL = (1400, 1050), 1350.0
CAMERA = np.array([[FOCAL, 0, (SIZE[0] - 1) / 2], [0, FOCAL, (SIZE[1] - 1) / 2], [0, 0, 1.0]])
A4 = np.array([[0, 0], [297, 0], [297, 210], [0, 210.0]])
FINE = 4
"""Pixels of the drawing for one of the picture, along a side."""


def pose(tilt: float, turn: float) -> tuple[np.ndarray, np.ndarray]:
    """Turn vector and place of a camera that looks at the sheet from about 1.2 m, `tilt` degrees off straight down."""
    down = cv2.Rodrigues(np.array([np.pi, 0.0, 0.0]))[0]
    lean = cv2.Rodrigues(np.array([np.radians(tilt), 0.0, 0.0]))[0]
    spin = cv2.Rodrigues(np.array([0.0, 0.0, np.radians(turn)]))[0]
    rotation = lean @ down @ spin
    middle = np.array([120.0, 40.0, 0.0])
    return cv2.Rodrigues(rotation)[0], (np.array([0.0, 0.0, 1200.0]) - rotation @ middle)[:, None]


def floor_to_picture(tilt: float, turn: float) -> np.ndarray:
    vector, place = pose(tilt, turn)
    matrix = CAMERA @ np.column_stack([cv2.Rodrigues(vector)[0][:, :2], place])
    return np.asarray(matrix / matrix[2, 2])


def picture(texture: str, tint: tuple[float, float, float], matrix: np.ndarray, *, printed: bool) -> Photo:
    """The sheet on a floor of one texture, by OpenCV."""
    fine = np.array([[FINE, 0, (FINE - 1) / 2], [0, FINE, (FINE - 1) / 2], [0, 0, 1.0]]) @ matrix
    large = (SIZE[0] * FINE, SIZE[1] * FINE)
    grey = getattr(skimage.data, texture)().astype(np.float32)
    texel = np.array([[1.4, 0, -500], [0, 1.4, -400], [0, 0, 1.0]])
    floor = cv2.warpPerspective(
        grey / grey.mean(), fine @ texel, large, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT
    )
    colour = floor[..., None] * np.array(tint, dtype=np.float32)
    paper = np.full((420, 594), 240, dtype=np.uint8)
    if printed:
        for line in range(12):
            words = "cut two of each, mirrored, grain side up "[line:] + "pin, mark, punch"[: 2 + line]
            cv2.putText(paper, words, (50, 60 + 28 * line), cv2.FONT_HERSHEY_SIMPLEX, 0.6, (40.0,), 2)
    # Pixel edges, not centres, of the drawn paper are its edges.
    drawn = np.array([[0.5, 0, 0.25], [0, 0.5, 0.25], [0, 0, 1.0]])
    sheet = cv2.warpPerspective(
        paper.astype(np.float32), fine @ drawn, large, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    ring = cv2.perspectiveTransform(A4[None], fine)[0]
    mask = np.zeros(large[::-1], dtype=np.uint8)
    cv2.fillConvexPoly(mask, np.rint(ring * 256).astype(np.int32), 1, shift=8)
    colour = np.where(mask[..., None] > 0, sheet[..., None], colour)
    small = cv2.GaussianBlur(cv2.resize(colour, SIZE, interpolation=cv2.INTER_AREA), (0, 0), 0.7)
    small += np.random.default_rng(3).normal(0, 2, small.shape).astype(np.float32)
    return Photo(np.clip(small, 0, 255).astype(np.uint8), "opencv.jpg", focal=FOCAL)


@pytest.mark.parametrize(
    ("texture", "tint", "tilt", "turn", "printed"),
    [
        ("brick", (176, 112, 88), 12.0, 20.0, False),
        ("grass", (104, 128, 70), 25.0, -15.0, True),
        ("gravel", (140, 134, 124), 35.0, 40.0, True),
    ],
)
def test_corners_homography_and_pose_are_opencv_s(
    texture: str, tint: tuple[float, float, float], tilt: float, turn: float, printed: bool
) -> None:
    matrix = floor_to_picture(tilt, turn)
    photo = picture(texture, tint, matrix, printed=printed)
    found = find_reference(photo, (297.0, 210.0))
    true = cv2.perspectiveTransform(A4[None], matrix)[0]
    away = np.hypot(*(found.seen[:, None] - true[None]).transpose(2, 0, 1)).min(axis=1)
    assert away.max() < 0.5

    fit = fit_camera(
        [SheetView(found.plane, found.seen, found.standard_error, found.sides)], SIZE, focal=FOCAL
    )
    # The same corners by OpenCV's pose of a plane: floor points round the sheet must come back alike.
    _, vector, place = cv2.solvePnP(
        np.column_stack([found.plane, np.zeros(4)]), found.seen, CAMERA, None, flags=cv2.SOLVEPNP_ITERATIVE
    )
    around = np.array([[x, y] for x in (-150.0, 148.0, 450.0) for y in (-120.0, 105.0, 330.0)])
    seen, _ = cv2.projectPoints(np.column_stack([around, np.zeros(9)]), vector, place, CAMERA, None)
    assert np.hypot(*(fit.floor_of(seen[:, 0]) - around).T).max() < 3.0
