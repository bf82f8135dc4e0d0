"""Gathering: offcuts never get smaller."""

from __future__ import annotations

import shapely

from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.search.offcut_gathering import gather_fields, largest_offcut
from tests.nesting.search.boxes_and_bars import laid


def test_gathering_never_makes_the_largest_offcut_smaller():
    field = shapely.box(0, 0, 700, 300)
    layout = laid(8, field)
    before = largest_offcut(layout, 0, 40.0)
    gather_fields(layout, [[(1.0, 0.0), (-1.0, 0.0)]], 40.0, SearchBudget(passes=12), seed=2)
    assert largest_offcut(layout, 0, 40.0) >= before
    assert layout.feasible()
    assert layout.placed().all()
