"""The sides of a panel are found as one who looks at it would name them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.geometry.sides import SIDE_NAMES, sides_of, straight_runs

SCALLOPED = np.array(
    [
        *((-54, 0), (-51.9, -5.4), (-46.1, -9.9), (-27, -14), (-7.9, -9.9), (0, 0), (7.9, -9.9), (27, -14)),
        *((46.1, -9.9), (51.9, -5.4), (54, 0), (54, 112), (-54, 112)),
    ],
    dtype=float,
)
TRIANGLE = np.array([(0.0, 0.0), (100.0, 0.0), (50.0, 80.0)])


def test_a_scalloped_lower_edge_ends_where_the_upright_edges_begin() -> None:
    sides = sides_of(SCALLOPED)
    corners = SCALLOPED[[sides.bottom_left, sides.bottom_right, sides.top_right, sides.top_left]]
    assert corners.tolist() == [[-54, 0], [54, 0], [54, 112], [-54, 112]]
    assert len(sides.points("bottom")) == 11


@given(st.tuples(*[st.floats(-25, 25)] * 8), st.integers(0, 3), st.integers(0, 12))
def test_the_sides_of_any_four_cornered_panel_go_once_round(
    moved: tuple[float, ...], first: int, between: int
) -> None:
    corners = np.array([(0, 0), (150, 0), (150, 120), (0, 120)]) + np.reshape(moved, (4, 2))
    ring = np.concatenate(
        [
            corners[n]
            + np.linspace(0, 1, between + 1, endpoint=False)[:, None] * (corners[(n + 1) % 4] - corners[n])
            for n in range(4)
        ]
    )
    ring = np.roll(ring, first * (between + 1), axis=0)
    sides = sides_of(ring)
    assert ring[sides.bottom_left] == pytest.approx(corners[0])
    assert ring[sides.top_right] == pytest.approx(corners[2])
    assert sum(len(sides.points(side)) - 1 for side in SIDE_NAMES) == len(ring)
    assert len(straight_runs(ring)) == 4


def test_the_top_of_a_triangle_is_a_point() -> None:
    sides = sides_of(TRIANGLE)
    assert len(sides.points("top")) == 1
    assert not sides.apart("left", "right")
    assert sides_of(SCALLOPED).apart("left", "right")


def test_a_round_piece_is_parted_at_its_diagonals() -> None:
    turns = np.linspace(0.0, 2.0 * np.pi, 80, endpoint=False)
    ring = 50.0 * np.column_stack((np.cos(turns), np.sin(turns)))
    for side in SIDE_NAMES:
        assert len(sides_of(ring).points(side)) == 21
