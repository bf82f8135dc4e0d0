"""Attempts side by side: success is followed by all, failure is undone."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import shapely

from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.search.insertion import inserting
from nestplan.nesting.search.parallel import ParallelSearch
from tests.nesting.search.boxes_and_bars import laid


def test_an_attempt_that_cannot_succeed_leaves_all_as_it_was():
    layout = laid(2, shapely.box(0, 0, 135, 105))
    before = layout.poses()
    out = np.flatnonzero(~layout.placed()).tolist()
    with ThreadPoolExecutor(2) as pool:
        team = ParallelSearch(layout, SearchBudget(passes=3), pool)
        assert not team.attempt(inserting(out), 3)
    assert np.array_equal(layout.poses().x, before.x)
    assert layout.feasible()


def test_a_change_that_cannot_be_tried_fails_and_counts_as_a_pass():
    layout = laid(2, shapely.box(0, 0, 400, 300))
    budget = SearchBudget(passes=3)
    with ThreadPoolExecutor(2) as pool:
        search = ParallelSearch(layout, budget, pool)
        assert not search.attempt(lambda layout, rng: False, 5)
    assert budget.progress.passes == 1


def test_all_follow_the_first_that_succeeds():
    layout = laid(4, shapely.box(0, 0, 420, 300))
    layout.lift(0)
    with ThreadPoolExecutor(2) as pool:
        search = ParallelSearch(layout, SearchBudget(passes=10), pool)
        assert search.attempt(inserting([0]), 10)
    assert layout.placed()[0]
    assert layout.feasible()
    assert np.array_equal(search.best.x, layout.snapshot().x)
