from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from nestplan.geometry.ring import Ring
from nestplan.geometry.roughness import (
    DEPTH,
    WIDTH,
    area_without_bumps,
    area_without_dips,
    without_bumps,
    without_dips,
)


def rough(seed: int, count: int, roughness: float, wave: float = 0.1) -> Ring:
    """A wavy outline about 100 mm across, each of its points off by up to so many mm."""
    rng = np.random.default_rng(seed)
    turns = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
    reach = 100.0 * (1.0 + wave * np.cos(3.0 * turns + rng.uniform(0.0, 6.0)))
    reach += rng.uniform(-roughness, roughness, count)
    return reach[:, None] * np.column_stack((np.cos(turns), np.sin(turns)))


def far(one: Ring, other: Ring) -> float:
    """The greatest distance between two outlines, mm."""
    return float(shapely.hausdorff_distance(shapely.LinearRing(one), shapely.LinearRing(other)))


@given(st.integers(0, 10**6), st.integers(100, 900), st.floats(0.0, 3.0), st.floats(0.0, 0.5))
def test_what_is_smoothed_lies_on_its_safe_side_and_near(
    seed: int, count: int, off: float, wave: float
) -> None:
    ring = rough(seed, count, off, wave)
    wider, narrower = without_dips(ring), without_bumps(ring)
    hair = 1e-9
    assert Polygon(wider).buffer(hair).covers(Polygon(ring))
    assert Polygon(ring).buffer(hair).covers(Polygon(narrower))
    for found in (wider, narrower):
        # Depth is measured square to a bridge; of a needle that leans over, the tip may be a little farther from it.
        assert far(found, ring) <= (DEPTH if off <= 0.3 else 1.5 * DEPTH) + 1e-9
        assert set(map(tuple, found.tolist())) <= set(map(tuple, ring.tolist()))


def test_points_that_lie_off_by_a_third_of_a_millimetre_are_thinned_to_a_fifth() -> None:
    ring = rough(1, 1200, 0.3, wave=0.05)
    assert len(without_dips(ring)) < len(ring) / 5
    assert len(without_bumps(ring)) < len(ring) / 5


@pytest.mark.parametrize(
    ("deep", "wide", "stays"),
    [(0.5 * DEPTH, 2.0, False), (2.0 * DEPTH, 2.0, True), (0.5 * DEPTH, 2.0 * WIDTH, True)],
)
def test_only_shallow_and_narrow_dips_and_bumps_go(deep: float, wide: float, stays: bool) -> None:
    for side, smoothed in ((1.0, without_dips), (-1.0, without_bumps)):
        square = [(0.0, 0.0), (400.0, 0.0), (400.0, 400.0)]
        square += [(200.0 + wide / 2, 400.0), (200.0, 400.0 - side * deep), (200.0 - wide / 2, 400.0)]
        # Many points on the last side, none of them wide of it.
        square += [(0.0, float(y)) for y in np.linspace(400.0, 3.0, 120)]
        found = smoothed(np.array(square))
        assert ((200.0, 400.0 - side * deep) in set(map(tuple, found.tolist()))) == stays


def test_a_ring_of_few_points_is_left_as_it_is() -> None:
    ring = rough(2, 60, 0.3)
    assert without_dips(ring) is ring
    assert without_bumps(ring) is ring


def test_an_area_is_smoothed_with_its_holes_and_parts_on_the_side_asked_for() -> None:
    outer, hole, island = rough(3, 800, 0.3), rough(4, 300, 0.3) * 0.4, rough(5, 300, 0.3) * 0.1
    area = shapely.MultiPolygon([Polygon(outer, [hole]), Polygon(island)])
    assert area.is_valid
    less, more = area_without_bumps(area), area_without_dips(area)
    assert area.buffer(1e-9).covers(less)
    assert more.buffer(1e-9).covers(area)
    for found in (less, more):
        assert found.is_valid
        assert len(found.geoms) == 2
        assert shapely.get_num_coordinates(found) < shapely.get_num_coordinates(area) / 2


def test_a_part_is_left_as_it_is_where_a_hole_lies_in_what_would_be_cut_off() -> None:
    ring = rough(6, 600, 0.3)
    cut_off = shapely.get_parts(Polygon(ring).difference(Polygon(without_bumps(ring))))
    bump = max(cut_off, key=lambda part: part.area)
    middle = shapely.get_coordinates(shapely.point_on_surface(bump))[0]
    speck = middle + 0.01 * np.array([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)])
    area = Polygon(ring, [speck])
    assert area.is_valid
    assert area_without_bumps(area).equals(area)
