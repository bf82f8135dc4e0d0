from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from nestplan.errors import InputError, ShapeError
from nestplan.geometry.ring import (
    MOST_POINTS,
    Ring,
    area,
    bounds,
    centroid,
    disc_ring,
    line_ring,
    make_ring,
    mirror,
    offset_inward,
    offset_outward,
    perimeter,
    signed_area,
    simplify_inside,
    simplify_outside,
    to_polygon,
    to_rings,
)
from tests.small_hides import BROKEN_RINGS, COMB, L_SHAPE, RIGHT_TRIANGLE, RINGS, SQUARE_100, TWO_ROOMS


@st.composite
def star_shaped_rings(draw: st.DrawFn, most: int = 24) -> Ring:
    """Rings seen whole from the origin, ragged or smooth, of 3 to `most` points."""
    count = draw(st.integers(3, most))
    radii = draw(st.lists(st.floats(5, 100), min_size=count, max_size=count))
    turn = draw(st.floats(0, 2 * math.pi))
    angles = turn + np.arange(count) * 2 * math.pi / count
    points = np.column_stack((radii * np.cos(angles), radii * np.sin(angles)))
    try:
        return make_ring(points)
    except ShapeError:
        assume(False)
        raise


@pytest.mark.parametrize("name", RINGS)
def test_a_sound_ring_is_taken_either_way_round_closed_or_not(name: str) -> None:
    ring = RINGS[name]
    assert signed_area(make_ring(ring)) > 0
    np.testing.assert_array_equal(make_ring(ring), ring)
    np.testing.assert_array_equal(make_ring(ring[::-1]), ring)
    np.testing.assert_array_equal(np.sort(make_ring([*ring, ring[0]]), axis=0), np.sort(ring, axis=0))


@pytest.mark.parametrize("name", BROKEN_RINGS)
def test_a_broken_ring_is_refused_with_what_and_where(name: str) -> None:
    points, says = BROKEN_RINGS[name]
    with pytest.raises(ShapeError) as caught:
        make_ring(points, place="outline")
    assert says in str(caught.value)
    assert str(caught.value).startswith("outline: ")


@pytest.mark.parametrize("points", [[1, 2, 3], [(0, 0, 0)] * 3, [(0, 0), (1,)], [], "ring", [("a", "b")] * 3])
def test_what_is_no_list_of_pairs_is_refused(points: object) -> None:
    with pytest.raises(ShapeError):
        make_ring(points)  # type: ignore[arg-type]


def test_a_ring_with_too_many_points_is_refused_at_once() -> None:
    with pytest.raises(ShapeError, match="is the most"):
        make_ring(np.zeros((MOST_POINTS + 1, 2)))


def test_repeated_points_are_dropped() -> None:
    doubled = np.repeat(SQUARE_100, 3, axis=0)
    assert len(make_ring(doubled)) == 4


def test_a_ring_is_measured() -> None:
    assert area(RIGHT_TRIANGLE) == 600
    assert signed_area(RIGHT_TRIANGLE[::-1]) == -600
    assert perimeter(RIGHT_TRIANGLE) == 120
    assert bounds(RIGHT_TRIANGLE) == (0, 0, 30, 40)
    assert centroid(RIGHT_TRIANGLE) == pytest.approx((10, 40 / 3))
    assert centroid(RIGHT_TRIANGLE + 1e5) == pytest.approx((1e5 + 10, 1e5 + 40 / 3))


def test_the_mirror_image_runs_counter_clockwise_and_comes_back() -> None:
    assert signed_area(mirror(L_SHAPE)) == signed_area(L_SHAPE)
    assert bounds(mirror(L_SHAPE)) == (-200, 0, 0, 150)
    np.testing.assert_array_equal(mirror(mirror(L_SHAPE)), L_SHAPE)


def test_polygons_and_rings_turn_into_each_other() -> None:
    hole = make_ring([(40, 40), (60, 40), (60, 60), (40, 60)])
    polygon = to_polygon(SQUARE_100, [hole[::-1]])
    assert polygon.area == 9600
    outer, holes = to_rings(polygon)
    assert area(outer) == 10_000
    assert [signed_area(ring) for ring in holes] == [400]
    with pytest.raises(ShapeError):
        to_rings(type(polygon)())


