"""Distances and discs against GEOS."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import Polygon

from nestplan.nesting.arrays.packing_kernels import (
    Raster,
    inner_clearance,
    inscribed_discs,
    segment_distance,
    signed_distances,
)
from tests.nesting.arrays.small_problems import ELL, FIELD

EDGES = np.vstack(
    [
        np.hstack([points[:-1], points[1:]])
        for points in map(shapely.get_coordinates, (FIELD.exterior, FIELD.interiors[0]))
    ]
)


def test_the_distance_to_a_segment_is_that_of_geos():
    for px, py, ax, ay, bx, by in np.random.default_rng(1).uniform(-5.0, 5.0, (200, 6)):
        line = shapely.LineString([(ax, ay), (bx, by)])
        assert segment_distance(px, py, ax, ay, bx, by) == pytest.approx(line.distance(shapely.Point(px, py)))


def test_clearance_in_a_ring_is_positive_inside_and_negative_outside():
    ring = Polygon(ELL)
    for x, y in np.random.default_rng(2).uniform(-20.0, 110.0, (200, 2)):
        true = ring.exterior.distance(shapely.Point(x, y)) * (1 if ring.contains(shapely.Point(x, y)) else -1)
        assert inner_clearance(ELL, x, y) == pytest.approx(true)


@pytest.mark.parametrize(
    "nodes", [Raster(-10.0, -10.0, 12.5, 12.5, 39, 30), Raster(-5.0, 3.0, 3.1, 7.7, 150, 41)]
)
def test_signed_distances_at_nodes_are_exact(nodes):
    found = signed_distances(EDGES, nodes)
    assert found.shape == (nodes.rows, nodes.columns)
    x = nodes.left + np.arange(nodes.columns) * nodes.step_x
    y = nodes.bottom + np.arange(nodes.rows) * nodes.step_y
    spots = shapely.points(*np.meshgrid(x, y))
    sign = np.where(shapely.covers(FIELD, spots), 1.0, -1.0)
    assert found == pytest.approx(shapely.distance(shapely.boundary(FIELD), spots) * sign)


def test_the_first_inscribed_disc_is_the_largest_there_is():
    square = np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 80.0], [0.0, 80.0]])
    discs = inscribed_discs(square, 5, 0.99, 40)
    assert discs[0] == pytest.approx([40.0, 40.0, 40.0], abs=0.01)
    assert (np.diff(discs[:, 2]) <= 0.01).all(), "each is the largest left, but for a step of the search"


def test_no_more_discs_are_made_than_cover_what_is_asked():
    square = np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 80.0], [0.0, 80.0]])
    assert len(inscribed_discs(square, 16, 0.5, 40)) == 1
    assert len(inscribed_discs(square, 3, 0.99, 40)) == 3
