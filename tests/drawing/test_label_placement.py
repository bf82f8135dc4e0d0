"""Where a word may stand: boxes that are taken, boxes inside a shape, the roomiest place."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.drawing.label_placement import (
    OccupiedBoxes,
    boxes_inside,
    centred_box,
    largest_disc_in_ring,
    largest_inner_disc,
)

L_SHAPE = shapely.Polygon(((0, 0), (100, 0), (100, 30), (30, 30), (30, 100), (0, 100)))


def test_a_taken_box_is_kept_clear_with_its_air() -> None:
    occupied = OccupiedBoxes()
    occupied.take(centred_box(0.0, 0.0, 10.0, 10.0))
    assert not occupied.is_clear(centred_box(9.0, 0.0, 10.0, 10.0))
    assert occupied.is_clear(centred_box(10.0, 0.0, 10.0, 10.0))
    assert not occupied.is_clear(centred_box(10.0, 0.0, 10.0, 10.0), 1.0)


def test_the_first_clear_box_is_taken_at_once() -> None:
    occupied = OccupiedBoxes()
    places = [centred_box(0.0, 0.0, 4.0, 4.0), centred_box(10.0, 0.0, 4.0, 4.0)]
    assert [occupied.take_first_clear(places) for _ in range(3)] == [*places, None]


@given(st.floats(2.0, 40.0), st.floats(2.0, 40.0))
def test_boxes_inside_lie_wholly_inside_the_roomiest_first(width: float, height: float) -> None:
    found = boxes_inside(L_SHAPE, width, height)
    assert all(L_SHAPE.buffer(1e-9).contains(shapely.box(*box)) for box in found)
    gaps = [L_SHAPE.boundary.distance(shapely.box(*box)) for box in found]
    assert gaps == sorted(gaps, reverse=True)


def test_a_box_larger_than_the_shape_finds_no_place() -> None:
    assert boxes_inside(L_SHAPE, 120.0, 5.0) == []
    assert boxes_inside(shapely.Polygon(), 1.0, 1.0) == []


def test_the_largest_disc_of_a_square_touches_its_sides() -> None:
    square = np.array(((0.0, 0.0), (60.0, 0.0), (60.0, 60.0), (0.0, 60.0)))
    assert largest_disc_in_ring(square) == pytest.approx((30.0, 30.0, 30.0), abs=0.5)
    assert largest_inner_disc(shapely.Polygon()) == (0.0, 0.0, 0.0)


def test_the_largest_disc_of_an_angle_lies_in_its_corner() -> None:
    x, y, radius = largest_inner_disc(L_SHAPE)
    # A disc that touches both outer sides and the inner corner: r = 30·√2 / (1 + √2).
    assert radius == pytest.approx(30.0 * math.sqrt(2.0) / (1.0 + math.sqrt(2.0)), abs=0.5)
    assert (x, y) == pytest.approx((radius, radius), abs=1.0)
