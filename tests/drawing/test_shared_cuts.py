"""Straight edges that shapes share are cut once."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.drawing.shared_cuts import SharedCuts
from nestplan.geometry.pose import Pose


def square(x: float, y: float, size: float = 40.0) -> np.ndarray:
    return np.array(((x, y), (x + size, y), (x + size, y + size), (x, y + size)))


def length_of(line: np.ndarray, closed: bool) -> float:
    path = np.vstack((line, line[:1])) if closed else line
    return float(np.hypot(*np.diff(path, axis=0).T).sum())


def test_a_ring_that_shares_nothing_is_one_closed_path() -> None:
    shared = SharedCuts()
    assert [closed for _, closed in shared.new_lines(square(0, 0))] == [True]
    assert [closed for _, closed in shared.new_lines(square(41.5, 0))] == [True]


def test_a_shared_edge_is_cut_once() -> None:
    shared = SharedCuts()
    shared.new_lines(square(0, 0))
    ((line, closed),) = shared.new_lines(square(40, 0))
    assert not closed
    assert length_of(line, closed) == pytest.approx(120.0)


def test_an_edge_that_is_shared_in_part_is_cut_for_the_rest() -> None:
    shared = SharedCuts()
    shared.new_lines(square(0, 10, 20))
    lines = shared.new_lines(square(20, 0, 40))
    assert sum(length_of(*line) for line in lines) == pytest.approx(160.0 - 20.0)


def test_the_same_ring_again_gives_nothing_to_cut() -> None:
    shared = SharedCuts()
    shared.new_lines(square(0, 0))
    assert shared.new_lines(square(0, 0)[::-1]) == []


@given(
    st.integers(1, 6), st.integers(1, 6), st.floats(5.5, 300.0), st.floats(0.0, 359.0),
    st.floats(-800.0, 800.0), st.floats(-800.0, 800.0),
)  # fmt: skip
def test_a_grid_that_touches_is_cut_along_each_line_once(
    columns: int, rows: int, size: float, turn: float, x: float, y: float
) -> None:
    pose = Pose(x, y, turn)
    shared = SharedCuts()
    total = sum(
        length_of(*line)
        for column in range(columns)
        for row in range(rows)
        for line in shared.new_lines(pose.apply(square(column * size, row * size, size)))
    )
    assert total == pytest.approx(size * (columns * (rows + 1) + rows * (columns + 1)), rel=1e-3)
