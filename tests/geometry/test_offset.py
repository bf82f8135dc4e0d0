from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from nestplan.geometry.offset import chords_of_turn, offset_faces, outer_offset, without_repeats
from nestplan.geometry.ring import Ring, to_polygon
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