def test_straight_edges_grow_by_exactly_the_distance() -> None:
    xmin, ymin, xmax, ymax = bounds(offset_outward(SQUARE_100, 10))
    assert (xmin, ymin, xmax, ymax) == pytest.approx((-10, -10, 110, 110), abs=0.05)
    assert xmax >= 110
    assert offset_outward(SQUARE_100, 0).tolist() == SQUARE_100.tolist()


def test_slots_that_growing_closes_are_filled() -> None:
    grown = to_polygon(offset_outward(COMB, 6))
    assert grown.covers(to_polygon(make_ring([(0, 0), (110, 0), (110, 80), (0, 80)])))
    assert not to_polygon(offset_outward(COMB, 4)).covers(to_polygon(SQUARE_100 * 0.8))


def test_shrinking_can_part_a_ring_or_leave_nothing() -> None:
    parts = offset_inward(TWO_ROOMS, 6)
    assert len(parts) == 2
    assert [area(part) for part in parts] == pytest.approx([48 * 48, 48 * 48], rel=0.01)
    assert len(offset_inward(TWO_ROOMS, 4)) == 1
    assert offset_inward(TWO_ROOMS, 31) == []
    assert offset_inward(L_SHAPE, 0)[0].tolist() == L_SHAPE.tolist()


@given(star_shaped_rings(), st.floats(0.5, 40), st.sampled_from([0.01, 0.05, 0.5]))
@settings(max_examples=50)
def test_growing_is_monotone_and_shrinking_undoes_it_no_further(
    ring: Ring, distance: float, tolerance: float
) -> None:
    grown = offset_outward(ring, distance, tolerance)
    assert signed_area(grown) > area(ring)
    back = offset_inward(grown, distance, tolerance)
    # Growing then shrinking (a closing) never loses the ring itself, but for the tolerance spent twice.
    lost = to_polygon(ring).difference(to_polygon(back[0]).buffer(2 * tolerance + 1e-6))
    assert lost.area < 1e-6


@pytest.mark.parametrize("bad", [(-1.0, 0.05), (math.nan, 0.05), (1.0, 0.0), (1.0, -1.0)])
def test_distances_and_tolerances_are_checked(bad: tuple[float, float]) -> None:
    for function in (offset_outward, offset_inward):
        with pytest.raises(InputError):
            function(SQUARE_100, *bad)


def test_a_disc_is_drawn_on_the_side_asked_for() -> None:
    true = math.pi * 50**2
    outside, inside = disc_ring((3, 4), 50), disc_ring((3, 4), 50, side="inside")
    assert area(outside) > true > area(inside)
    assert area(outside) - area(inside) < 2 * 0.05 * 2 * math.pi * 50
    assert np.hypot(*(outside - (3, 4)).T).max() <= 50.05 + 1e-9
    assert np.hypot(*(inside - (3, 4)).T) == pytest.approx(50)
    assert len(disc_ring((0, 0), 0.01)) == 8
    for radius in (0.0, -1.0, math.inf):
        with pytest.raises(InputError):
            disc_ring((0, 0), radius)


def test_a_line_becomes_a_band_with_round_ends() -> None:
    band = line_ring([(0, 0), (100, 0)], 10)
    assert area(band) == pytest.approx(100 * 10 + math.pi * 25, rel=0.01)
    assert area(band) > 100 * 10 + math.pi * 25
    bent = line_ring([(0, 0), (100, 0), (100, 0), (100, 80)], 10)
    assert area(bent) == pytest.approx(180 * 10 + math.pi * 25 - 25 + math.pi * 25 / 4, rel=0.01)
    assert area(line_ring([(7, 7)], 10)) == pytest.approx(math.pi * 25, rel=0.02)
    with pytest.raises(ShapeError):
        line_ring([], 10)
    with pytest.raises(InputError):
        line_ring([(0, 0), (1, 1)], 0)


@pytest.mark.parametrize("name", RINGS)
def test_simplifying_a_ring_of_corners_keeps_it(name: str) -> None:
    for simplify in (simplify_inside, simplify_outside):
        assert len(simplify(RINGS[name], 0.01)) <= len(RINGS[name])


def test_simplifying_a_finely_drawn_disc_drops_most_points() -> None:
    disc = disc_ring((0, 0), 100, 0.001)
    assert len(disc) > 400
    for simplify in (simplify_inside, simplify_outside):
        assert len(simplify(disc, 0.5)) < len(disc) / 10
