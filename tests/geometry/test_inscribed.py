from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import affinity

from nestplan.errors import InputError, ShapeError
from nestplan.geometry.inscribed import largest_disc, largest_rectangle, opening, poles
from nestplan.geometry.ring import disc_ring, to_polygon
from tests.small_hides import HIDE_LIKE, L_SHAPE, RINGS, SQUARE_100, THIN_STRIP, TWO_ROOMS


@pytest.mark.parametrize("name", RINGS)
def test_what_is_inscribed_lies_inside(name: str) -> None:
    polygon = to_polygon(RINGS[name])
    x, y, radius = largest_disc(polygon)
    assert polygon.covers(to_polygon(disc_ring((x, y), radius, side="inside")).buffer(-1e-6))
    for rectangle in (largest_rectangle(polygon), largest_rectangle(polygon, angle=30)):
        assert polygon.covers(shapely.Polygon(rectangle.corners))
        assert rectangle.width >= rectangle.height > 0
        assert 0 <= rectangle.angle < 180
        assert shapely.Polygon(rectangle.corners).area == pytest.approx(rectangle.area)
    for px, py, pr in poles(polygon):
        assert polygon.covers(to_polygon(disc_ring((px, py), pr, side="inside")).buffer(-1e-6))


def test_a_hole_is_kept_out() -> None:
    holed = shapely.Polygon(SQUARE_100, [[(40, 40), (60, 40), (60, 60), (40, 60)]])
    radius = largest_disc(holed)[2]
    # Touches two sides and the hole's corner: r (1 + sqrt 2) = 40 sqrt 2.
    assert radius == pytest.approx(40 * math.sqrt(2) / (1 + math.sqrt(2)), abs=0.1)
    assert largest_rectangle(holed, angle=0).area == pytest.approx(100 * 40, rel=1e-6)


def test_known_rectangles_are_found() -> None:
    assert largest_rectangle(to_polygon(L_SHAPE)).area == pytest.approx(200 * 60, rel=1e-6)
    tilted = affinity.rotate(shapely.box(0, 0, 300, 40), 33.3)
    found = largest_rectangle(tilted)
    assert (found.width, found.height, found.angle) == pytest.approx((300, 40, 33.3), abs=1e-3)
    strip = largest_rectangle(to_polygon(THIN_STRIP), angle=90)
    assert (strip.width, strip.height, strip.angle) == pytest.approx((1000, 20, 0), abs=1e-3)


def test_the_same_area_gives_the_same_rectangle() -> None:
    first, second = (largest_rectangle(to_polygon(HIDE_LIKE)) for _ in range(2))
    assert first == second


def test_several_parts_are_searched_as_one_area() -> None:
    parts = shapely.MultiPolygon([shapely.box(0, 0, 10, 10), shapely.box(20, 0, 50, 20)])
    assert largest_disc(parts)[2] == pytest.approx(10, abs=0.1)
    assert largest_rectangle(parts).area == pytest.approx(600)


def test_poles_do_not_overlap_and_come_greatest_first() -> None:
    discs = poles(HIDE_LIKE, most=12, share=1.0)
    assert len(discs) == 12
    assert (np.diff(discs[:, 2]) <= 2.0 * discs[0, 2] / 50).all()
    for one in range(12):
        for other in range(one):
            apart = math.hypot(*(discs[one, :2] - discs[other, :2]))
            assert apart >= discs[one, 2] + discs[other, 2] - 1e-9
    assert len(poles(HIDE_LIKE, share=0.3)) < 12


def test_opening_cuts_off_what_is_narrower_than_the_width() -> None:
    rooms = to_polygon(TWO_ROOMS)
    parted = opening(rooms, 12)
    assert len(parted.geoms) == 2
    assert rooms.covers(parted)
    assert len(opening(rooms, 8).geoms) == 1
    assert opening(rooms, 70).is_empty
    assert opening(rooms, 0).area == rooms.area
    corners = opening(to_polygon(SQUARE_100), 20).area
    assert corners == pytest.approx(10_000 - (4 - math.pi) * 100, rel=1e-3)


@pytest.mark.parametrize("name", RINGS)
@pytest.mark.parametrize("width", [5, 19, 45])
def test_the_two_openings_hold_the_true_one_between_them(name: str, width: float) -> None:
    polygon = to_polygon(RINGS[name])
    less, more = opening(polygon, width), opening(polygon, width, side="outside")
    assert less.difference(more.buffer(1e-6)).area < 1e-6
    assert more.difference(polygon.buffer(1e-6)).area == 0


def test_nothing_fits_in_nothing() -> None:
    for find in (largest_disc, largest_rectangle, poles):
        with pytest.raises(ShapeError):
            find(shapely.Polygon())
    with pytest.raises(InputError):
        largest_disc(to_polygon(SQUARE_100), 0)
    with pytest.raises(InputError):
        largest_rectangle(to_polygon(SQUARE_100), tolerance=0)
    with pytest.raises(InputError):
        opening(to_polygon(SQUARE_100), -1)
