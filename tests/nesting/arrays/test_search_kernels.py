"""Passes: an end that is told, weights that grow where shapes overlap, and the best poses kept."""

from __future__ import annotations

import numpy as np
import pytest

from nestplan.nesting.arrays.entry_kernels import find_best_candidate, run_passes
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.arrays.records import ITEMS_DUE, POSES_JUDGED
from nestplan.nesting.arrays.search_kernels import (
    FEASIBLE,
    SPENT,
    STUCK,
    begin_run,
    changed_steps,
    move_along,
    weight_after,
)
from tests.nesting.arrays.small_problems import layout


def piled(ells: int) -> Layout:
    """L-shapes all at one place."""
    on = layout(ells=ells, bars=0)
    for item in range(ells):
        on.place(item, on.shape_pose(item, 100.0, 100.0, 0.0))
    begin_run(on.state)
    return on


def test_a_run_ends_when_nothing_overlaps():
    on = piled(4)
    assert run_passes(on.records, 20, 10, 1_000_000, 100) == FEASIBLE
    assert on.feasible()


def test_a_run_ends_when_its_poses_are_spent_and_goes_on_when_called_again():
    on = piled(6)
    assert run_passes(on.records, 20, 10, 50, 100) == SPENT
    assert on.state.counters[POSES_JUDGED] >= 50
    assert on.state.counters[ITEMS_DUE] > 0
    assert run_passes(on.records, 20, 10, 2_000_000, 100) == FEASIBLE


def test_a_run_without_gain_is_stuck_and_returns_to_its_best_poses():
    on = piled(25)
    assert run_passes(on.records, 10, 5, 10_000_000, 10) == STUCK
    on.back_to_best()
    assert on.total_loss() == pytest.approx(float(on.state.best_loss[0]), rel=1e-4)


def test_pairs_that_overlap_gain_weight():
    on = piled(25)
    run_passes(on.records, 10, 5, 20_000, 100)
    assert on.state.pair_weight.max() > 1.0
    assert on.state.pair_weight.min() == 1.0
    assert np.array_equal(on.state.pair_weight, on.state.pair_weight.T)


def test_the_best_candidate_for_a_lone_item_has_no_loss():
    on = layout()
    place = find_best_candidate(on.records, 0, 60, 10)
    assert on.state.candidates[place, 0] == 0.0


def test_a_weight_grows_by_its_share_of_the_worst_and_decays_to_one():
    assert weight_after.py_func(1.0, 5.0, 5.0) == pytest.approx(2.0)
    assert weight_after.py_func(1.0, 1e-9, 5.0) == pytest.approx(1.2)
    assert weight_after.py_func(2.0, 0.0, 5.0) == pytest.approx(1.9)
    assert weight_after.py_func(1.01, 0.0, 5.0) == 1.0


def test_a_step_is_halved_after_a_failure_along_its_own_axis_only():
    assert changed_steps.py_func(0, False, (8.0, 8.0, 5.0)) == (4.0, 8.0, 5.0)
    assert changed_steps.py_func(4, False, (8.0, 8.0, 5.0)) == (8.0, 8.0, 2.5)
    assert changed_steps.py_func(1, True, (8.0, 8.0, 5.0)) == pytest.approx((8.0, 8.8, 5.0))
    both = changed_steps.py_func(2, False, (8.0, 8.0, 5.0))
    assert both[0] == both[1] == pytest.approx(8.0 * 0.5**0.5)


def test_the_axes_are_across_up_two_diagonals_and_the_turn():
    assert [move_along.py_func(axis, 10.0, 10.0, 3.0) for axis in range(5)] == [
        (10.0, 0.0, 0.0),
        (0.0, 10.0, 0.0),
        (7.0, 7.0, 0.0),
        (7.0, -7.0, 0.0),
        (0.0, 0.0, 3.0),
    ]
