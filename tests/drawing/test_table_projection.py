"""A projector over a table: calibration from four corners."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.drawing.table_projection import calibrate, check_square, fit_homography
from nestplan.errors import InputError

CORNERS = np.array(((210.0, 900.0), (1700.0, 940.0), (1610.0, 160.0), (280.0, 120.0)))


shift = st.floats(-100.0, 100.0)


@given(st.lists(st.tuples(shift, shift), min_size=4, max_size=4), st.floats(300, 3000), st.floats(300, 2000))
def test_the_corners_are_met_to_a_small_part_of_a_pixel(
    moves: list[tuple[float, float]], width: float, height: float
) -> None:
    corners = CORNERS + np.array(moves)
    found = calibrate(corners, width, height)
    table = np.array(((0.0, 0.0), (width, 0.0), (width, height), (0.0, height)))
    assert np.abs(found.pixels(table) - corners).max() < 1e-6
    assert found.error < 0.5
    assert np.abs(found.table(found.pixels(table)) - table).max() < 1e-6


def test_more_than_four_points_are_fitted_in_the_least_squares_sense() -> None:
    truth = calibrate(CORNERS, 1000.0, 600.0)
    grid = np.array([(x, y) for x in range(0, 1001, 200) for y in range(0, 601, 150)], dtype=float)
    noise = np.random.default_rng(3).normal(0.0, 0.2, grid.shape)
    matrix = fit_homography(grid, truth.pixels(grid) + noise)
    pixels = np.column_stack((grid, np.ones(len(grid)))) @ matrix.T
    assert np.abs(pixels[:, :2] / pixels[:, 2:] - truth.pixels(grid)).max() < 0.5


@pytest.mark.parametrize(
    "corners",
    [
        [(0, 0), (10, 0), (20, 0), (0, 10)],
        [(0, 10), (10, 0), (10, 10), (0, 0)],
        [(0, 0), (10, 0), (10, 10)],
        [(0, 0), (10, 0), (float("nan"), 10), (0, 10)],
        [(0, 0), (10, 0), (2, 2), (0, 10)],
    ],
)
def test_corners_that_are_no_rectangle_seen_at_a_slant_are_refused(
    corners: list[tuple[float, float]],
) -> None:
    with pytest.raises(InputError):
        calibrate(np.array(corners), 100.0, 100.0)


@pytest.mark.parametrize("size", [(0.0, 10.0), (10.0, -1.0), (float("inf"), 10.0)])
def test_a_rectangle_without_a_size_is_refused(size: tuple[float, float]) -> None:
    with pytest.raises(InputError, match="above zero"):
        calibrate(CORNERS, *size)


def test_the_check_square_has_its_side() -> None:
    assert np.hypot(*np.diff(check_square(500.0), axis=0).T).tolist() == [500.0] * 3
