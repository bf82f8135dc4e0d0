"""Poses drawn by chance: turns that are allowed, and places that may hold the shape."""

from __future__ import annotations

import numpy as np

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.sampling_kernels import can_turn, random_position, random_turn
from tests.nesting.arrays.small_problems import FIELD, HALVES, layout

SOME = Turns.of([(10.0, 40.0), (100.0, 100.0), (200.0, 290.0)])


def test_turns_drawn_anywhere_are_allowed_and_come_from_every_interval():
    on = layout(turns=SOME)
    drawn = np.array([random_turn(on.options, on.state, 0, 0.0, 0.0) for _ in range(400)])
    assert all(SOME.contains(float(angle)) for angle in drawn)
    long = (drawn >= 200.0).mean()
    assert 0.65 < long < 0.85, "three quarters of the measure lie in the long interval"


def test_turns_drawn_nearby_stay_within_the_spread_and_the_interval():
    on = layout(turns=SOME)
    for _ in range(200):
        angle = random_turn(on.options, on.state, 0, 35.0, 10.0)
        assert 25.0 <= angle <= 40.0


def test_a_single_turn_is_drawn_as_it_is():
    on = layout(turns=Turns.of([(90.0, 90.0)]))
    assert random_turn(on.options, on.state, 0, 0.0, 0.0) == 90.0
    assert not can_turn.py_func(on.options, 0)
    assert can_turn.py_func(layout(turns=SOME).options, 0)
    assert not can_turn.py_func(layout(turns=HALVES).options, 0)


def test_places_drawn_hold_the_box_of_the_shape_within_that_of_the_area():
    on = layout()
    left, bottom, right, top = FIELD.bounds
    for _ in range(200):
        x, y = random_position(*on.records, 2, 0.0)
        assert left <= x - 60.0 <= x + 60.0 <= right
        assert bottom <= y - 12.5 <= y + 12.5 <= top


def test_places_drawn_keep_to_the_limit():
    on = layout()
    on.set_limit(0, (1.0, 0.0), 200.0)
    drawn = [random_position(*on.records, 2, 0.0) for _ in range(100)]
    assert max(x for x, _ in drawn) <= 140.001
