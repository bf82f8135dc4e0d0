"""Overlap of two turned shapes: exact against GEOS, and a depth that grows with the overlap."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from nestplan.nesting.arrays import overlap_kernels
from nestplan.nesting.arrays.overlap_kernels import (
    disc_overlap,
    ring_holds_point,
    ring_in,
    segments_cross,
    tight_boxes_apart,
)
from nestplan.nesting.arrays.packing import pack
from nestplan.nesting.arrays.search_state import empty_rows
from nestplan.nesting.arrays.turned_shape_kernels import filled_up, turn_shape
from tests.nesting.arrays.small_problems import BAR, layout, problem, ring_where


def two_rows():
    """The L-shape and the bar, not turned."""
    shapes = pack(problem()).shapes
    rows = empty_rows(shapes, 2)
    turn_shape(shapes, rows, 0, 0, 0.0)
    turn_shape(shapes, rows, 1, 1, 0.0)
    return rows


def test_segments_cross_where_geos_says_so():
    rng = np.random.default_rng(1)
    crossing = 0
    for ends in rng.uniform(0.0, 10.0, (500, 4, 2)):
        verdict = segments_cross.py_func(*ends.ravel())
        assert verdict == shapely.LineString(ends[:2]).crosses(shapely.LineString(ends[2:]))
        crossing += verdict
    assert 50 < crossing < 450


def test_a_ring_holds_the_points_that_geos_finds_in_it():
    rows = two_rows()
    ring = shapely.Polygon(np.column_stack([rows.corner_x[0, :6], rows.corner_y[0, :6]]))
    assert rows.corner_count[0] == 6
    for x, y in np.random.default_rng(2).uniform(-60.0, 60.0, (300, 2)):
        assert ring_holds_point.py_func(rows, 0, x, y) == ring.contains(shapely.Point(x, y))


def test_two_shapes_overlap_where_geos_says_so_also_one_within_the_other():
    on = layout(ells=1, bars=1)
    rng = np.random.default_rng(3)
    overlapping = 0
    for _ in range(400):
        for item, option in ((0, 0), (1, 1)):
            x, y, angle = rng.uniform((150.0, 100.0, 0.0), (300.0, 250.0, 360.0))
            on.place(item, on.shape_pose(option, x, y, angle))
        first, second = ring_where(on, 0), ring_where(on, 1)
        if first.intersects(second) and first.intersection(second).area < 0.1:
            continue
        if not first.intersects(second) and first.distance(second) < 0.01:
            continue
        verdict = float(on.state.pair_loss[0, 1]) > 0.0
        assert verdict == first.intersects(second)
        overlapping += verdict
    assert 50 < overlapping < 350


def test_shapes_whose_smallest_boxes_lie_apart_do_so_where_geos_says_it():
    shapes = pack(problem()).shapes
    rows = empty_rows(shapes, 2)
    rng = np.random.default_rng(4)
    apart = 0
    for _ in range(300):
        for row in (0, 1):
            turn_shape(shapes, rows, row, row, float(rng.uniform(0.0, 360.0)))
        dx, dy = rng.uniform(-120.0, 120.0, 2)
        rings = [
            np.column_stack([rows.corner_x[k], rows.corner_y[k]])[: rows.corner_count[k]] for k in (0, 1)
        ]
        moved = shapely.Polygon(rings[0] + (dx, dy))
        boxes = [shapely.minimum_rotated_rectangle(ring) for ring in (moved, shapely.Polygon(rings[1]))]
        verdict = tight_boxes_apart.py_func(rows, 0, rows, 1, dx, dy)
        if shapely.distance(*boxes) > 1e-6 or shapely.intersection(*boxes).area > 1e-6:
            assert verdict == boxes[0].disjoint(boxes[1])
        assert not (verdict and moved.intersects(shapely.Polygon(rings[1])))
        apart += verdict
    assert 50 < apart < 250


def test_the_depth_of_discs_grows_as_shapes_come_closer_and_never_ends(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(overlap_kernels, "filled_up", filled_up.py_func)
    rows = two_rows()
    found = [
        float(disc_overlap.py_func(rows, 1, 1, np.float32(dx), np.float32(0.0), np.float32(1.0))[0])
        for dx in (300, 200, 60, 5)
    ]
    assert found == sorted(found)
    assert found[0] > 0.0
    assert found[3] > 100.0 * found[0]


def test_the_ring_in_a_row_has_its_own_corners_and_runs_alone():
    rows = two_rows()
    bar = ring_in.py_func(rows, 1)
    assert len(bar.x) == len(bar.y) == len(BAR)
    assert len(bar.run_box) == 1
    assert np.array_equal(bar.run_box[0], rows.box[1])
