"""What is worked out before laying: rims, depths, demands and hardness."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import Polygon

from nestplan.geometry.pose import Turns
from nestplan.nesting.construct.prepared_problem import RIM_POINTS, PreparedProblem, hardest_first
from nestplan.nesting.problem import Containment, Item, PlacementOption, Problem
from tests.nesting.arrays.small_problems import BAR, ELL, FIELD, layout, problem

HALF = FIELD.intersection(shapely.box(0, 0, 200, 400))


def picky() -> PreparedProblem:
    """An L-shape that may lie anywhere, and bars of which one must keep to the left half."""
    items = [
        Item(ring, kind, (PlacementOption(0, Turns.any(), (Containment(ring, area),)),))
        for kind, (ring, area) in enumerate(((ELL, FIELD), (BAR, FIELD), (BAR, HALF)))
    ]
    return PreparedProblem.of(Problem((FIELD,), tuple(items)))


def test_a_layouts_arrays_serve_for_laying_too():
    on = layout()
    prepared = PreparedProblem.from_layout(on)
    assert prepared.shapes is on.shapes
    assert prepared.options is on.options


def test_points_of_a_rim_lie_on_the_ring_and_evenly():
    prepared = picky()
    for shape, rim in enumerate(prepared.rims):
        ring = Polygon(prepared.ring_of(shape)).exterior
        assert rim.shape == (RIM_POINTS, 2)
        assert max(ring.distance(shapely.Point(point)) for point in rim) < 1e-6


def test_the_main_edge_is_the_longest():
    assert picky().main_edges[1] % 180.0 == pytest.approx(0.0)


def test_leather_that_a_picky_item_needs_is_marked_as_asked_for():
    prepared = picky()
    demands = prepared.demands_on(0)
    assert len(demands) == 2
    grid = prepared.grid_of(0)
    shares = sorted(float(raster.mean()) * grid.rows * grid.columns * grid.cell**2 for _, raster in demands)
    assert shares == pytest.approx([HALF.area, FIELD.area], rel=0.02)
    assert sorted(size for size, _ in demands)[0] == pytest.approx(Polygon(BAR).area, rel=0.01)


def test_a_depth_raster_is_how_far_a_node_lies_inside_the_area():
    prepared = picky()
    raster, grid = prepared.depth_raster(2), prepared.grid_of(0)
    edge = shapely.boundary(HALF)
    for x, y in np.random.default_rng(1).uniform((20.0, 20.0), (400.0, 320.0), (100, 2)):
        i, j = round((x - grid.left) / grid.cell), round((y - grid.bottom) / grid.cell)
        node = shapely.Point(grid.left + i * grid.cell, grid.bottom + j * grid.cell)
        true = edge.distance(node) * (1.0 if HALF.covers(node) else -1.0)
        if true > -10.0:
            assert raster[j, i] == pytest.approx(true, abs=2.0)


def test_little_leather_makes_an_item_harder():
    prepared = picky()
    assert prepared.hardness[2] > prepared.hardness[1]
    assert hardest_first(prepared, [1, 2]) == [2, 1]


def test_equal_kinds_are_laid_together():
    prepared = PreparedProblem.of(problem(ells=3, bars=3))
    order = hardest_first(prepared, range(6))
    assert sorted(order[:3]) in ([0, 1, 2], [3, 4, 5])


def test_quarter_turns_are_counted_from_the_axis_of_the_field():
    turned = PreparedProblem.of(problem()).with_quarter_turns((30.0,))
    assert turned.options.turn_low[:4].tolist() == [30.0, 120.0, 210.0, 300.0]
    assert turned.options.turn_start.tolist() == [0, 4, 8, 12, 16]
