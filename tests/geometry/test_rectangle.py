from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import affinity

from nestplan.errors import InputError, ShapeError
from nestplan.geometry.rectangle import Rectangle, largest_rectangle
from nestplan.geometry.ring import to_polygon
from tests.small_hides import HIDE_LIKE, L_SHAPE, SQUARE_100


def polygon_of(rectangle: Rectangle) -> shapely.Polygon:
    return shapely.Polygon(rectangle.corners)


def test_corners_run_counter_clockwise_round_the_middle() -> None:
    rectangle = Rectangle((10.0, 20.0), 6.0, 2.0, 30.0)
    corners = rectangle.corners
    assert corners.mean(axis=0) == pytest.approx((10.0, 20.0))
    assert shapely.is_ccw(shapely.LinearRing(corners))
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    assert sorted(sides) == pytest.approx([2.0, 2.0, 6.0, 6.0])
    assert rectangle.area == 12.0


@pytest.mark.parametrize("turn", [0.0, 17.0, 45.0, 90.0, 133.0])
def test_a_rectangle_is_found_again_however_it_is_turned(turn: float) -> None:
    area = affinity.rotate(shapely.box(0, 0, 200, 80), turn, origin=(0, 0))
    found = largest_rectangle(area)
    assert found.width == pytest.approx(200.0, abs=0.2)
    assert found.height == pytest.approx(80.0, abs=0.2)
    assert abs((found.angle - turn + 90.0) % 180.0 - 90.0) < 0.2
    assert area.buffer(1e-6).covers(polygon_of(found))


def test_a_given_turn_is_kept() -> None:
    found = largest_rectangle(to_polygon(SQUARE_100), angle=45.0)
    assert found.angle % 90.0 == pytest.approx(45.0)
    assert found.area == pytest.approx(5000.0, rel=0.01)


def test_the_longer_leg_of_an_l_is_taken() -> None:
    area = to_polygon(L_SHAPE)
    found = largest_rectangle(area, angle=0.0)
    straight = [
        (xmax - xmin) * (ymax - ymin)
        for xmin in np.unique(L_SHAPE[:, 0])
        for xmax in np.unique(L_SHAPE[:, 0])
        for ymin in np.unique(L_SHAPE[:, 1])
        for ymax in np.unique(L_SHAPE[:, 1])
        if xmin < xmax and ymin < ymax and area.covers(shapely.box(xmin, ymin, xmax, ymax))
    ]
    assert found.area == pytest.approx(max(straight), rel=0.005)


def test_without_polish_it_is_smaller_or_equal_and_still_inside() -> None:
    area = to_polygon(HIDE_LIKE)
    rough, fine = largest_rectangle(area, polish=False), largest_rectangle(area)
    assert rough.area <= fine.area * (1 + 1e-9)
    for found in (rough, fine):
        assert area.covers(polygon_of(found))
        assert found.width >= found.height


def test_what_makes_no_sense_is_refused() -> None:
    with pytest.raises(ShapeError, match="empty area"):
        largest_rectangle(shapely.Polygon())
    for tolerance in (0.0, -1.0, math.nan):
        with pytest.raises(InputError, match="above zero"):
            largest_rectangle(to_polygon(SQUARE_100), tolerance=tolerance)
