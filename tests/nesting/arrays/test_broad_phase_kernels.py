"""The broad phase finds every body whose box touches the box asked for, wherever the bodies have been moved."""

from __future__ import annotations

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.layout import Layout
from nestplan.nesting.arrays.records import SearchState
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem

FIELDS = (shapely.box(0.0, 0.0, 900.0, 400.0), shapely.box(-50.0, 100.0, 150.0, 700.0))
BRICK = np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 25.0], [0.0, 25.0]])
BODIES = 130


def bricks() -> Layout:
    """More items than two words of bits hold, each allowed on two fields."""
    leave = tuple(
        PlacementOption(k, Turns.any(), (Containment(BRICK, field),)) for k, field in enumerate(FIELDS)
    )
    return Layout(Problem(FIELDS, (Item(BRICK, 0, leave),) * BODIES, ()), seed=1)


LAYOUT = bricks()


def cells_of(state: SearchState, field: int, low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """The grid's words in the cells that a box touches, (n, W)."""
    rows, columns = state.cell_bodies.shape[1:3]
    corner, per = state.grid[field, :2], state.grid[field, 2:]
    most = np.array([columns, rows]) - 1
    first = np.clip(((low - corner) * per).astype(int), 0, most)
    last = np.clip(((high - corner) * per).astype(int), 0, most)
    found = state.cell_bodies[field, first[1] : last[1] + 1, first[0] : last[0] + 1]
    return found.reshape(-1, state.cell_bodies.shape[3])


def near(state: SearchState, field: int, low: np.ndarray, high: np.ndarray) -> set[int]:
    """The bodies that the grid names for a box."""
    words = np.bitwise_or.reduce(cells_of(state, field, low, high), axis=0)
    return {body for body in range(BODIES) if (int(words[body // 64]) >> (body % 64)) & 1}


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_every_body_that_a_box_touches_is_named_also_beyond_the_field(seed: int) -> None:
    rng = np.random.default_rng(seed)
    for _ in range(2):
        for item in range(BODIES):
            spot = LAYOUT.options_of(item)[int(rng.integers(2))]
            x, y = rng.uniform(-400.0, 1300.0), rng.uniform(-400.0, 1000.0)
            LAYOUT.place(item, LAYOUT.shape_pose(spot, x, y, float(rng.uniform(0.0, 360.0))))
        for item in rng.choice(BODIES, 20, replace=False):
            LAYOUT.lift(int(item))
    state = LAYOUT.state
    for field in range(2):
        low = rng.uniform(-500.0, 1200.0, 2)
        high = low + rng.uniform(0.0, 300.0, 2)
        on = np.flatnonzero(state.field[:BODIES] == field)
        box = state.body_box[on]
        touching = (box[:, :2] <= high).all(axis=1) & (box[:, 2:] >= low).all(axis=1)
        named = near(state, field, low, high)
        assert set(on[touching].tolist()) <= named <= set(on.tolist())


def test_nothing_is_named_once_all_are_lifted() -> None:
    layout = bricks()
    for item in range(BODIES):
        layout.place(item, layout.shape_pose(layout.options_of(item)[0], 7.0 * item, 3.0 * item, 0.0))
    assert near(layout.state, 0, np.zeros(2), np.full(2, 900.0)) == set(range(BODIES))
    for item in range(BODIES):
        layout.lift(item)
    assert not layout.state.cell_bodies.any()
