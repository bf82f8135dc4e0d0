"""Gathering: offcuts never get smaller."""

from __future__ import annotations

import pytest
import shapely

from nestplan.nesting.budget import SearchBudget
from nestplan.nesting.search import offcut_gathering
from nestplan.nesting.search.offcut_gathering import free_area, gather_fields, largest_offcut
from tests.nesting.search.boxes_and_bars import laid


def test_gathering_never_makes_the_largest_offcut_smaller():
    field = shapely.box(0, 0, 700, 300)
    layout = laid(8, field)
    before = largest_offcut(layout, 0, 40.0)
    gather_fields(layout, [[(1.0, 0.0), (-1.0, 0.0)]], 40.0, SearchBudget(passes=12), seed=2)
    assert largest_offcut(layout, 0, 40.0) >= before
    assert layout.feasible()
    assert layout.placed().all()


def test_the_free_area_of_a_field_is_what_nothing_lies_on():
    layout = laid(2, shapely.box(0, 0, 700, 300), shapely.box(0, 0, 200, 100))
    assert layout.placed().all()
    on = layout.fields()
    taken = sum({0: 3600.0, 1: 3900.0}[kind % 2] for kind in range(4) if on[kind] == 0)
    assert free_area(layout, 0) == pytest.approx(700.0 * 300.0 - taken)


def test_the_rounds_go_to_the_fields_by_what_is_free_on_them(monkeypatch):
    layout = laid(8, shapely.box(0, 0, 300, 200), shapely.box(0, 0, 700, 300))
    assert set(layout.fields().tolist()) == {0, 1}
    rounds = {0: 0, 1: 0}

    def only_counted(layout, direction, *, share, **_):
        while share(rounds[direction.field]) < 1.0:
            rounds[direction.field] += 1

    monkeypatch.setattr(offcut_gathering, "gather", only_counted)
    gather_fields(layout, [[(1.0, 0.0)], [(1.0, 0.0)]], 40.0, SearchBudget(passes=40), seed=2)
    free = [free_area(layout, field) for field in (0, 1)]
    assert sum(rounds.values()) == pytest.approx(40, abs=2)
    assert rounds[0] == pytest.approx(40.0 * free[0] / sum(free), abs=2)
