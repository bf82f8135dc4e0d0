"""Offsets against Steiner's formula and against GEOS's predicates.

Steiner's formula: a convex set of area A and perimeter P grown by r has area A + P r + pi r² (J. Steiner, Über
parallele Flächen, 1840; R. Schneider, Convex Bodies: The Brunn-Minkowski Theory, 2nd ed. 2014, section 4.2).
Distances are measured and containment is judged by GEOS, which took no part in making the offsets.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.geometry.ring import (
    Ring,
    area,
    offset_inward,
    offset_outward,
    perimeter,
    simplify_inside,
    simplify_outside,
    to_polygon,
)
from tests.geometry.test_ring import star_shaped_rings
from tests.small_hides import RINGS

DISTANCES = st.floats(0.2, 60)
TOLERANCES = st.sampled_from([0.01, 0.05, 0.5])


@st.composite
def convex_rings(draw: st.DrawFn) -> Ring:
    """Polygons inscribed in an ellipse."""
    angles = draw(st.lists(st.integers(0, 359), min_size=3, max_size=20, unique=True).map(sorted))
    turns = np.radians(angles)
    wide, high = draw(st.floats(5, 500)), draw(st.floats(5, 500))
    return np.column_stack((wide * np.cos(turns), high * np.sin(turns)))


def edge_points(ring: Ring) -> shapely.Geometry:
    """Points all along the ring, its corners among them."""
    line = shapely.LinearRing(ring)
    return shapely.points(shapely.get_coordinates(shapely.segmentize(line, line.length / 400)))


@given(convex_rings(), DISTANCES, TOLERANCES)
def test_convex_growth_obeys_steiners_formula(ring: Ring, distance: float, tolerance: float) -> None:
    grown = area(offset_outward(ring, distance, tolerance))
    steiner = area(ring) + perimeter(ring) * distance + math.pi * distance**2
    farthest = area(ring) + perimeter(ring) * (distance + tolerance) + math.pi * (distance + tolerance) ** 2
    assert steiner * (1 - 1e-12) <= grown <= farthest


@given(star_shaped_rings(), DISTANCES, TOLERANCES)
def test_a_grown_outline_is_never_inside_the_true_one_nor_far_outside(
    ring: Ring, distance: float, tolerance: float
) -> None:
    grown = offset_outward(ring, distance, tolerance)
    away = shapely.distance(to_polygon(ring), edge_points(grown))
    assert away.min() >= distance - 1e-9
    assert away.max() <= distance + tolerance + 1e-9
    assert to_polygon(grown).is_valid


@given(star_shaped_rings(), DISTANCES, TOLERANCES)
def test_a_shrunk_outline_is_never_outside_the_true_one_nor_far_inside(
    ring: Ring, distance: float, tolerance: float
) -> None:
    whole = to_polygon(ring)
    for part in offset_inward(ring, distance, tolerance):
        away = shapely.distance(whole.exterior, edge_points(part))
        assert away.min() >= distance - 1e-9
        assert away.max() <= distance + tolerance + 1e-9
        assert whole.contains(to_polygon(part))


@given(star_shaped_rings(), DISTANCES)
def test_shrinking_leaves_as_much_as_geos_does(ring: Ring, distance: float) -> None:
    ours = sum(area(part) for part in offset_inward(ring, distance, 0.001))
    # GEOS may smooth the outline by a hundredth of the distance (its buffer's own simplification).
    slack = 0.01 * distance + 0.001
    most = shapely.buffer(to_polygon(ring), -distance + slack, quad_segs=64).area
    least = shapely.buffer(to_polygon(ring), -distance - slack, quad_segs=64).area
    assert least - 1e-6 <= ours <= most + 1e-6


@pytest.mark.parametrize("name", RINGS)
@pytest.mark.parametrize("distance", [0.5, 3, 6.35, 12.7, 40])
def test_every_named_ring_grows_rightly(name: str, distance: float) -> None:
    grown = offset_outward(RINGS[name], distance)
    away = shapely.distance(to_polygon(RINGS[name]), edge_points(grown))
    assert away.min() >= distance - 1e-9
    assert away.max() <= distance + 0.05 + 1e-9
    filled = shapely.Polygon(shapely.buffer(to_polygon(RINGS[name]), distance * 0.98, quad_segs=64).exterior)
    assert to_polygon(grown).contains(filled)


@given(star_shaped_rings(most=60), st.floats(0.05, 10))
def test_simplified_rings_err_on_their_side_only(ring: Ring, tolerance: float) -> None:
    whole = to_polygon(ring)
    outside, inside = simplify_outside(ring, tolerance), simplify_inside(ring, tolerance)
    assert len(outside) <= len(ring)
    assert len(inside) <= len(ring)
    assert to_polygon(outside).covers(whole)
    assert whole.covers(to_polygon(inside))
    assert shapely.distance(whole, edge_points(outside)).max() <= tolerance + 1e-9
    assert shapely.distance(whole.exterior, edge_points(inside)).max() <= tolerance + 1e-9
