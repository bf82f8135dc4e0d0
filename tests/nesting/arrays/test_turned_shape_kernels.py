"""Rows of turned shapes against a turn by numpy."""

from __future__ import annotations

import numpy as np
import pytest

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.packing import pack
from nestplan.nesting.arrays.search_state import empty_rows
from nestplan.nesting.arrays.turned_shape_kernels import (
    EDGES_PER_RUN,
    corner_before,
    cosine_sine,
    filled_up,
    last_of_run,
    turn_discs_and_box,
    turn_outline,
    turn_shape,
)
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from tests.nesting.arrays.small_problems import FIELD, problem


def test_quarter_turns_are_exact_and_others_right():
    assert [cosine_sine(90.0 * k) for k in range(-1, 4)] == [(0, -1), (1, 0), (0, 1), (-1, 0), (0, -1)]
    assert cosine_sine(30.0) == pytest.approx((np.sqrt(0.75), 0.5))


def test_a_row_holds_the_turned_corners_and_discs_with_their_box():
    shapes = pack(problem()).shapes
    rows = empty_rows(shapes, 1)
    turn_shape(shapes, rows, 0, 0, 72.0)
    c, s = np.cos(np.radians(72.0)), np.sin(np.radians(72.0))
    x, y = shapes.corner_x[0, :6], shapes.corner_y[0, :6]
    assert rows.corner_x[0, :6] == pytest.approx(c * x - s * y)
    assert rows.corner_y[0, :6] == pytest.approx(s * x + c * y)
    compared = int(shapes.compared_discs[0])
    assert rows.disc_count[0] == compared
    turned = c * shapes.disc_x[0] - s * shapes.disc_y[0]
    assert rows.disc_x[0, :compared] == pytest.approx(turned[:compared], abs=1e-4)
    assert (rows.disc_radius[0, :compared] == shapes.disc_radius[0, :compared]).all()
    xs, ys = rows.corner_x[0, :6], rows.corner_y[0, :6]
    assert rows.box[0] == pytest.approx([xs.min(), ys.min(), xs.max(), ys.max()])


def test_a_row_that_holds_another_shape_afterwards_holds_nothing_of_the_first():
    shapes = pack(problem()).shapes
    rows, fresh = empty_rows(shapes, 1), empty_rows(shapes, 1)
    turn_shape(shapes, rows, 0, 0, 10.0)
    turn_shape(shapes, rows, 0, 1, 10.0)
    turn_shape(shapes, fresh, 0, 1, 10.0)
    count = int(fresh.corner_count[0])
    assert int(rows.corner_count[0]) == count
    assert np.array_equal(rows.corner_x[0, :count], fresh.corner_x[0, :count])
    assert np.array_equal(rows.box, fresh.box)


def test_each_run_of_edges_lies_in_its_own_box():
    angles = np.arange(50) * 2.0 * np.pi / 50
    star = (
        np.column_stack([np.cos(angles), np.sin(angles)]) * np.where(np.arange(50) % 2, 40.0, 25.0)[:, None]
    )
    item = Item(star, 0, (PlacementOption(0, Turns.any(), (Containment(star, FIELD),)),))
    shapes = pack(Problem((FIELD,), (item,))).shapes
    rows = empty_rows(shapes, 1)
    turn_shape(shapes, rows, 0, 0, 33.0)
    count = int(rows.corner_count[0])
    for edge in range(count):
        box = rows.run_box[0, edge // EDGES_PER_RUN]
        for corner in (corner_before.py_func(edge, count), edge):
            x, y = rows.corner_x[0, corner], rows.corner_y[0, corner]
            assert box[0] <= x <= box[2]
            assert box[1] <= y <= box[3]


def test_the_last_run_may_be_shorter():
    assert last_of_run.py_func(0, 11) == EDGES_PER_RUN
    assert last_of_run.py_func(1, 11) == 11


def test_discs_and_box_are_turned_first_and_the_outline_when_it_is_asked_for():
    shapes = pack(problem()).shapes
    rows, whole = empty_rows(shapes, 1), empty_rows(shapes, 1)
    turn_shape(shapes, whole, 0, 0, 40.0)
    turn_shape(shapes, rows, 0, 0, 10.0)
    turn_discs_and_box(shapes, rows, 0, 0, 40.0)
    assert rows.box[0] == pytest.approx(whole.box[0])
    assert np.array_equal(rows.disc_x, whole.disc_x)
    assert not rows.outlined[0]
    assert not np.array_equal(rows.corner_x, whole.corner_x)
    turn_outline(shapes, rows, 0)
    assert rows.outlined[0]
    assert rows.corner_x == pytest.approx(whole.corner_x)


def test_counts_are_filled_up_to_whole_vectors():
    assert [filled_up.py_func(count) for count in (1, 7, 8, 9)] == [8, 8, 8, 16]
