from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.geometry.areas import grown, polygons_in
from nestplan.geometry.ring import to_polygon
from tests.small_hides import RINGS, SQUARE_100


@given(st.floats(0.01, 300.0), st.sampled_from([2, 4, 16]))
@settings(max_examples=40)
def test_a_point_grows_to_a_polygon_round_the_whole_disc(distance: float, segments: int) -> None:
    found = grown(shapely.Point(10.0, -20.0), distance, quarter_segments=segments)
    corners = shapely.get_coordinates(found)
    middles = (corners[:-1] + corners[1:]) / 2.0
    apart = shapely.distance(shapely.points(middles), shapely.Point(10.0, -20.0))
    assert apart.min() >= distance * (1.0 - 1e-9)
    reach = distance / math.cos(math.pi / 4 / segments)
    assert found.exterior.hausdorff_distance(shapely.Point(10.0, -20.0)) == pytest.approx(reach)


def test_straight_edges_move_by_no_less_than_the_distance() -> None:
    found = grown(to_polygon(SQUARE_100), 5.0)
    xmin, ymin, xmax, ymax = found.bounds
    assert min(-xmin, -ymin, xmax - 100.0, ymax - 100.0) >= 5.0


@pytest.mark.parametrize("distance", [0.0, -1.0])
def test_an_area_that_is_not_grown_is_handed_on_as_it_is(distance: float) -> None:
    square = to_polygon(SQUARE_100)
    assert grown(square, distance) is square


@pytest.mark.parametrize("name", RINGS)
def test_a_grown_area_holds_what_it_grew_from(name: str) -> None:
    area = to_polygon(RINGS[name])
    assert grown(area, 3.0).covers(area)


def test_only_what_has_area_is_kept() -> None:
    square = to_polygon(SQUARE_100)
    mixed = shapely.GeometryCollection(
        [shapely.Point(0, 0), shapely.LineString([(0, 0), (5, 5)]), square, shapely.Polygon()]
    )
    assert polygons_in(mixed).equals(square)
    assert polygons_in(shapely.Point(0, 0)).is_empty
    assert len(polygons_in(shapely.union_all([square, shapely.box(200, 0, 300, 100)])).geoms) == 2
