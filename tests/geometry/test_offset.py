from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from nestplan.errors import ShapeError
from nestplan.geometry.offset import (
    chords_of_turn,
    offset_faces,
    outer_offset,
    self_meetings,
    without_repeats,
)
from nestplan.geometry.ring import Ring, line_ring, to_polygon
from tests.small_hides import COMB, RINGS, SQUARE_100, TWO_ROOMS


@pytest.mark.parametrize("name", RINGS)
@pytest.mark.parametrize("distance", [0.3, 4.0, 25.0])
def test_a_grown_ring_is_nowhere_nearer_than_the_distance_and_little_farther(
    name: str, distance: float
) -> None:
    ring, tolerance = RINGS[name], 0.05
    whole = to_polygon(ring)
    found = to_polygon(outer_offset(ring, distance, tolerance)).exterior
    spots = shapely.points(shapely.get_coordinates(shapely.segmentize(found, 0.5)))
    apart = shapely.distance(spots, whole)
    assert apart.min() >= distance - 1e-9
    corners = shapely.distance(shapely.points(shapely.get_coordinates(found)), whole)
    assert corners.max() <= distance + tolerance + 1e-6


@pytest.mark.parametrize("name", RINGS)
def test_a_shrunk_ring_keeps_the_distance_from_the_edge(name: str) -> None:
    edge = to_polygon(RINGS[name]).exterior
    for ring in offset_faces(RINGS[name], 4.0, 0.05):
        spots = shapely.points(shapely.get_coordinates(shapely.segmentize(to_polygon(ring).exterior, 0.5)))
        assert shapely.distance(spots, edge).min() >= 4.0 - 1e-9


def test_shrinking_parts_two_rooms_and_ends_a_comb() -> None:
    assert len(offset_faces(TWO_ROOMS, 15.0, 0.05)) == 2
    assert offset_faces(COMB, 60.0, 0.05) == []


def test_points_that_equal_the_one_before_are_dropped_the_last_against_the_first_too() -> None:
    doubled = np.vstack((SQUARE_100, SQUARE_100[-1:], SQUARE_100[:1]))
    assert len(without_repeats(doubled)) == len(SQUARE_100)
    assert len(without_repeats(np.zeros((5, 2)))) == 1
    assert len(without_repeats(np.empty((0, 2)))) == 0


def test_enough_chords_keep_an_arc_within_the_tolerance_and_one_fewer_does_not() -> None:
    turn = np.array([0.2, 1.0, math.pi / 2, 2.0, math.pi])
    for distance, tolerance in ((5.0, 0.05), (40.0, 0.01), (0.2, 0.5)):
        count = chords_of_turn(turn, distance, tolerance)
        beyond = distance / np.cos(turn / (2 * count)) - distance
        assert (beyond <= tolerance * (1 + 1e-6)).all()
        fewer = count - 1
        needed = fewer >= np.where(turn > 0.75 * math.pi, 2, 1)
        short = distance / np.cos(turn[needed] / (2 * fewer[needed])) - distance
        assert (short > tolerance).all()


def test_a_ring_that_touches_itself_when_grown_keeps_only_its_outer_outline() -> None:
    ring: Ring = np.array(
        [(0, 0), (100, 0), (100, 100), (52, 100), (52, 50), (48, 50), (48, 100), (0, 100)], dtype=float
    )
    found = to_polygon(outer_offset(ring, 5.0, 0.05))
    assert found.covers(shapely.box(0, 0, 100, 100))


NEARLY_ON_ONE_LINE = [
    (125.42580639016269, 0.0), (90.53028642754455, 0.0), (108.43865450062893, 0.0001), (81.37709738687222, 0.0001),
    (162.22401631172968, 0.0001), (93.72929679095536, 0.0001), (22.20398525966307, 0.0), (47.223872644044285, 0.0001),
]  # fmt: skip
"""Found by chance: grown by 20 mm it came out with no distance at all from its own end."""


def test_a_line_to_and_fro_on_itself_keeps_its_width() -> None:
    found = to_polygon(line_ring(NEARLY_ON_ONE_LINE, 40.0))
    assert found.is_valid
    assert found.exterior.distance(shapely.LineString(NEARLY_ON_ONE_LINE)) >= 20.0 - 1e-6


@pytest.mark.parametrize("seed", range(8))
def test_lines_with_points_on_top_of_each_other_become_bands_that_hold_them(seed: int) -> None:
    rng = np.random.default_rng(seed)
    for _ in range(60):
        steps = rng.choice([0.0, 1e-9, 1e-6, 1e-4, 0.002, 5.0, 50.0], (int(rng.integers(2, 9)), 2))
        line = np.cumsum(steps * rng.choice([-1, 1], steps.shape), axis=0)
        width = float(rng.choice([0.01, 0.5, 3.0, 40.0, 300.0]))
        found = to_polygon(line_ring(line, width))
        assert found.is_valid
        # Points within a micrometre are one, so the band may miss them by as much.
        assert found.exterior.distance(shapely.LineString(line)) >= width / 2 - 0.0011
        assert found.covers(shapely.Point(line[0]))


@pytest.mark.parametrize("width", [0.5, 4.0, 200.0])
def test_a_line_whose_points_are_nearer_than_its_width_becomes_a_band_without_long_work(width: float) -> None:
    line = np.cumsum(np.random.default_rng(3).normal(0.0, 15.0, (2000, 2)), axis=0)
    found, used = to_polygon(line_ring(line, width)), self_meetings(line, most=5000)
    assert 500 < used <= 5000
    drawn = shapely.LineString(line)
    assert found.is_valid
    assert found.exterior.distance(drawn) >= width / 2 - 1e-6
    assert found.covers(drawn)
    # No farther out than it may be: every point of the band's edge is near the line.
    edge = shapely.points(shapely.get_coordinates(found.exterior))
    assert shapely.distance(edge, drawn).max() <= width / 2 + 0.051


def test_a_line_that_crosses_itself_thousands_of_times_is_refused_at_once() -> None:
    turns = np.arange(600) * (2.0 * np.pi * 299 / 600)
    star = 300.0 * np.column_stack((np.cos(turns), np.sin(turns)))
    to_and_fro = np.column_stack((np.random.default_rng(3).uniform(0, 300, 600), np.zeros(600)))
    for line in (star, to_and_fro):
        assert self_meetings(line, most=5000) > 5000
        with pytest.raises(ShapeError, match="crosses itself too often"):
            line_ring(line, 4.0)


def test_meetings_are_those_of_edges_that_are_no_neighbours() -> None:
    bow = np.array([(0, 0), (10, 10), (10, 0), (0, 10)], dtype=float)
    assert self_meetings(bow, most=9) == 1
    assert self_meetings(bow[:3], most=9) == 0
    assert self_meetings(np.vstack((bow[:3], bow[:1])), most=9) == 1  # it comes back to its start
