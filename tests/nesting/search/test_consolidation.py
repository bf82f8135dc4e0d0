"""Consolidating: hides are left empty, and offcuts never get smaller."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import shapely

from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.search.consolidation import empty_fields, gather_fields, largest_offcut
from nestplan.nesting.search.insertion import place_poses
from tests.nesting.search.boxes_and_bars import laid


def test_a_hide_that_the_others_can_take_over_is_left_empty():
    fields = (shapely.box(0, 0, 420, 300), shapely.box(0, 0, 420, 300))
    layout = laid(8, *fields)
    poses = layout.poses()
    poses.field[:2] = -1
    place_poses(layout, poses)
    for item in (0, 1):
        (spot,) = [layout.shape_pose(layout.options_of(item)[1], 50.0 + 150.0 * item, 50.0, 0.0)]
        layout.place(item, spot)
    assert set(layout.poses().field.tolist()) == {0, 1}
    with ThreadPoolExecutor(2) as pool:
        empty_fields(layout, [1.0, 1.0], SearchBudget(passes=20), pool)
    assert len(set(layout.poses().field.tolist())) == 1
    assert layout.placed().all()
    assert layout.feasible()


def test_gathering_never_makes_the_largest_offcut_smaller():
    field = shapely.box(0, 0, 700, 300)
    layout = laid(8, field)
    before = largest_offcut(layout, 0, 40.0)
    gather_fields(layout, [[(1.0, 0.0), (-1.0, 0.0)]], 40.0, SearchBudget(passes=12), seed=2)
    assert largest_offcut(layout, 0, 40.0) >= before
    assert layout.feasible()
    assert layout.placed().all()
