"""The projector's calibration against OpenCV, and a projected square measured in a grabbed frame."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from nestplan.drawing.table_projection import calibrate, check_square, fit_homography

CORNERS = np.array(((310.0, 930.0), (1650.0, 985.0), (1570.0, 170.0), (395.0, 105.0)))
WIDTH, Z_VALUES = 1500.0, 900.0
TABLE = np.array(((0.0, 0.0), (WIDTH, 0.0), (WIDTH, Z_VALUES), (0.0, Z_VALUES)))


def test_four_corners_give_opencvs_perspective_matrix() -> None:
    theirs = cv2.getPerspectiveTransform(TABLE.astype(np.float32), CORNERS.astype(np.float32))
    ours = calibrate(CORNERS, WIDTH, Z_VALUES)
    assert np.abs(ours.matrix - theirs / theirs[2, 2]).max() < 1e-4
    projected = cv2.perspectiveTransform(TABLE[None], theirs)[0]
    assert np.abs(ours.pixels(TABLE) - projected).max() < 0.5
    assert ours.error < 0.5


def test_many_points_give_opencvs_least_squares_homography() -> None:
    rng = np.random.default_rng(11)
    source = rng.uniform((0, 0), (WIDTH, Z_VALUES), (40, 2))
    target = calibrate(CORNERS, WIDTH, Z_VALUES).pixels(source) + rng.normal(0.0, 0.3, (40, 2))
    theirs, _ = cv2.findHomography(source, target, 0)
    ours = fit_homography(source, target)

    def apply(matrix: np.ndarray) -> np.ndarray:
        return cv2.perspectiveTransform(source[None], matrix)[0]

    # OpenCV refines the transfer error afterwards, ours is the direct transform: both near the truth.
    assert np.abs(apply(ours) - apply(theirs)).max() < 0.3


def test_a_projected_square_of_a_metre_measures_a_metre() -> None:
    """The square is drawn into a frame as the projector gets it, the frame is seen on the table, and measured."""
    height = 1200.0
    table = np.array(((0.0, 0.0), (WIDTH, 0.0), (WIDTH, height), (0.0, height)))
    calibration = calibrate(CORNERS, WIDTH, height)
    square = calibration.pixels(check_square(1000.0) + np.array((200.0, 100.0)))
    frame = np.zeros((1080, 1920), np.uint8)
    shift = 8
    cv2.fillPoly(frame, [np.round(square * 2**shift).astype(np.int32)], 255, cv2.LINE_AA, shift)
    # The optics, independent of our matrix: where the projector's picture lands on a table seen at 1 px a mm.
    light = cv2.getPerspectiveTransform(CORNERS.astype(np.float32), table.astype(np.float32))
    seen = cv2.warpPerspective(frame, light, (int(WIDTH), int(height)), flags=cv2.INTER_LINEAR)
    contours, _ = cv2.findContours((seen > 127).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outline = max(contours, key=cv2.contourArea)
    polygon = cv2.approxPolyDP(outline, 12.0, True).reshape(-1, 2).astype(np.float32)
    assert len(polygon) == 4
    term = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 60, 0.005)
    start = np.ascontiguousarray(polygon.reshape(-1, 1, 2))
    corners = cv2.cornerSubPix(seen, start, (9, 9), (-1, -1), term).reshape(-1, 2)
    sides = np.hypot(*(corners - np.roll(corners, -1, axis=0)).T)
    assert sides == pytest.approx([1000.0] * 4, rel=0.002)
