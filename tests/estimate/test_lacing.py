"""Lace by the path it takes, in pieces, and holes that stand right."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.errors import InputError
from nestplan.estimate.lacing import (
    CROSSINGS,
    LacedJoin,
    edge_lacing_length,
    hole_columns,
    join_length,
    lace_paths,
    path_length,
    spacing_warnings,
    split_lace,
)


def crossover_length(pairs: int, pitch: float, reach: float, tail: float) -> float:
    """Lace of a crossover by Pythagoras: one bar across the first pair, then two slanting stretches a pair."""
    return reach + 2.0 * (pairs - 1) * math.hypot(reach, pitch) + 2.0 * tail


@given(st.integers(2, 30), st.floats(1, 60), st.floats(1, 300), st.floats(0, 400))
def test_the_crossover_formula_is_the_length_of_the_drawn_path(
    pairs: int, pitch: float, reach: float, tail: float
) -> None:
    drawn = path_length(lace_paths("crossover", *hole_columns(pairs, pitch, reach)), tail=tail)
    assert drawn == pytest.approx(crossover_length(pairs, pitch, reach, tail))


@pytest.mark.parametrize("crossing", sorted(CROSSINGS))
@pytest.mark.parametrize("pairs", [2, 3, 6, 7])
def test_every_crossing_passes_every_hole(crossing: str, pairs: int) -> None:
    left, right = hole_columns(pairs, 20.0, 50.0)
    used = {tuple(point) for path in lace_paths(crossing, left, right) for point in path}
    assert used == {tuple(point) for point in np.vstack([left, right])}


@pytest.mark.parametrize("crossing", ["crossover", "ladder"])
def test_two_ended_crossings_end_at_the_last_pair_on_opposite_sides(crossing: str) -> None:
    left, right = hole_columns(5, 20.0, 50.0)
    first, second = lace_paths(crossing, left, right)
    assert first[0].tolist() == second[0].tolist() == left[0].tolist()
    assert {tuple(first[-1]), tuple(second[-1])} == {tuple(left[-1]), tuple(right[-1])}


@given(st.integers(2, 12), st.floats(5, 40), st.floats(5, 100))
def test_lengths_of_the_other_crossings_follow_from_their_stretches(
    pairs: int, pitch: float, reach: float
) -> None:
    columns = hole_columns(pairs, pitch, reach)
    slant = math.hypot(pitch, reach)
    expected = {
        "bars": pairs * reach + (pairs - 1) * pitch,
        "zigzag": pairs * reach + (pairs - 1) * slant,
        "ladder": reach + 2 * (pairs - 1) * (pitch + reach),
    }
    for crossing, length in expected.items():
        assert path_length(lace_paths(crossing, *columns)) == pytest.approx(length)


def test_a_join_is_measured_at_its_widest_opening_between_hole_centres() -> None:
    join = LacedJoin(pairs=5, pitch=25.4, widest_gap=50.8, inset=15.875, tail=150.0)
    assert join.reach == pytest.approx(82.55)
    assert join_length(join) == pytest.approx(82.55 + 8 * math.hypot(82.55, 25.4) + 300.0)


def test_each_pass_through_the_leather_is_counted_once() -> None:
    columns = hole_columns(4, 20.0, 40.0)
    for crossing in ("crossover", "bars", "zigzag"):
        flat, thick = (path_length(lace_paths(crossing, *columns), thickness=each) for each in (0.0, 3.0))
        assert thick - flat == pytest.approx(8 * 3.0)


def test_edge_lacing_multiplies_the_distance() -> None:
    assert edge_lacing_length(1000.0, "whip") == 3500.0
    assert edge_lacing_length(1000.0, "double loop", spare=100.0) == 8600.0
    with pytest.raises(InputError, match="edge lacing"):
        edge_lacing_length(1000.0, "sailor")


@given(st.floats(1.0, 50_000.0), st.floats(200.0, 3000.0), st.floats(0.0, 100.0))
def test_pieces_are_the_fewest_and_none_is_too_long(length: float, longest: float, overlap: float) -> None:
    lace = split_lace(length, longest=longest, overlap=overlap)
    assert lace.each <= longest * (1 + 1e-6)
    assert lace.total == pytest.approx(length + lace.splices * overlap)
    assert lace.splices == lace.count - 1
    if lace.count > 1:
        fewer = lace.count - 1
        assert fewer * longest - (fewer - 1) * overlap < length + 1e-3


def test_rims_that_touch_and_uneven_holes_are_said() -> None:
    even = np.array([[15.0, 20.0], [15.0, 45.0], [15.0, 70.0]])
    assert spacing_warnings(even, 19.0) == ()
    assert "touch" in spacing_warnings(even, 26.0)[0]
    assert "evenly" in spacing_warnings(np.array([[0.0, 0.0], [0.0, 20.0], [0.0, 50.0]]), 5.0)[0]


@pytest.mark.parametrize(
    "wrong",
    [{"pairs": 1}, {"pitch": 0.0}, {"widest_gap": -1.0}, {"tail": float("nan")}, {"crossing": "star"}],
)
def test_joins_that_cannot_be_are_refused(wrong: dict[str, object]) -> None:
    figures = {"pairs": 4, "pitch": 20.0, "widest_gap": 50.0, "inset": 12.0} | wrong
    with pytest.raises(InputError):
        LacedJoin(**figures)  # type: ignore[arg-type]
