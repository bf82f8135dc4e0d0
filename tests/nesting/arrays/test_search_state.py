"""How a search begins."""

from __future__ import annotations

import numpy as np

from nestplan.nesting.arrays.packing import pack
from nestplan.nesting.arrays.search_state import empty_rows, fresh_state
from tests.nesting.arrays.small_problems import FIELD, HALVES, problem


def test_nothing_is_placed_and_all_items_are_movable():
    asked = problem()
    state = fresh_state(asked, pack(asked).shapes, 1)
    assert (state.field == -1).all()
    assert state.movable.all()
    assert (state.pair_weight == 1.0).all()
    assert np.isinf(state.limit[:, 2]).all()


def test_fixed_rings_are_bodies_that_do_not_move():
    plain = problem()
    square = np.array([[50.0, 50.0], [80.0, 50.0], [80.0, 80.0], [50.0, 80.0]])
    asked = type(plain)(plain.fields, plain.items, ((0, square),))
    state = fresh_state(asked, pack(asked).shapes, 1)
    assert state.movable.tolist() == [True] * 4 + [False]


def test_every_variant_has_a_row_that_holds_it_turned():
    asked = problem(turns=HALVES)
    shapes = pack(asked).shapes
    rows = fresh_state(asked, shapes, 1).rows
    first = len(asked.items) + 2
    assert rows.shape[first:].tolist() == [0, 0, 1, 1]
    assert rows.angle[first:].tolist() == [0.0, 180.0, 0.0, 180.0]


def test_seeds_that_differ_little_give_generators_that_differ_much():
    shapes = pack(problem()).shapes
    starts = {int(fresh_state(problem(), shapes, seed).random_state[0]) for seed in range(20)}
    assert len(starts) == 20
    assert min(abs(a - b) for a in starts for b in starts if a != b) > 2**40


def test_a_fields_grid_covers_its_box():
    asked = problem()
    state = fresh_state(asked, pack(asked).shapes, 1)
    left, bottom, across, up = state.grid[0]
    rows, columns = state.cell_bodies.shape[1:3]
    x0, y0, x1, y1 = FIELD.bounds
    assert (left, bottom) == (x0, y0)
    assert columns / across >= x1 - x0 - 1e-9
    assert rows / up >= y1 - y0 - 1e-9


def test_empty_rows_hold_no_shape():
    rows = empty_rows(pack(problem()).shapes, 3)
    assert rows.shape.tolist() == [-1, -1, -1]
    assert rows.corner_x.shape[0] == 3
