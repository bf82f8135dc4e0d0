from __future__ import annotations

import math

import pytest
import shapely

from nestplan.errors import InputError
from nestplan.geometry.rectangle import Rectangle
from nestplan.geometry.ring import to_polygon
from nestplan.yields.offcuts import (
    LACE_WIDTH,
    disc_lace,
    largest_of_each_hide,
    measured_offcuts,
    offcuts_of,
    straight_lace,
)
from tests.small_hides import HIDE_LIKE, TWO_ROOMS


def test_offcuts_lie_in_what_is_left_and_are_drawn_with_few_points() -> None:
    left = to_polygon(HIDE_LIKE).difference(shapely.Point(600, 300).buffer(80, quad_segs=64))
    for offcut in offcuts_of("side", left, 60):
        outline = shapely.Polygon(offcut.outline, offcut.holes)
        assert left.covers(outline)
        assert outline.area == pytest.approx(offcut.area)
        assert outline.covers(shapely.Polygon(offcut.rectangle))
        assert offcut.disc is not None
        assert outline.exterior.distance(shapely.Point(offcut.disc[:2])) >= offcut.disc[2] - 1e-6
        assert len(offcut.outline) < 150


def test_rooms_joined_by_a_narrow_passage_are_two_offcuts() -> None:
    found = offcuts_of("side", to_polygon(TWO_ROOMS), 20)
    assert len(found) == 2
    # A room is 60 mm square; its corners are rounded by 10 mm, which takes 2.9 mm off each side of a square in it.
    assert all(53 < offcut.rectangle_height < 60 for offcut in found)
    assert len(offcuts_of("side", to_polygon(TWO_ROOMS), 8)) == 1


def test_of_each_hide_the_largest_offcut_is_told() -> None:
    rooms = offcuts_of("two rooms", to_polygon(TWO_ROOMS), 20)
    whole = offcuts_of("side", to_polygon(HIDE_LIKE), 60)
    largest = largest_of_each_hide((*rooms, *whole))
    assert largest == {"two rooms": max(each.area for each in rooms), "side": whole[0].area}
    assert largest_of_each_hide(()) == {}


def test_nothing_useful_leaves_no_offcut() -> None:
    assert offcuts_of("side", to_polygon(TWO_ROOMS), 80) == ()
    assert offcuts_of("side", shapely.Polygon(), 10) == ()


def test_lace_comes_from_the_better_of_disc_and_straight_strips() -> None:
    long = offcuts_of("side", shapely.box(0, 0, 2000, 60), 50)[0]
    assert long.lace == pytest.approx(math.floor(long.rectangle_height / LACE_WIDTH) * long.rectangle_width)
    round_one = offcuts_of("side", shapely.Point(0, 0).buffer(150, quad_segs=64), 50)[0]
    assert round_one.disc is not None
    assert round_one.lace == pytest.approx(disc_lace(2 * round_one.disc[2], LACE_WIDTH))


def test_a_disc_too_small_gives_no_lace() -> None:
    assert disc_lace(50, 5) == 0
    for width in (0, -1):
        with pytest.raises(InputError):
            disc_lace(200, width)
        with pytest.raises(InputError):
            straight_lace(Rectangle((0, 0), 100, 50, 0), width)


def test_the_largest_offcuts_of_all_hides_are_measured_first_and_none_twice() -> None:
    small = offcuts_of("first", shapely.box(0, 0, 100, 100), 20, measured=False)
    large = offcuts_of("second", shapely.box(0, 0, 500, 300), 20, measured=False)
    asked: list[int] = []

    def after_one() -> bool:
        asked.append(1)
        return len(asked) > 1

    first, second = measured_offcuts([*small, *large], stop=after_one)
    assert (first.rectangle_width, second.rectangle_width > 0) == (0.0, True)
    whole = measured_offcuts([first, second])
    assert whole[1] is second
    assert whole == (*offcuts_of("first", shapely.box(0, 0, 100, 100), 20), second)


def test_what_is_left_is_outlined_but_not_measured_once_time_is_up() -> None:
    asked: list[int] = []

    def after_one() -> bool:
        asked.append(1)
        return len(asked) > 1

    first, second = offcuts_of("side", to_polygon(TWO_ROOMS), 20, stop=after_one)
    assert first.rectangle_width > 0
    assert second.rectangle_width == 0
    assert second.area == pytest.approx(shapely.Polygon(second.outline).area)
