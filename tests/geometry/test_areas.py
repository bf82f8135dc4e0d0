from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, reject, settings
from hypothesis import strategies as st

from nestplan.errors import ShapeError
from nestplan.geometry.areas import grown, kept_away_from, polygons_in, simplified_inside
from nestplan.geometry.ring import Ring, make_ring, to_polygon, to_rings
from tests.small_hides import RINGS, SQUARE_100


@given(st.floats(0.01, 300.0), st.sampled_from([2, 4, 16]))
@settings(max_examples=40)
def test_a_point_grows_to_a_polygon_round_the_whole_disc(distance: float, segments: int) -> None:
    found = grown(shapely.Point(10.0, -20.0), distance, quarter_segments=segments)
    corners = shapely.get_coordinates(found)
    middles = (corners[:-1] + corners[1:]) / 2.0
    apart = shapely.distance(shapely.points(middles), shapely.Point(10.0, -20.0))
    assert apart.min() >= distance * (1.0 - 1e-9)
    reach = distance / math.cos(3 * math.pi / 8 / segments)
    assert found.exterior.hausdorff_distance(shapely.Point(10.0, -20.0)) == pytest.approx(reach)


def test_straight_edges_move_by_no_less_than_the_distance() -> None:
    found = grown(to_polygon(SQUARE_100), 5.0)
    xmin, ymin, xmax, ymax = found.bounds
    assert min(-xmin, -ymin, xmax - 100.0, ymax - 100.0) >= 5.0


@st.composite
def star_shaped(draw: st.DrawFn) -> Ring:
    count = draw(st.integers(3, 14))
    turns = np.cumsum([draw(st.floats(0.1, 1.0)) for _ in range(count)])
    turns = turns / turns[-1] * 2.0 * math.pi * (1.0 - 0.5 / count)
    reach = np.array([draw(st.floats(5.0, 60.0)) for _ in range(count)])
    try:
        return make_ring(reach[:, None] * np.column_stack((np.cos(turns), np.sin(turns))))
    except ShapeError:
        # Few points whose turns leave more than half a circle open may fall on one line.
        reject()


@given(star_shaped(), st.floats(0.5, 60.0), st.sampled_from([2, 6, 16]))
@settings(max_examples=150)
def test_no_corner_is_cut_short_however_it_turns(ring: Ring, distance: float, segments: int) -> None:
    area = to_polygon(ring)
    found = grown(area, distance, quarter_segments=segments).exterior
    spots = shapely.points(shapely.get_coordinates(shapely.segmentize(found, distance / 50)))
    assert shapely.distance(spots, area).min() >= distance * (1.0 - 1e-9)


@given(star_shaped(), st.floats(0.5, 60.0))
@settings(max_examples=80)
def test_a_ring_is_kept_away_from_by_the_margin_and_no_more_than_the_tolerance(
    ring: Ring, margin: float
) -> None:
    found = kept_away_from(ring, margin)
    whole = to_polygon(ring)
    for edge in (found.exterior, *found.interiors):
        spots = shapely.points(shapely.get_coordinates(shapely.segmentize(edge, margin / 50)))
        assert shapely.distance(spots, whole).min() >= margin * (1.0 - 1e-9)
    corners = shapely.points(shapely.get_coordinates(found.exterior))
    assert shapely.distance(corners, whole).max() <= margin + 0.05 + 1e-6


def test_what_is_kept_free_of_a_ring_is_worked_out_once() -> None:
    ring = np.array([[0.0, 0.0], [40.0, 0.0], [10.0, 30.0]])
    assert kept_away_from(ring, 7.0) is kept_away_from(ring.copy(), 7.0)
    assert kept_away_from(ring, 8.0).area > kept_away_from(ring, 7.0).area
    assert kept_away_from(ring + 1.0, 7.0).centroid.x == pytest.approx(
        kept_away_from(ring, 7.0).centroid.x + 1.0
    )


def test_a_pocket_inside_a_hook_stays_free() -> None:
    outer = shapely.box(0, 0, 400, 400).difference(shapely.box(50, 50, 350, 350))
    hook = outer.difference(shapely.box(195, 340, 205, 410))
    found = kept_away_from(to_rings(hook)[0], 10.0)
    assert not found.covers(shapely.Point(200, 200))
    assert found.covers(shapely.Point(200, 345))
    (pocket,) = found.interiors
    assert shapely.Polygon(pocket).area == pytest.approx(280.0 * 280.0, rel=0.01)


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


@st.composite
def digitised(draw: st.DrawFn) -> shapely.Polygon:
    """A star-shaped area with a hole, its outlines drawn with many points that lie a little beside them."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    rough = draw(st.floats(0.0, 0.4))

    def drawn(ring: Ring, count: int) -> Ring:
        line = shapely.LinearRing(ring)
        spots = shapely.line_interpolate_point(line, np.arange(count) / count, normalized=True)
        return shapely.get_coordinates(spots) + rng.uniform(-rough, rough, (count, 2))

    outline = drawn(10.0 * draw(star_shaped()), draw(st.integers(50, 1500)))
    hole = drawn(RINGS[draw(st.sampled_from(sorted(RINGS)))] * 0.2, draw(st.integers(20, 200)))
    area = shapely.Polygon(outline)
    if not area.is_valid or not shapely.Polygon(hole).is_valid:
        reject()
    return polygons_in(area.difference(shapely.Polygon(hole)))


@given(digitised(), st.floats(0.05, 1.0))
@settings(max_examples=80, deadline=None)
def test_a_simplified_area_lies_within_and_hardly_smaller(
    area: shapely.MultiPolygon, tolerance: float
) -> None:
    found = simplified_inside(area, tolerance)
    assert shapely.get_num_coordinates(found) <= shapely.get_num_coordinates(area)
    assert found.difference(area).area <= 1e-9 * area.area
    assert area.buffer(1e-7).covers(found)
    # Whatever lies a tolerance or more within the area is still there.
    assert found.buffer(1e-7).covers(area.buffer(-1.01 * tolerance))


def test_an_area_with_few_points_is_left_as_it_is() -> None:
    square = to_polygon(SQUARE_100)
    assert simplified_inside(square, 0.3) is square
