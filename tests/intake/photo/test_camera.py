"""Cameras over a plane: homographies, the camera behind four corners, the lens, and which way round a sheet lies."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.errors import InputError
from nestplan.intake.photo.camera import (
    RadialDistortion,
    apply_homography,
    camera_cost,
    fit_camera,
    fit_camera_to_markers,
    homography_of,
)
from tests.intake.photo_render import Scene, camera, rectangle, to_pixels
from tests.intake.photo_scenes import invented_outline

SIZE = (2000, 1500)


def seen_from(tilt: float, azimuth: float, focal: float = 0.8) -> np.ndarray:
    content = np.array([[-900.0, -600], [900, -600], [900, 600], [-900, 600]])
    return camera(Scene(outline=content, tilt=tilt, azimuth=azimuth, focal=focal), content)


@given(st.floats(0, 35), st.floats(0, 360), st.floats(0.55, 1.1))
@settings(max_examples=30, deadline=None)
def test_four_corners_give_back_the_camera_that_saw_them(tilt: float, azimuth: float, focal: float) -> None:
    true = seen_from(tilt, azimuth, focal)
    plane = np.array([[0, 0], [600.0, 0], [600, 400], [0, 400]])
    fit = fit_camera(plane, to_pixels(true, plane), 0.05, SIZE)
    far = np.array([[-900.0, -600], [900, 600], [-900, 600]])
    away = apply_homography(np.linalg.inv(fit.homography), to_pixels(true, far)) - far
    assert np.abs(away).max() < 9.0


def test_what_is_believed_of_cameras_steadies_the_far_side() -> None:
    rng = np.random.default_rng(3)
    plane = np.array([[700, -100], [910.0, -100], [910, 197], [700, 197]])
    hide = np.array([[-900.0, -600], [650, -600], [650, 600], [-900, 600]])
    believed, plain = [], []
    for azimuth in range(0, 360, 20):
        true = seen_from(12, azimuth)
        seen = to_pixels(true, plane) + rng.normal(0, 0.15, (4, 2))
        pixels = to_pixels(true, hide)
        for matrix, errors in (
            (fit_camera(plane, seen, 0.15, SIZE, sample_count=2).homography, believed),
            (homography_of(plane, seen), plain),
        ):
            back = apply_homography(np.linalg.inv(matrix), pixels)
            errors.append(np.abs(back - hide).max())
    assert np.median(believed) < 0.9 * np.median(plain)


def test_the_spread_of_cameras_grows_with_the_doubt_of_the_corners() -> None:
    plane = np.array([[0, 0], [420.0, 0], [420, 297], [0, 297]])
    seen = to_pixels(seen_from(15, 40), plane)
    far = np.array([[-900.0, -600]])

    def reach(standard_error: float) -> float:
        fit = fit_camera(plane, seen, standard_error, SIZE)
        pixels = apply_homography(fit.homography, far)
        return float(
            np.std(
                [apply_homography(np.linalg.inv(other), pixels) for other in fit.homography_samples], axis=0
            ).max()
        )

    assert 0 < reach(0.05) < 0.85 * reach(0.2)


@pytest.mark.parametrize("tilt", [0.0, 12.0, 25.0, 35.0])
@pytest.mark.parametrize("size", [(420.0, 297.0), (297.0, 420.0), (500.0, 400.0)])
def test_the_way_round_a_sheet_lies_is_told_by_the_camera(tilt: float, size: tuple[float, float]) -> None:
    width, height = size
    plane = np.array([[0, 0], [width, 0], [width, height], [0, height]])
    swapped = np.array([[0, 0], [height, 0], [height, width], [0, width]])
    seen = to_pixels(seen_from(tilt, 70), plane)
    right, wrong = (camera_cost(homography_of(way, seen), SIZE) for way in (plane, swapped))
    assert right < 5
    assert wrong > 50


def test_marks_of_one_size_laid_anyhow_give_the_true_scale_between_them() -> None:
    true = seen_from(25, 200)
    places = [(-850, -550, 12.0), (830, -560, -40.0), (850, 540, 77.0), (-840, 555, 3.0)]
    laid = np.array([rectangle(x, y, 150, 150, turn) for x, y, turn in places])
    rng = np.random.default_rng(1)
    squares = [to_pixels(true, quad) + rng.normal(0, 0.1, (4, 2)) for quad in laid]
    fit, found = fit_camera_to_markers(squares, 150.0, 0.1, SIZE)
    apart = np.hypot(*(found[2].mean(axis=0) - found[0].mean(axis=0)))
    truth = np.hypot(*(laid[2].mean(axis=0) - laid[0].mean(axis=0)))
    assert apart == pytest.approx(truth, rel=0.004)
    assert fit.residual < 0.3


def test_three_corners_on_a_line_are_refused() -> None:
    plane = np.array([[0, 0], [100.0, 0], [100, 80], [0, 80]])
    with pytest.raises(InputError, match="one line"):
        homography_of(plane, [[0, 0], [10, 0], [20, 0], [0, 30]])


@given(st.floats(-0.2, 0.2), st.floats(-900, 900), st.floats(-700, 700))
def test_bowing_undoes_straightening(k: float, x: float, y: float) -> None:
    lens = RadialDistortion(k, (1000.0, 750.0), 1250.0)
    point = np.array([[1000 + x, 750 + y]])
    assert lens.distort(lens.undistort(point)) == pytest.approx(point, abs=1e-6)


def test_the_renderer_and_the_lens_agree_on_which_way_lines_bow() -> None:
    from tests.intake.photo_render import _Lens

    outline = invented_outline("skin", 1)[::50]
    ours = RadialDistortion(-0.1, (999.5, 749.5), 1250.0)
    assert ours.undistort(_Lens(-0.1, 999.5, 749.5, 1250.0).apply(outline)) == pytest.approx(
        outline, abs=1e-6
    )
