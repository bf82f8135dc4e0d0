"""The homography against OpenCV's findHomography and warpPerspective, and areas against the shoelace formula.

Source: OpenCV 4 and later, calib3d `findHomography` (Hartley and Zisserman 2004, Multiple View Geometry, ch. 4).
Area of leather is that of its outline in the plane (ISO 11646:2014, "Leather - Measurement of area").
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from nestplan.intake.photo.camera import CameraFit, SheetView, apply_homography, fit_camera, homography_of
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.rectification import rectify_through
from tests.intake.photo_render import Scene, camera, to_pixels
from tests.intake.photo_scenes import invented_outline

corner = st.floats(-220, 220)


@st.composite
def quads(draw: st.DrawFn) -> np.ndarray:
    """Convex quads (4, 2) in a picture, whose corners are each moved by up to 220 pixels."""
    base = np.array([[400, 1200], [1600, 1200], [1600, 300], [400, 300]], dtype=np.float64)
    quad = base + np.array([[draw(corner), draw(corner)] for _ in range(4)])
    after = np.roll(quad, -1, axis=0) - quad
    later = np.roll(after, -1, axis=0)
    turns = after[:, 0] * later[:, 1] - after[:, 1] * later[:, 0]
    assume(bool((turns < -1e4).all()))
    return quad


@given(quads(), st.floats(100, 1200), st.floats(100, 1200))
@settings(max_examples=150, deadline=None)
def test_homographies_of_random_quads_agree(quad: np.ndarray, width: float, height: float) -> None:
    plane = np.array([[0, 0], [width, 0], [width, height], [0, height]])
    ours = homography_of(plane, quad)
    theirs, _ = cv2.findHomography(plane, quad, 0)
    inner = np.random.default_rng(0).uniform(0, 1, (40, 2)) * [width, height]
    expected = cv2.perspectiveTransform(inner[None], theirs)[0]
    # Theirs ends with an iterative refinement, which leaves about a ten-thousandth of a pixel; ours is exact in four.
    assert np.abs(apply_homography(ours, inner) - expected).max() < 2e-3
    assert apply_homography(ours, plane) == pytest.approx(quad, abs=1e-6)


@given(quads(), st.integers(0, 1000))
@settings(max_examples=60, deadline=None)
def test_many_noisy_points_are_fitted_alike(quad: np.ndarray, seed: int) -> None:
    rng = np.random.default_rng(seed)
    plane = np.array([[0, 0], [600.0, 0], [600, 400], [0, 400]])
    points = rng.uniform(0, 1, (30, 2)) * [600, 400]
    seen = apply_homography(homography_of(plane, quad), points) + rng.normal(0, 0.5, (30, 2))
    ours = apply_homography(homography_of(points, seen), plane)
    theirs, _ = cv2.findHomography(points, seen, 0)
    # Theirs also refines by Levenberg and Marquardt; both must lie well within the noise of each other.
    assert np.abs(ours - cv2.perspectiveTransform(plane[None], theirs)[0]).max() < 1.5


@given(st.floats(0, 35), st.floats(0, 360), st.integers(0, 30))
@settings(max_examples=40, deadline=None)
def test_the_area_of_a_rectified_outline_is_the_drawn_one(tilt: float, azimuth: float, seed: int) -> None:
    outline = invented_outline(("side", "shoulder", "skin")[seed % 3], seed)
    true = camera(Scene(outline=outline, tilt=tilt, azimuth=azimuth), outline)
    board = np.array([[0, 0], [420.0, 0], [420, 297], [0, 297]])
    ours = homography_of(board, to_pixels(true, board))
    back = apply_homography(np.linalg.inv(ours), to_pixels(true, outline))
    assert shoelace(back) == pytest.approx(shoelace(outline), rel=1e-7)


def test_the_redrawn_picture_is_opencvs_picture() -> None:
    rng = np.random.default_rng(0)
    noise = cv2.GaussianBlur(rng.uniform(0, 255, (600, 800, 3)).astype(np.float32), (0, 0), 4)
    image = cv2.normalize(noise, None, 0, 255, cv2.NORM_MINMAX).astype(np.uint8)
    quad = np.array([[200, 450], [610, 470], [560, 140], [240, 120]], dtype=np.float64)
    board = np.array([[0, 0], [300.0, 0], [300, 250], [0, 250]])
    matrix = homography_of(board, quad)
    redrawn = rectify_through(Photo(image), CameraFit(matrix, np.empty((0, 3, 3)), 0.0), board)
    step = redrawn.mm_per_pixel
    to_floor = np.array([[step, 0, redrawn.origin[0]], [0, -step, redrawn.origin[1]], [0, 0, 1]])
    height, width = redrawn.image.shape[:2]
    theirs = cv2.warpPerspective(
        image, matrix @ to_floor, (width, height), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    )
    inner = redrawn.visible & (cv2.erode(redrawn.visible.astype(np.uint8), np.ones((9, 9))) > 0)
    assert inner.mean() > 0.3
    difference = np.abs(redrawn.image.astype(int) - theirs.astype(int))[inner]
    assert np.percentile(difference, 99.5) <= 3


def shoelace(ring: np.ndarray) -> float:
    x, y = ring.T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


@pytest.mark.parametrize(("bend", "tilt"), [(-0.12, 0.3), (-0.05, 0.5), (0.0, 0.2), (0.06, 0.4)])
def test_lens_and_pose_over_four_sheets_are_those_of_opencv_s_calibration(bend: float, tilt: float) -> None:
    """Four sheets and a grid of floor points projected by OpenCV; its calibration knows all their places, ours none."""
    size, focal = (2000, 1500), 1700.0
    camera_matrix = np.array([[focal, 0, 999.5], [0, focal, 749.5], [0, 0, 1.0]])
    turn, _ = cv2.Rodrigues(np.array([np.pi - tilt, 0.1, 0.05]))
    place = np.array([[-20.0], [40.0], [2100.0]])
    distortion = np.array([bend, 0, 0, 0, 0.0])

    def seen(points: np.ndarray) -> np.ndarray:
        flat = np.column_stack([points, np.zeros(len(points))])
        projected, _ = cv2.projectPoints(flat, cv2.Rodrigues(turn)[0], place, camera_matrix, distortion)
        return np.asarray(projected[:, 0], dtype=np.float64)

    a4 = np.array([[0, 0], [297, 0], [297, 210], [0, 210.0]])
    t = np.linspace(0.04, 0.96, 16)[:, None]
    laid, views = [], []
    for x, y, angle in ((-950, -600, 0.1), (600, -620, -0.4), (560, 380, 0.8), (-930, 420, 0.0)):
        spin = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        ring = a4 @ spin + [x, y]
        sides = tuple(seen(ring[k] + t * (ring[(k + 1) % 4] - ring[k])) for k in range(4))
        laid.append(ring)
        views.append(SheetView(a4, seen(ring), 0.1, sides))
    ours = fit_camera(views, size)

    corners = np.vstack(laid)
    flat = np.column_stack([corners, np.zeros(len(corners))]).astype(np.float32)
    flags = cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_FIX_PRINCIPAL_POINT | cv2.CALIB_ZERO_TANGENT_DIST
    flags |= cv2.CALIB_FIX_K2 | cv2.CALIB_FIX_K3 | cv2.CALIB_USE_INTRINSIC_GUESS
    error, matrix, bends, turns, places = cv2.calibrateCamera(
        [flat], [seen(corners).astype(np.float32)], size, camera_matrix.copy(), np.zeros(5), flags=flags
    )
    assert error < 0.1
    grid = np.array([[x, y] for x in np.linspace(-900, 800, 9) for y in np.linspace(-550, 550, 7)])
    theirs, _ = cv2.projectPoints(
        np.column_stack([grid, np.zeros(len(grid))]), turns[0], places[0], matrix, bends
    )
    back = ours.floor_of(np.asarray(theirs[:, 0], dtype=np.float64))
    # Our floor's frame is the first sheet's: lay it on the true one by shift and turn alone.
    a, b = back - back.mean(axis=0), grid - grid.mean(axis=0)
    left, _, right = np.linalg.svd(a.T @ b)
    assert np.abs(a @ (left @ right) - b).max() < 3.0
