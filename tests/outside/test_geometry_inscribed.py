"""Inscribed discs, rectangles and openings against GEOS and against plain counting."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nestplan.geometry.inscribed import largest_disc, largest_rectangle, opening
from nestplan.geometry.ring import Ring, to_polygon
from tests.geometry.test_ring import star_shaped_rings
from tests.small_hides import RINGS


@given(star_shaped_rings())
def test_the_largest_disc_is_the_one_geos_finds(ring: Ring) -> None:
    # shapely.maximum_inscribed_circle gives the line from the centre to the edge (GEOS 3.9 and later).
    witness = shapely.maximum_inscribed_circle(to_polygon(ring), tolerance=0.001).length
    x, y, radius = largest_disc(to_polygon(ring), 0.01)
    assert radius == pytest.approx(witness, abs=0.011)
    assert radius <= to_polygon(ring).exterior.distance(shapely.Point(x, y)) + 1e-9


@st.composite
def cell_areas(draw: st.DrawFn) -> tuple[shapely.Geometry, list[list[bool]]]:
    """An area made of whole 10 mm cells of a 5 x 6 grid, and which they are."""
    cells = draw(st.lists(st.lists(st.booleans(), min_size=6, max_size=6), min_size=5, max_size=5))
    cells[0][0] = True
    boxes = [
        shapely.box(10 * column, 10 * row, 10 * column + 10, 10 * row + 10)
        for row, column in itertools.product(range(5), range(6))
        if cells[row][column]
    ]
    return shapely.union_all(boxes), cells


def largest_block_of(cells: list[list[bool]]) -> int:
    """The most cells in an all-true block, by trying every block."""
    grid = np.array(cells)
    return max(
        (top - bottom) * (right - left)
        for bottom, left in itertools.product(range(5), range(6))
        for top, right in itertools.product(range(bottom + 1, 6), range(left + 1, 7))
        if grid[bottom:top, left:right].all()
    )


@given(cell_areas())
@settings(max_examples=60)
def test_the_largest_upright_rectangle_is_the_one_counting_finds(
    drawn: tuple[shapely.Geometry, list[list[bool]]],
) -> None:
    # In an area of whole cells some largest upright rectangle has its sides on cell lines.
    area, cells = drawn
    found = largest_rectangle(area, angle=0)
    assert found.area == pytest.approx(100 * largest_block_of(cells), rel=1e-5)
    assert area.buffer(1e-9).covers(shapely.Polygon(found.corners))


def test_the_largest_rectangle_in_a_triangle_has_half_its_area() -> None:
    # Standing on a side and t of the height tall, a rectangle has 2 t (1 - t) of the triangle's area: half of it
    # at t = 1/2 (elementary geometry).
    for triangle in ([(0, 0), (100, 0), (0, 100)], [(0, 0), (120, 10), (40, 90)]):
        polygon = shapely.Polygon(triangle)
        assert largest_rectangle(polygon).area >= 0.99 * polygon.area / 2


@pytest.mark.parametrize("name", RINGS)
@pytest.mark.parametrize("width", [8, 25])
def test_openings_hold_every_disc_that_fits_and_nothing_else(name: str, width: float) -> None:
    polygon = to_polygon(RINGS[name])
    rng = np.random.default_rng(1)
    xmin, ymin, xmax, ymax = polygon.bounds
    spots = shapely.points(rng.uniform((xmin, ymin), (xmax, ymax), size=(3000, 2)))
    spots = spots[shapely.contains(polygon, spots)]
    centers = spots[shapely.distance(polygon.exterior, spots) >= width / 2]
    wide = opening(polygon, width, side="outside")
    discs = shapely.union_all(shapely.buffer(centers, width / 2, quad_segs=16))
    assert discs.difference(wide).area < 1e-6
    narrow = opening(polygon, width)
    if not narrow.is_empty:
        eroded = shapely.buffer(polygon, -width / 2 + width / 50, quad_segs=64)
        inside = spots[shapely.contains(narrow, spots)]
        assert shapely.distance(eroded, inside).max(initial=0.0) <= width / 2 + width / 50
