"""Areas: signed distances and what an area holds, against GEOS."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from numba import njit
from shapely import affinity

from nestplan.geometry.pose import Turns
from nestplan.nesting.arrays.area_kernels import (
    SLACK,
    area_holds_point,
    crosses_boundary,
    depth_with_tail,
    furthest_along,
    signed_distance,
)
from nestplan.nesting.arrays.packing import pack
from nestplan.nesting.arrays.records import Areas
from nestplan.nesting.arrays.search_state import empty_rows
from nestplan.nesting.arrays.turned_shape_kernels import turn_shape
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from tests.nesting.arrays.small_problems import ELL, FIELD, layout, problem, ring_where


def test_a_signed_distance_is_wrong_by_less_than_its_slack_within_the_area():
    areas = pack(problem()).areas
    rng = np.random.default_rng(1)
    edge = shapely.boundary(FIELD)
    for x, y in rng.uniform((0.0, 0.0), (450.0, 340.0), (300, 2)):
        true = edge.distance(shapely.Point(x, y)) * (1.0 if FIELD.covers(shapely.Point(x, y)) else -1.0)
        assert abs(signed_distance.py_func(areas, 0, x, y) - true) <= SLACK * areas.cell[0]


def test_a_point_far_outside_lies_at_least_so_far_outside():
    areas = pack(problem()).areas
    assert signed_distance.py_func(areas, 0, 1000.0, 100.0) < -500.0


def test_rays_tell_points_in_the_hole_and_outside_from_those_inside():
    areas = pack(problem()).areas
    for x, y in np.random.default_rng(2).uniform((-20.0, -20.0), (470.0, 360.0), (300, 2)):
        assert area_holds_point.py_func(areas, 0, x, y) == FIELD.contains(shapely.Point(x, y))


def test_an_area_holds_a_ring_exactly_where_geos_says_so():
    on = layout(ells=1, bars=0)
    rng = np.random.default_rng(3)
    held = 0
    for _ in range(400):
        x, y, angle = rng.uniform((0.0, 0.0, 0.0), (450.0, 340.0, 360.0))
        on.place(0, on.shape_pose(0, x, y, angle))
        ring = ring_where(on, 0)
        margin = shapely.boundary(FIELD).distance(shapely.boundary(ring))
        if margin > 0.01:
            assert on.feasible() == FIELD.contains(ring)
            held += on.feasible()
    assert held > 50


@njit
def crosses_as_kernels_say(areas: Areas, edge: tuple[float, float, float, float]) -> bool:
    """A door from Python to what only kernels call."""
    return crosses_boundary(areas, 0, edge)


def test_an_edge_crosses_the_boundary_of_a_detailed_area_exactly_where_geos_says_so():
    """Short edges and long ones, some along an axis, on a star of 600 points with holes."""
    rng = np.random.default_rng(4)
    angles = np.arange(600) * 2.0 * np.pi / 600
    radii = 300.0 * rng.uniform(0.9, 1.0, 600)
    area = shapely.Polygon(np.column_stack([radii * np.cos(angles), radii * np.sin(angles)]))
    for x, y in rng.uniform(-200.0, 200.0, (12, 2)):
        area = area.difference(shapely.Point(x, y).buffer(rng.uniform(3.0, 30.0)))
    placed = Problem((area,), (Item(ELL, 0, (PlacementOption(0, Turns.any(), (Containment(ELL, area),)),)),))
    areas = pack(placed).areas
    crossing = 0
    for _ in range(600):
        ends = rng.uniform(-300.0, 300.0, 2) + rng.choice([5.0, 50.0, 300.0]) * rng.uniform(-1.0, 1.0, (2, 2))
        if rng.random() < 0.2:
            ends[1, rng.integers(2)] = ends[0, 0] if rng.random() < 0.5 else ends[0, 1]
        crosses = shapely.boundary(area).intersects(shapely.LineString(ends))
        assert crosses_as_kernels_say(areas, tuple(ends.ravel())) == crosses
        crossing += crosses
    assert 100 < crossing < 500


def test_a_depth_goes_on_below_its_tail_without_a_jump_and_never_to_nothing():
    assert depth_with_tail.py_func(3.0, 1.0) == 3.0
    assert depth_with_tail.py_func(1.0 - 1e-9, 1.0) == pytest.approx(1.0)
    values = [depth_with_tail.py_func(depth, 1.0) for depth in (-100.0, -10.0, 0.0, 0.9)]
    assert values == sorted(values)
    assert values[0] > 0.0


def test_how_far_a_row_reaches_is_the_furthest_of_its_turned_corners():
    shapes = pack(problem()).shapes
    rows = empty_rows(shapes, 1)
    turn_shape(shapes, rows, 0, 0, 30.0)
    middle = np.array(pack(problem()).options.middle[0])
    turned = affinity.rotate(shapely.Polygon(ELL - middle), 30.0, origin=(0.0, 0.0))
    along = shapely.get_coordinates(turned) @ (0.6, 0.8)
    assert furthest_along.py_func(rows, 0, 0.6, 0.8) == pytest.approx(along.max(), abs=0.02)
