"""What was seen to lie together at different times is put together: never with overlap, and no item twice."""

from __future__ import annotations

import numpy as np
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from nestplan.nesting.search.seen_together import SHARE_OF_DENSEST, SeenTogether

SIDE, KINDS = 10.0, (0, 0, 1, 1, 2)


def _layout() -> Layout:
    """Five squares of three kinds, none placed, and three fields of three squares side by side."""
    fields = tuple(shapely.box(0.0, 0.0, 3.2 * SIDE, 1.2 * SIDE) for _ in range(3))
    ring = np.array([(0.0, 0.0), (SIDE, 0.0), (SIDE, SIDE), (0.0, SIDE)])
    items = tuple(
        Item(
            ring,
            kind,
            tuple(
                PlacementOption(number, Turns.any(), (Containment(ring, field),))
                for number, field in enumerate(fields)
            ),
        )
        for kind in KINDS
    )
    return Layout(Problem(fields, items), seed=1)


def _lay(layout: Layout, where: dict[int, tuple[int, int]]) -> None:
    """Let the given items lie at (field, place from 0 to 2), and no other."""
    for item in range(layout.item_count):
        layout.lift(item)
    for item, (field, place) in where.items():
        option = layout.options_of(item)[field]
        layout.place(item, layout.shape_pose(option, 0.5 + 1.05 * SIDE * place, 1.0, 0.0))
    assert layout.feasible()


def test_sets_of_different_moments_hold_together_what_no_moment_held():
    layout = _layout()
    seen = SeenTogether(layout, np.full(5, SIDE**2))
    _lay(layout, {0: (0, 0), 1: (0, 1), 2: (1, 0)})
    seen.note(layout)
    _lay(layout, {0: (0, 0), 2: (1, 0), 3: (1, 1), 4: (1, 2)})
    seen.note(layout)
    poses, waiting = seen.put_together(np.arange(5), np.arange(3), np.random.default_rng(1))
    assert waiting == []
    layout.restore(poses)
    assert layout.placed().all()
    assert layout.feasible()
    assert layout.fields().tolist() == [0, 0, 1, 1, 1]


def test_only_what_is_wanted_is_laid_and_only_on_the_fields_given():
    layout = _layout()
    seen = SeenTogether(layout, np.full(5, SIDE**2))
    _lay(layout, {0: (0, 0), 1: (0, 1), 2: (1, 0), 4: (1, 1)})
    seen.note(layout)
    poses, waiting = seen.put_together(np.array([1, 2]), np.array([0]), np.random.default_rng(1))
    assert waiting == [2]
    assert (poses.option >= 0).tolist() == [False, True, False, False, False]


def test_much_thinner_sets_than_the_densest_of_a_field_are_forgotten():
    layout = _layout()
    seen = SeenTogether(layout, np.array([1.0, 1.0, 1.0, 1.0, 100.0]))
    _lay(layout, {4: (0, 0)})
    seen.note(layout)
    _lay(layout, {0: (0, 0)})
    seen.note(layout)
    assert SHARE_OF_DENSEST > 0.01
    _, waiting = seen.put_together(np.array([0]), np.array([0]), np.random.default_rng(1))
    assert waiting == [0]


@given(st.lists(st.dictionaries(st.integers(0, 4), st.integers(0, 2), max_size=5), min_size=1, max_size=6))
def test_whatever_was_seen_is_put_together_without_overlap_and_at_least_as_well(moments):
    layout = _layout()
    seen = SeenTogether(layout, np.full(5, SIDE**2))
    most = 0
    for moment in moments:
        taken: dict[int, int] = {}
        where = {}
        for item, field in sorted(moment.items()):
            if taken.get(field, 0) < 3:
                where[item] = (field, taken.get(field, 0))
                taken[field] = taken.get(field, 0) + 1
        _lay(layout, where)
        seen.note(layout)
        most = max(most, *taken.values(), 0) if taken else most
    poses, waiting = seen.put_together(np.arange(5), np.arange(3), np.random.default_rng(1))
    layout.restore(poses)
    assert layout.feasible()
    placed = np.flatnonzero(layout.placed()).tolist()
    assert sorted([*placed, *waiting]) == [0, 1, 2, 3, 4]
    assert len(placed) >= most
