"""Poses from a pool, and the one among them that overlaps others least."""

from __future__ import annotations

import numpy as np

from nestplan.nesting.arrays.ejection_kernels import cheapest_pose
from nestplan.nesting.arrays.entry_kernels import fill_pool
from nestplan.nesting.arrays.records import PosePool
from tests.nesting.arrays.small_problems import layout


def with_pool(on, tries=60):
    """A layout of which nothing lies yet, with a pool for each option."""
    count = len(on.options.field)
    pool = PosePool(np.arange(count), np.zeros((count, 40, 3)), np.zeros(count, np.int64))
    for item in range(on.item_count):
        for option in on.options_of(item):
            fill_pool(on.records, pool, item, option, tries)
    on.state = on.state._replace(pool=pool)
    return on


def test_a_pool_holds_poses_that_the_areas_allow_and_no_more_than_its_size():
    on = with_pool(layout(ells=1, bars=1))
    pool = on.state.pool
    assert (pool.known > 0).all()
    for item in range(on.item_count):
        for option in on.options_of(item):
            for x, y, angle in pool.pose[pool.pool_of[option], : min(pool.known[option], 40)]:
                pose = on.pose_of(item)._replace(option=option, x=x, y=y, angle=angle)
                assert on.loss_at(item, pose) == 0.0


def test_the_cheapest_pose_is_free_where_there_is_room_and_costs_what_it_overlaps_elsewhere():
    on = with_pool(layout(ells=2, bars=0))
    worth = np.full(on.state.field.shape[0], 5.0)
    assert cheapest_pose(*on.records, 0, worth, 200) == 0.0
    _, option, x, y, angle = on.state.candidates[0].tolist()
    on.place(0, on.pose_of(0)._replace(option=int(option), x=x, y=y, angle=angle))
    assert on.feasible()
    pool = on.state.pool
    pool.pose[:, :] = (x, y, angle)
    assert cheapest_pose(*on.records, 1, worth, 50) > 5.0


def test_no_pose_is_found_where_every_hide_is_closed():
    on = with_pool(layout(ells=1, bars=0))
    on.state.open_field[:] = False
    assert cheapest_pose(*on.records, 0, np.ones(on.state.field.shape[0]), 50) == np.inf
