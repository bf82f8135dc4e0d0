"""Lace by the path it takes, in pieces, and holes that stand right."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.errors import InputError
from nestplan.estimate.lacing import (
    RegularJoin,
    edge_lacing_length,
    join_length,
    spacing_warnings,
    split_lace,
)


def test_a_join_is_measured_at_its_widest_opening_between_hole_centres() -> None:
    join = RegularJoin(pairs=5, pitch=25.4, widest_gap=50.8, inset=15.875, tail=150.0)
    assert join.reach == pytest.approx(82.55)
    assert join_length(join) == pytest.approx(82.55 + 8 * math.hypot(82.55, 25.4) + 300.0)


def test_edge_lacing_multiplies_the_distance_where_no_holes_are_given() -> None:
    assert edge_lacing_length(1000.0, "whip") == 3500.0
    assert edge_lacing_length(1000.0, "double loop") == 8500.0
    with pytest.raises(InputError, match="edge lacing"):
        edge_lacing_length(1000.0, "sailor")
    with pytest.raises(InputError, match="cannot have a length of 0 mm"):
        edge_lacing_length(0.0, "whip")


def test_edge_lacing_follows_the_stitch_where_the_holes_are_given() -> None:
    """Hand count: 120 mm with holes 12 apart is ten steps and eleven holes. Running: 120 + 11 x 3. Whip, 3 from the
    edge in 3 of leather: 9 round the edge, and 9 by 12 is 15 along the slant: 10 x 15 + 11 x 3."""
    assert edge_lacing_length(120.0, "running", pitch=12.0, inset=3.0, thickness=3.0) == pytest.approx(153.0)
    assert edge_lacing_length(120.0, "whip", pitch=12.0, inset=3.0, thickness=3.0) == pytest.approx(183.0)


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
    [{"pairs": 1}, {"pitch": 0.0}, {"widest_gap": -1.0}, {"tail": float("nan")}, {"path": "star"}],
)
def test_joins_that_cannot_be_are_refused(wrong: dict[str, object]) -> None:
    figures = {"pairs": 4, "pitch": 20.0, "widest_gap": 50.0, "inset": 12.0} | wrong
    with pytest.raises(InputError):
        RegularJoin(**figures)  # type: ignore[arg-type]
