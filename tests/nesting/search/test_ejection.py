"""Chains of moves: what waits finds a place in the end, what is closed stays empty, and the seed decides."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import shapely

from nestplan.nesting.arrays.search_kernels import FEASIBLE, SPENT
from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.search import ejection
from nestplan.nesting.search.ejection import EjectionRun, EjectionStart, with_pool
from nestplan.nesting.search.insertion import insert_by_chains
from tests.nesting.search.boxes_and_bars import laid, targets_of


def started(layout, waiting, fields, seed=1):
    """A run in which some items wait, on the fields that are open."""
    for item in waiting:
        layout.lift(item)
    with ThreadPoolExecutor(2) as pool:
        with_pool(layout, pool, seed=seed)
    size = np.array([shapely.Polygon(item.ring).area for item in layout.problem.items])
    start = EjectionStart(layout.snapshot(), waiting, np.array(fields), size)
    return EjectionRun(layout.copy(seed=seed), start, seed=(seed, 0))


def test_every_pose_of_a_pool_is_one_that_the_areas_allow():
    layout = laid(2, shapely.box(0, 0, 300, 200).difference(shapely.box(100, 80, 130, 110)))
    for item in range(layout.item_count):
        layout.lift(item)
    with ThreadPoolExecutor(2) as pool:
        with_pool(layout, pool, seed=3)
    poses = layout.state.pool
    assert (poses.known > 0).all()
    for item in range(layout.item_count):
        (option,) = layout.options_of(item)
        which = poses.pool_of[option]
        for x, y, angle in poses.pose[which, : poses.known[which]]:
            assert (
                layout.loss_at(item, layout.pose_of(item)._replace(option=option, x=x, y=y, angle=angle))
                == 0.0
            )


def test_what_lies_on_a_closed_hide_finds_a_place_on_the_open_one():
    layout = laid(8, shapely.box(0, 0, 420, 300), shapely.box(0, 0, 420, 300))
    waiting = np.flatnonzero(layout.fields() != 0).tolist() or [0, 1]
    run = started(layout, waiting, [True, False])
    assert run.advance(150_000) == FEASIBLE
    assert (run.layout.fields() == 0).all()
    assert run.layout.feasible()
    assert run.least_waiting == 0.0


def test_more_than_the_leather_holds_keeps_waiting_and_overlaps_nothing():
    layout = laid(4, shapely.box(0, 0, 200, 150))
    waiting = np.flatnonzero(~layout.placed()).tolist()
    assert waiting
    run = started(layout, waiting, [True])
    assert run.advance(20_000) == SPENT
    assert run.waiting
    assert run.layout.feasible()
    assert sorted([*run.waiting, *np.flatnonzero(run.layout.placed())]) == list(range(8))


def test_a_run_without_gain_goes_back_to_where_least_waited(monkeypatch):
    monkeypatch.setattr(ejection, "STEPS_WITHOUT_GAIN", 3)
    layout = laid(4, shapely.box(0, 0, 200, 150))
    run = started(layout, np.flatnonzero(~layout.placed()).tolist(), [True])
    least = run.least_waiting
    for _ in range(4):
        run.advance(8_000)
        assert run.layout.feasible()
        assert sorted([*run.waiting, *np.flatnonzero(run.layout.placed())]) == list(range(8))
    assert run.least_waiting <= least


def test_the_same_seed_goes_the_same_way_however_it_is_cut_into_rounds():
    ends = []
    for _ in range(2):
        layout = laid(5, shapely.box(0, 0, 260, 190))
        run = started(layout, np.flatnonzero(~layout.placed()).tolist() or [0], [True])
        for _ in range(2):
            run.advance(8_000)
        ends.append((list(run.waiting), run.layout.poses().x.tolist()))
    assert ends[0] == ends[1]


def test_a_run_told_to_halt_leaves_all_without_overlap():
    layout = laid(4, shapely.box(0, 0, 200, 150))
    run = started(layout, np.flatnonzero(~layout.placed()).tolist(), [True])
    run.halt()
    before = run.layout.poses().x.tolist()
    assert run.advance(20_000) == SPENT
    assert run.layout.poses().x.tolist() == before
    run.resume()
    run.advance(5_000)
    assert run.layout.feasible()


def test_what_the_sets_lack_is_brought_in_over_several_hides():
    layout = laid(6, shapely.box(0, 0, 300, 200), shapely.box(0, 0, 300, 200))
    for item in (0, 1, 2):
        layout.lift(item)
    better: list[int] = []
    with ThreadPoolExecutor(2) as pool:
        budget = SearchBudget(passes=10)
        insert_by_chains(
            layout,
            targets_of(layout),
            budget,
            pool,
            1.0,
            on_improved=lambda: better.append(int(layout.placed().sum())),
        )
    assert layout.placed().all()
    assert layout.feasible()
    assert better[-1] == 12
