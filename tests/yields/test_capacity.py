from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity

from nestplan.geometry.ring import to_polygon
from nestplan.nesting.construct.strips import StripRequest, lay_strips
from nestplan.yields.capacity import (
    SLACK,
    center_area,
    least_area,
    most_by_area,
    most_by_spacing,
    most_strips_along,
    outline_measures,
)
from tests.small_hides import L_SHAPE, RINGS, SQUARE_100, THIN_STRIP
from tests.yields.most_copies import reachable


@pytest.mark.parametrize("name", RINGS)
def test_every_point_of_an_outline_is_as_near_to_an_inner_disc_as_its_measures_say(name: str) -> None:
    polygon = to_polygon(RINGS[name])
    measures = outline_measures(RINGS[name])
    assert measures.area == pytest.approx(polygon.area)
    edge = shapely.points(shapely.get_coordinates(shapely.segmentize(polygon.exterior, 0.7)))
    for radius, apart in measures.reaches:
        assert radius <= measures.radius
        centres = shapely.buffer(polygon, -radius, quad_segs=64)
        # A disc of that radius about any of these centres lies inside the outline.
        assert (shapely.distance(edge, centres) - radius).max() <= apart + 0.05


def test_the_largest_disc_is_not_overestimated() -> None:
    assert 50.0 - 0.02 <= outline_measures(SQUARE_100).radius <= 50.0


def test_what_a_shape_uses_up_is_never_too_much() -> None:
    for band in (0.0, 0.75, 5.0):
        true = shapely.Polygon(SQUARE_100).buffer(band, quad_segs=200).area
        found = least_area(SQUARE_100, band)
        assert 0.9 * true < found <= true


def test_area_is_counted_part_by_part() -> None:
    parts = shapely.union_all([shapely.box(0, 0, 100, 19), shapely.box(0, 50, 100, 69)])
    assert most_by_area(parts, 1000.0) == 2
    assert most_by_area(shapely.box(0, 0, 100, 38), 1000.0) == 3
    assert most_by_area(parts, 0.0) == 10**9


@pytest.mark.parametrize(("side", "apart", "fit"), [(100.0, 50.0, 9), (100.0, 101.0, 1), (10.0, 100.0, 1)])
def test_points_on_a_grid_never_pass_the_bound_on_spaced_points(side: float, apart: float, fit: int) -> None:
    assert most_by_spacing(shapely.box(0, 0, side, side), apart) >= fit


def test_spaced_points_in_a_long_narrow_area_are_counted_closely() -> None:
    # At 100 mm from each other eleven points fit on a line of a metre.
    line = shapely.box(0.0, 0.0, 1000.0, 0.001)
    assert 11 <= most_by_spacing(line, 100.0) <= 12


def test_a_shape_reaches_only_where_its_disc_can() -> None:
    neck = shapely.union_all([shapely.box(0, 0, 300, 300), shapely.box(300, 140, 600, 160)])
    found = reachable(neck, outline_measures(SQUARE_100))
    assert found.covers(shapely.box(1, 1, 299, 299))
    # Past the mouth of the neck no square of 100 mm has a point, but for what lies within its corners' reach.
    assert found.bounds[2] < 300.0 + 50.0 * (math.sqrt(2.0) - 1.0) + 15.0
    assert reachable(to_polygon(THIN_STRIP), outline_measures(SQUARE_100)).is_empty


def test_the_middles_of_the_largest_disc_keep_its_radius_from_the_edge() -> None:
    area, measures = to_polygon(L_SHAPE * 10.0), outline_measures(SQUARE_100)
    middles = center_area(area, measures)
    spots = shapely.points(shapely.get_coordinates(middles))
    apart = shapely.distance(spots, area.exterior)
    assert np.all(apart <= measures.radius)
    assert np.all(apart >= 0.98 * (measures.radius - SLACK))


@given(
    half_height=st.floats(150.0, 400.0),
    hole=st.floats(0.0, 140.0),
    length=st.floats(100.0, 900.0),
    width=st.floats(15.0, 90.0),
    axis=st.floats(0.0, 180.0),
    tolerance=st.sampled_from((0.0, 3.0, 12.0)),
)
def test_straps_that_can_be_laid_never_pass_the_bound_on_them(
    half_height: float, hole: float, length: float, width: float, axis: float, tolerance: float
) -> None:
    whole = affinity.scale(shapely.Point(0.0, 0.0).buffer(1.0, quad_segs=12), 500.0, half_height)
    area = whole.difference(shapely.Point(90.0, 40.0).buffer(hole))
    width = min(width, length)
    request = StripRequest(kind=0, width=width, length=length, count=2000)
    laid = lay_strips(area, [request], direction=axis, tolerance=tolerance).laid(0)
    assert laid <= most_strips_along(area, axis, tolerance, length, width)


def test_straps_along_a_slab_are_counted_by_its_width_not_by_its_area() -> None:
    slab = shapely.box(0.0, 0.0, 2000.0, 1000.0)
    assert most_strips_along(slab, 0.0, 0.0, 1200.0, 40.0) == 25
    assert slab.area / (1200.0 * 40.0) > 41.0
    assert most_strips_along(slab, 90.0, 0.0, 1200.0, 40.0) == 0
    assert most_strips_along(slab, 0.0, 0.0, 1000.0, 40.0) == 50


def test_a_strap_longer_than_any_chord_fits_nowhere() -> None:
    round_ = affinity.scale(shapely.Point(0.0, 0.0).buffer(1.0, quad_segs=32), 1000.0, 500.0)
    for tolerance in (0.0, 5.0, 90.0):
        assert most_strips_along(round_, 0.0, tolerance, 2005.0, 40.0) == 0
    # Along the long axis a hole bars the way; a strap turned far enough passes beside it.
    barred = round_.difference(shapely.box(-50.0, -480.0, 50.0, 480.0))
    assert most_strips_along(barred, 0.0, 5.0, 1200.0, 40.0) == 0
    assert most_strips_along(barred, 0.0, 90.0, 900.0, 40.0) > 0


def test_many_short_straps_have_no_bound_by_lines_too_far_apart() -> None:
    assert most_strips_along(shapely.box(0.0, 0.0, 9000.0, 100.0), 0.0, 0.0, 12.0, 5.0) == 10**9
