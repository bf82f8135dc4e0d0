"""What Python asks of the kernels of the search is what they give."""

from __future__ import annotations

import math

import numpy as np
import pytest

from nestplan.nesting.arrays.entry_kernels import fill_pool, find_best_candidate, pose_loss, run_passes
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.arrays.records import POSES_JUDGED, PosePool
from nestplan.nesting.arrays.search_kernels import FEASIBLE, SPENT, begin_run
from tests.nesting.arrays.small_problems import layout


def two_at_one_place() -> Layout:
    on = layout(ells=2, bars=0)
    for item in range(2):
        on.place(item, on.shape_pose(item, 100.0, 100.0, 0.0))
    return on


def test_a_pose_is_judged_as_it_is_recorded_once_it_is_taken():
    on = two_at_one_place()
    judged = pose_loss(on.records, 0, on.pose_of(0), math.inf)
    assert judged == pytest.approx(on.total_loss(), rel=1e-6)
    assert on.state.counters[POSES_JUDGED] == 1


def test_the_candidate_found_is_the_best_of_those_kept_and_as_many_poses_as_asked_were_drawn():
    on = two_at_one_place()
    best = find_best_candidate(on.records, 0, 60, 10)
    assert on.state.candidates[best, 0] == on.state.candidates[:, 0].min() == 0.0
    assert on.state.counters[POSES_JUDGED] >= 70


def test_a_run_says_how_it_ended():
    on = two_at_one_place()
    begin_run(on.state)
    assert run_passes(on.records, 5, 5, 0, 100) == SPENT
    assert run_passes(on.records, 50, 20, 1_000_000, 100) == FEASIBLE


def test_poses_go_into_the_pool_given_and_not_into_the_one_at_hand():
    on = layout(ells=1, bars=0)
    count = len(on.options.field)
    pool = PosePool(np.zeros(count, np.int64), np.zeros((1, 16, 3)), np.zeros(1, np.int64))
    known = fill_pool(on.records, pool, 0, 0, 20)
    assert known == pool.known[0] > 0
    assert len(on.state.pool.known) == 0
