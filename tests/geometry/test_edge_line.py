"""Lines along an edge, set in from it, and spots on them, checked by shapely's own measures."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.errors import InputError
from nestplan.geometry.edge_line import line_along_edge, line_length, shorter_is_clockwise, spots_along
from nestplan.geometry.ring import make_ring

SQUARE = make_ring([(0, 0), (100, 0), (100, 100), (0, 100)])
DUMBBELL = make_ring(
    [
        (0, 0),
        (40, 0),
        (40, 18),
        (80, 18),
        (80, 0),
        (120, 0),
        (120, 40),
        (80, 40),
        (80, 22),
        (40, 22),
        (40, 40),
        (0, 40),
    ]
)


def test_it_runs_counter_clockwise_from_start_to_end_round_a_corner() -> None:
    line = line_along_edge(SQUARE, (50, 0), (100, 40), inset=10.0)
    np.testing.assert_allclose(line, [(50, 10), (90, 10), (90, 40)], atol=1e-4)


def test_clockwise_takes_the_other_way() -> None:
    line = line_along_edge(SQUARE, (50, 0), (100, 40), inset=10.0, clockwise=True)
    assert line_length(line) == pytest.approx(4 * 80.0 - 70.0, abs=1e-3)
    np.testing.assert_allclose(line[[0, -1]], [(50, 10), (90, 40)], atol=1e-4)


def test_from_corner_to_corner_without_an_inset() -> None:
    np.testing.assert_allclose(line_along_edge(SQUARE, (0, 0), (100, 0))[[0, -1]], [(0, 0), (100, 0)])
    assert line_length(line_along_edge(SQUARE, (0, 0), (100, 0))) == pytest.approx(100.0)
    assert line_length(line_along_edge(SQUARE, (100, 0), (0, 0))) == pytest.approx(300.0)


def test_without_an_end_it_goes_all_the_way_round() -> None:
    line = line_along_edge(SQUARE, (0, 50), None, inset=10.0)
    np.testing.assert_allclose(line[0], line[-1])
    assert line_length(line) == pytest.approx(320.0, abs=1e-3)


def test_a_neck_that_is_too_narrow_is_refused_on_the_way_but_not_beside_it() -> None:
    line = line_along_edge(DUMBBELL, (0, 40), (0, 0), inset=5.0)
    assert line_length(line) == pytest.approx(30.0, abs=1e-3)
    with pytest.raises(InputError, match="too narrow"):
        line_along_edge(DUMBBELL, (0, 0), (120, 0), inset=5.0)
    with pytest.raises(InputError, match="nowhere wide enough"):
        line_along_edge(DUMBBELL, (0, 0), (120, 0), inset=25.0)


def test_a_spot_has_the_direction_of_the_part_that_begins_there() -> None:
    line = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)])
    spots, directions = spots_along(line, [0.0, 5.0, 10.0, 20.0])
    np.testing.assert_allclose(spots, [(0, 0), (5, 0), (10, 0), (10, 10)])
    np.testing.assert_allclose(directions, [0, 0, 90, 90])


@st.composite
def _stars(draw: st.DrawFn) -> np.ndarray:
    """Star-shaped outlines of 5 to 12 corners, 60 to 160 mm from the middle."""
    count = draw(st.integers(5, 12))
    reaches = draw(st.lists(st.floats(60.0, 160.0), min_size=count, max_size=count))
    angles = np.arange(count) * 2 * math.pi / count
    return make_ring(np.column_stack((np.cos(angles), np.sin(angles))) * np.array(reaches)[:, None])


@given(_stars(), st.floats(0.0, 20.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.booleans())
def test_it_keeps_its_inset_and_both_ways_make_the_whole_round(
    ring: np.ndarray, inset: float, first: float, last: float, clockwise: bool
) -> None:
    edge = shapely.LinearRing(ring)
    start, end = (
        shapely.get_coordinates(edge.interpolate(share, normalized=True))[0] for share in (first, last)
    )
    one = line_along_edge(ring, tuple(start), tuple(end), inset=inset, clockwise=clockwise)
    other = line_along_edge(ring, tuple(end), tuple(start), inset=inset, clockwise=clockwise)
    whole = line_along_edge(ring, tuple(start), None, inset=inset, clockwise=clockwise)
    away = [
        edge.distance(shapely.Point(spot))
        for spot in spots_along(one, np.linspace(0.0, line_length(one), 40))[0]
    ]
    assert min(away) >= inset - 1e-6
    assert max(away) <= inset + 0.06
    if not np.allclose(one[0], one[-1], atol=1e-6):
        assert line_length(one) + line_length(other) == pytest.approx(line_length(whole), abs=1e-5)


@given(_stars(), st.floats(0.0, 20.0), st.lists(st.floats(0.0, 1.0), min_size=1, max_size=20))
def test_spots_lie_where_shapely_measures_them_along_the_line(
    ring: np.ndarray, inset: float, shares: list[float]
) -> None:
    line = line_along_edge(ring, tuple(ring[0]), tuple(ring[2]), inset=inset)
    distances = np.array(shares) * line_length(line)
    spots, _ = spots_along(line, distances)
    measured = shapely.get_coordinates(shapely.line_interpolate_point(shapely.LineString(line), distances))
    np.testing.assert_allclose(spots, measured, atol=1e-6)


def test_the_shorter_way_between_two_spots_of_the_edge() -> None:
    ring = np.array(((0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0)))
    assert not shorter_is_clockwise(ring, (70.0, 0.0), (100.0, 40.0))
    assert shorter_is_clockwise(ring, (100.0, 40.0), (70.0, 0.0))
    assert shorter_is_clockwise(ring, (0.0, 0.0), (0.0, 60.0))
