"""Which hides to use: choices that cost less and may hold all, and the fewest that any plan needs."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from nestplan.geometry.pose import Turns
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from nestplan.nesting.search.hide_choice import HideChoices
from nestplan.yields.bounds import fewest_rooms


def boxes(*widths: float) -> tuple[shapely.Polygon, ...]:
    return tuple(shapely.box(0, 0, width, 100) for width in widths)


def choices(fields, sizes, costs, needed=frozenset(), only=None):
    """Items of some sizes (mm wide, 100 mm high), on all fields or on those in `only`."""
    items = []
    for kind, width in enumerate(sizes):
        ring = np.array([[0.0, 0.0], [width, 0.0], [width, 100.0], [0.0, 100.0]])
        allowed = range(len(fields)) if only is None else only[kind]
        options = [PlacementOption(f, Turns.any(), (Containment(ring, fields[f]),)) for f in allowed]
        items.append(Item(ring, kind, tuple(options)))
    return HideChoices.of(Problem(fields, tuple(items)), np.ones(len(items), bool), np.array(costs), needed)


def test_every_cheaper_choice_with_room_is_named_the_roomiest_first():
    found = choices(boxes(100, 200, 300), [90], [1.0, 1.0, 1.0])
    assert found.cheaper(frozenset({0, 1, 2}))[0] == {1, 2}
    assert found.cheaper(frozenset({0, 1}))[:3] == [{2}, {1}, {0}]
    assert found.cheaper(frozenset({2})) == []


def test_dear_hides_are_exchanged_for_cheap_ones():
    found = choices(boxes(100, 100, 100), [80], [5.0, 1.0, 1.0])
    assert found.cheaper(frozenset({0})) == [{1}, {2}, {1, 2}] or set(found.cheaper(frozenset({0}))) == {
        frozenset({1}), frozenset({2}), frozenset({1, 2})
    }  # fmt: skip


def test_choices_without_room_or_without_what_is_needed_are_not_named():
    found = choices(boxes(100, 100, 100), [90, 90], [1.0, 1.0, 1.0], needed=frozenset({2}))
    assert set(found.cheaper(frozenset({0, 1, 2}))) == {frozenset({0, 2}), frozenset({1, 2})}


def test_pieces_that_may_lie_on_some_hides_only_need_room_there():
    found = choices(boxes(100, 100, 300), [90, 90], [1.0, 1.0, 1.0], only=[[0, 1], [0, 1]])
    assert found.density(frozenset({0, 2})) == pytest.approx(1.8)
    assert fewest_rooms(90 + 90, [100, 100]) == 2


def test_the_fewest_hides_are_counted_from_the_largest_down():
    assert fewest_rooms(150 + 140, [100, 200, 300]) == 1
    assert fewest_rooms(150 + 151, [100, 200, 300]) == 2


def test_of_many_hides_those_with_one_fewer_are_named_and_the_roomiest():
    widths = [100.0 + 10 * k for k in range(12)]
    found = choices(boxes(*widths), [90] * 6, [1.0] * 12)
    now = frozenset(range(8))
    named = found.cheaper(now)
    assert frozenset(range(5, 12)) in named
    assert all(len(choice) < 8 for choice in named)
    assert all(now - {field} in named for field in now)
