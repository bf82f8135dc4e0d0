"""Places for one shape among those that lie: they fit by GEOS, and the rasters say what they should."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import Polygon

from nestplan.nesting.arrays.construct_kernels import (
    add_shape,
    allows_turn,
    fill_depth,
    find_places,
    has_twin,
    mark_inside,
    value_at,
)
from nestplan.nesting.arrays.records import FieldOccupancy, Grid, PlaceQuery, PlaceWorkspace
from nestplan.nesting.arrays.search_state import empty_rows
from nestplan.nesting.construct.prepared_problem import PreparedProblem
from nestplan.nesting.problem import Item, Poses
from tests.nesting.arrays.small_problems import ELL, FIELD, problem

GRID = Grid(-10.0, -10.0, 5.0, 95, 74)
REACH = 60.0


def occupied(prepared: PreparedProblem) -> FieldOccupancy:
    """The field with one bar in its middle."""
    occupancy = FieldOccupancy(
        rows=empty_rows(prepared.shapes, 3),
        x=np.zeros(3),
        y=np.zeros(3),
        number=np.zeros(1, np.int64),
        grid=GRID,
        room=np.full((GRID.rows, GRID.columns), REACH, np.float32),
    )
    add_shape(prepared.shapes, occupancy, 1, 250.0, 100.0, 20.0, REACH)
    return occupancy


def bar_of(occupancy: FieldOccupancy) -> Polygon:
    rows = occupancy.rows
    return Polygon(np.column_stack([rows.corner_x[0, :4] + 250.0, rows.corner_y[0, :4] + 100.0]))


def test_room_is_the_distance_to_what_lies_and_negative_within_it():
    occupancy = occupied(PreparedProblem.of(problem()))
    bar = bar_of(occupancy)
    assert occupancy.number[0] == 1
    for j in range(0, GRID.rows, 4):
        for i in range(0, GRID.columns, 4):
            node = shapely.Point(GRID.left + i * GRID.cell, GRID.bottom + j * GRID.cell)
            true = bar.exterior.distance(node) * (-1.0 if bar.contains(node) else 1.0)
            assert occupancy.room[j, i] == pytest.approx(min(true, REACH), abs=1e-3)


def test_places_found_fit_beside_what_lies():
    prepared = PreparedProblem.of(problem())
    occupancy = occupied(prepared)
    depth = np.empty((GRID.rows, GRID.columns), np.float32)
    records = prepared.shapes, prepared.areas, prepared.options
    fill_depth(*records, prepared.disc_depths, 0, GRID, depth)
    nodes = GRID.rows * GRID.columns
    query = PlaceQuery(0, 800, 30.0, depth, np.zeros_like(depth), prepared.rims[0], np.array([0.0, 90.0]))
    workspace = PlaceWorkspace(
        rows=empty_rows(prepared.shapes, 2),
        clearance=np.empty_like(depth),
        open_nodes=np.empty(nodes, np.int32),
        snug_nodes=np.empty(nodes, np.int32),
        best=np.empty((12, 4)),
        random_state=np.array([7], np.uint64),
    )
    places = np.empty((4, 4))
    found = find_places(*records, occupancy, query, workspace, places)
    assert found == 4
    assert (np.diff(places[:, 3]) >= 0.0).all()
    mx, my = prepared.options.middle[0]
    for x, y, angle, _ in places.tolist():
        turn = np.radians(angle)
        poses = Poses.none(1)
        poses.x[0] = x - (np.cos(turn) * mx - np.sin(turn) * my)
        poses.y[0] = y - (np.sin(turn) * mx + np.cos(turn) * my)
        poses.angle[0] = angle
        ring = Polygon(poses.ring_of(Item(ELL, 0, ()), 0))
        assert FIELD.contains(ring)
        assert not ring.intersects(bar_of(occupancy))


def test_nodes_inside_an_area_are_marked():
    areas = PreparedProblem.of(problem()).areas
    raster = np.zeros((GRID.rows, GRID.columns), np.float32)
    mark_inside(areas, 0, GRID, raster)
    edge = shapely.boundary(FIELD)
    for j in range(0, GRID.rows, 3):
        for i in range(0, GRID.columns, 3):
            node = shapely.Point(GRID.left + i * GRID.cell, GRID.bottom + j * GRID.cell)
            if edge.distance(node) > 2.0:
                assert raster[j, i] == float(FIELD.contains(node))


def test_a_raster_is_read_between_its_nodes_and_far_below_nought_off_it():
    raster = np.arange(12.0).reshape(3, 4)
    grid = Grid(10.0, 20.0, 2.0, 4, 3)
    assert value_at.py_func(raster, grid, 11.0, 21.0) == pytest.approx(2.5)
    assert value_at.py_func(raster, grid, 9.0, 21.0) < -1e8


def test_turns_at_the_very_end_of_an_interval_are_allowed():
    options = PreparedProblem.of(problem()).options._replace(
        turn_low=np.full(4, 10.0), turn_high=np.full(4, 20.0)
    )
    assert [allows_turn.py_func(options, 0, angle) for angle in (9.0, 10.0, 20.0, 21.0)] == [
        False,
        True,
        True,
        False,
    ]


def test_a_pose_near_an_earlier_one_is_its_twin():
    poses = np.array(
        [[0.0, 0.0, 0.0, 1.0], [1.0, 1.0, 2.0, 1.1], [1.0, 1.0, 60.0, 1.2], [50.0, 0.0, 0.0, 1.3]]
    )
    assert [has_twin.py_func(poses, k, 5.0) for k in range(4)] == [False, True, False, False]
