"""Rings reshaped by hand, as arrays."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LinearRing, Point

from nestplan.geometry.reshape import (
    nearest_spot,
    smoothed,
    straightened,
    thinned,
    with_point,
    without_points,
)

SQUARE = np.array([[0, 0], [100, 0], [100, 100], [0, 100]], dtype=float)


@given(st.floats(-300, 300), st.floats(-300, 300))
def test_the_nearest_spot_is_that_of_geos(x, y):
    edge, spot, distance = nearest_spot(SQUARE, (x, y))
    ring = LinearRing(SQUARE)
    assert distance == pytest.approx(ring.distance(Point(x, y)), abs=1e-9)
    assert ring.distance(Point(spot)) < 1e-9
    assert 0 <= edge < 4


def test_a_point_is_put_in_after_its_edge_and_taken_out_again():
    more = with_point(SQUARE, 3, (0, 50))
    assert more.tolist()[-1] == [0, 50]
    assert without_points(more, {4}).tolist() == SQUARE.tolist()


def test_a_ring_keeps_three_points():
    assert without_points(SQUARE, {0, 1}).tolist() == SQUARE.tolist()


def test_straightening_takes_out_the_points_of_the_shorter_way():
    wavy = np.array([[0, 0], [30, 5], [60, -5], [100, 0], [100, 100], [0, 100]], dtype=float)
    assert straightened(wavy, {0, 3}).tolist() == SQUARE.tolist()
    assert straightened(wavy, {0, 2, 3}).tolist() == SQUARE.tolist()
    assert straightened(wavy, {2}).tolist() == wavy.tolist()


def test_smoothing_named_points_leaves_the_others():
    smooth = smoothed(SQUARE, {1})
    assert smooth[[0, 2, 3]].tolist() == SQUARE[[0, 2, 3]].tolist()
    assert not np.array_equal(smooth[1], SQUARE[1])


def test_a_thinned_line_stays_within_its_tolerance():
    line = np.column_stack((np.linspace(0, 100, 500), 5 * np.sin(np.linspace(0, 9, 500))))
    thin = thinned(line, 0.5)
    assert len(thin) < 60
    assert max(LinearRing([*thin, *thin[::-1]]).distance(Point(at)) for at in line) <= 0.5 + 1e-9
