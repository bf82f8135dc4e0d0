"""Cameras over a plane: homographies, the camera behind four corners, the lens, and which way round a sheet lies."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.errors import InputError
from nestplan.geometry.ring import area
from nestplan.intake.photo.camera import (
    CameraFit,
    RadialDistortion,
    SheetView,
    _Sides,
    apply_homography,
    camera_cost,
    fit_camera,
    homography_of,
)
from tests.intake.photo_render import Lens, Scene, camera, rectangle, to_pixels
from tests.intake.photo_scenes import invented_outline

SIZE = (2000, 1500)


def seen_from(tilt: float, azimuth: float, focal: float = 0.8) -> np.ndarray:
    content = np.array([[-900.0, -600], [900, -600], [900, 600], [-900, 600]])
    return camera(Scene(outline=content, tilt=tilt, azimuth=azimuth, focal=focal), content)


def fit_of(plane: np.ndarray, seen: np.ndarray, standard_error: float, **options: object) -> CameraFit:
    return fit_camera([SheetView(plane, seen, standard_error)], SIZE, **options)  # type: ignore[arg-type]


@given(st.floats(0, 35), st.floats(0, 360), st.floats(0.55, 1.1))
@settings(max_examples=30, deadline=None)
def test_four_corners_give_back_the_camera_that_saw_them(tilt: float, azimuth: float, focal: float) -> None:
    true = seen_from(tilt, azimuth, focal)
    plane = np.array([[0, 0], [600.0, 0], [600, 400], [0, 400]])
    fit = fit_of(plane, to_pixels(true, plane), 0.05)
    far = np.array([[-900.0, -600], [900, 600], [-900, 600]])
    away = apply_homography(np.linalg.inv(fit.homography), to_pixels(true, far)) - far
    assert np.abs(away).max() < 9.0


@given(st.floats(5, 75), st.floats(0, 360), st.floats(0.55, 1.1))
@settings(max_examples=30, deadline=None)
def test_how_far_aslant_a_camera_looks_is_told_by_its_view(tilt: float, azimuth: float, focal: float) -> None:
    plane = np.array([[-200.0, -150], [200, -150], [200, 150], [-200, 150]])
    fit = fit_of(plane, to_pixels(seen_from(tilt, azimuth, focal), plane), 1e-3, focal=None)
    exact = CameraFit(
        homography_of(plane, to_pixels(seen_from(tilt, azimuth, focal), plane)), np.zeros((0, 3, 3)), 0.0
    )
    assert exact.tilt(SIZE) == pytest.approx(tilt, abs=0.5)
    assert fit.tilt(SIZE) == pytest.approx(tilt, abs=12.0)


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
            (fit_of(plane, seen, 0.15).homography, believed),
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
        fit = fit_of(plane, seen, standard_error, lines=(0.0, 1e-5))
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
    square = np.array([[0, 0], [150, 0], [150, 150], [0, 150.0]])
    fit = fit_camera([SheetView(square, seen, 0.1) for seen in squares], SIZE)
    found = fit.sheets
    assert found is not None
    apart = np.hypot(*(found[2].mean(axis=0) - found[0].mean(axis=0)))
    truth = np.hypot(*(laid[2].mean(axis=0) - laid[0].mean(axis=0)))
    assert apart == pytest.approx(truth, rel=0.004)
    assert fit.residual < 0.3


def test_the_stated_error_knows_that_sides_of_several_sheets_are_off_alike() -> None:
    true = seen_from(20, 130)
    hide = np.array([[-900.0, -600], [900, -600], [900, 600], [-900, 600]])
    places = [(-850, -650, 4.0), (830, -660, -9.0), (850, 640, 12.0), (-840, 655, 3.0)]
    views = []
    for x, y, turn in places:
        plane = rectangle(x, y, 297, 210, turn)
        seen, sides = bent_sides(true, plane, 0.0)
        # As wide of the truth as shadows beside sheets put them: 0.083 pixels where a corner is told to 0.12.
        outward = [seen[j] - seen[j - 1] for j in range(4)]
        moved = tuple(
            side + 0.083 * np.array([-way[1], way[0]]) / np.hypot(*way)
            for side, way in zip(sides, np.roll(outward, -1, axis=0), strict=True)
        )
        views.append(SheetView(rectangle(0, 0, 297, 210, 0), seen, 0.12, moved))
    fit = fit_camera(views, SIZE)
    found = fit.floor_of(to_pixels(true, hide))
    off = abs(area(found) / area(hide) - 1)
    stated = fit.standard_error(
        [area(each) / area(found) - 1 for each in fit.sampled_floors_of(to_pixels(true, hide))]
    )
    assert 0.0005 < off < 2 * stated
    assert stated < 0.002


def test_points_that_a_stone_moves_together_tell_less_of_a_side_than_as_many_by_themselves() -> None:
    seen = to_pixels(seen_from(20, 130), rectangle(0, 0, 297, 210, 0))
    t = np.linspace(0.05, 0.95, 40)[:, None]
    rng = np.random.default_rng(2)
    together = np.repeat(0.3 * rng.standard_normal((4, 10)), 4, axis=1)
    apart = rng.permuted(together, axis=1)

    def told(off: np.ndarray) -> float:
        sides = [seen[j] + t * (seen[(j + 1) % 4] - seen[j]) for j in range(4)]
        moved = tuple(side + along[:, None] * [0.6, 0.8] for side, along in zip(sides, off, strict=True))
        errors = _Sides.of([SheetView(rectangle(0, 0, 297, 210, 0), seen, 0.12, moved)]).errors
        return float(np.sqrt((errors[:, 1] ** 2).mean()))

    assert told(together) > 1.3 * told(apart)


def bent_sides(true: np.ndarray, plane: np.ndarray, k: float) -> tuple[np.ndarray, tuple[np.ndarray, ...]]:
    """Corners and points along the sides of a sheet as a lens with distortion k shows them."""
    lens = RadialDistortion(k, ((SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2), float(np.hypot(*SIZE)) / 2)
    t = np.linspace(0.05, 0.95, 16)[:, None]
    sides = [plane[j] + t * (plane[(j + 1) % 4] - plane[j]) for j in range(4)]
    return lens.distort(to_pixels(true, plane)), tuple(lens.distort(to_pixels(true, side)) for side in sides)


@pytest.mark.parametrize("k", [-0.08, -0.03, 0.0, 0.05])
def test_the_lens_is_read_from_the_sides_of_a_sheet_far_from_the_middle(k: float) -> None:
    plane = np.array([[500, 250], [920.0, 250], [920, 547], [500, 547]])
    true = seen_from(20, 130)
    seen, sides = bent_sides(true, plane, k)
    fit = fit_camera([SheetView(plane, seen, 0.2, sides)], SIZE)
    assert fit.lens is not None
    assert fit.lens.k == pytest.approx(k, abs=0.012)
    hide = np.array([[-900.0, -600], [450, -600], [450, 600], [-900, 600]])
    assert fit.distortion_samples is not None
    assert np.std(fit.distortion_samples) > 0
    lens = RadialDistortion(k, fit.lens.centre, fit.lens.radius)
    back = fit.floor_of(lens.distort(to_pixels(true, hide)))
    assert np.abs(back - hide).max() < 25


def test_lines_of_the_floor_settle_the_lens() -> None:
    plane = np.array([[500, 250], [710.0, 250], [710, 547], [500, 547]])
    seen, _ = bent_sides(seen_from(20, 130), plane, -0.06)
    told = fit_of(plane, seen, 0.2, lines=(-0.06, 0.0025))
    assert told.lens is not None
    assert told.lens.k == pytest.approx(-0.06, abs=0.003)
    alone = fit_of(plane, seen, 0.2)
    assert alone.distortion_samples is not None
    assert told.distortion_samples is not None
    assert np.std(told.distortion_samples) < 0.3 * np.std(alone.distortion_samples)


def test_sheets_that_no_camera_explains_are_told_by_their_misfit() -> None:
    # One of them is seen from behind: all but infinitely far away, where sheets shrink to nothing, both would "fit".
    plane = np.array([[0.0, 0.0], [210.0, 0.0], [210.0, 297.0], [0.0, 297.0]])
    corners = [
        [
            (1445.0962838718085, 1155.510903727336),
            (2034.5703650948026, 1351.415001627985),
            (2169.943753436907, 1285.2277429788792),
            (1478.011038284977, 1056.753321907003),
        ],
        [
            (334.7211878803161, 885.8365117588656),
            (470.9899477749201, 1574.2118434406123),
            (943.6804728798005, 1517.6532344303068),
            (808.2773806801865, 794.4164911286064),
        ],
    ]
    # To full precision: from rounded corners the fit happens to end elsewhere.
    t = np.linspace(0.05, 0.95, 16)[:, None]
    views = []
    for seen in np.array(corners):
        sides = tuple(seen[j] + t * (seen[(j + 1) % 4] - seen[j]) for j in range(4))
        views.append(SheetView(plane, seen, 0.15, sides))
    fit = fit_camera(views, (2560, 1920))
    assert 1000.0 < fit.misfit < np.inf
    assert sum(fit.chances) == pytest.approx(1.0)
    assert np.isfinite(fit.homography_samples).all()


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
    outline = invented_outline("skin", 1)[::50]
    ours = RadialDistortion(-0.1, (999.5, 749.5), 1250.0)
    assert ours.undistort(Lens(-0.1, 999.5, 749.5, 1250.0).apply(outline)) == pytest.approx(outline, abs=1e-6)
