"""Spiral lace against the trade's disc table and on areas with an obvious answer."""

from __future__ import annotations

import pytest
import shapely
from hypothesis import example, given
from hypothesis import strategies as st

from nestplan.nesting.construct.spirals import lay_laces, spiral_diameter, spiral_length


def test_the_spiral_gives_the_length_of_the_published_disc_table():
    # Area of the ring over the width, in feet of lace for a 2 in hole: shared arithmetic of the trade.
    for inches, width, feet in [(6, 1 / 8, 16.8), (8, 3 / 16, 20.9), (10, 1 / 4, 25.1), (12, 1 / 8, 73.3)]:
        length = spiral_length(inches * 25.4, 50.8, width * 25.4)
        assert length / 304.8 == pytest.approx(feet, abs=0.06)
    assert spiral_length(spiral_diameter(5000, 50.8, 6, 100), 50.8, 6, 100) == pytest.approx(5000)


def test_a_lace_takes_the_smallest_disc_that_gives_it():
    area = shapely.union_all([shapely.box(0, 0, 400, 400), shapely.box(1000, 0, 1200, 200)])
    discs, missing = lay_laces(area, 6, [3000.0])
    assert missing == (0.0,)
    assert discs[0][1].x > 900
    ring = shapely.Point(discs[0][1].x, discs[0][1].y).buffer(discs[0][1].diameter / 2)
    assert ring.difference(area).area < 0.01


def test_a_long_lace_is_made_up_from_several_discs_only_where_joins_are_allowed():
    area = shapely.union_all([shapely.box(0, 0, 200, 200), shapely.box(1000, 0, 1200, 200)])
    need = 1.5 * spiral_length(200, 50.8, 6)
    assert lay_laces(area, 6, [need])[1] == (need,)
    discs, missing = lay_laces(area, 6, [need], least=500, most_parts=2)
    assert len(discs) == 2
    assert missing[0] == pytest.approx(0.0)


def test_a_lace_is_joined_from_equal_parts_where_parts_as_long_as_they_go_would_leave_a_stub():
    # Each square gives a disc for 131 mm of lace: 131, then 131 and a stub of 38, but three times 100.
    side = spiral_diameter(131.0, 50.8, 20.0)
    area = shapely.union_all([shapely.box(n * 1000, 0, n * 1000 + side, side) for n in range(4)])
    discs, missing = lay_laces(area, 20.0, [300.0], least=100.0, most_parts=4)
    assert missing == (0.0,)
    assert [disc.length for _, disc in discs] == pytest.approx([100.0, 100.0, 100.0])


@given(
    sides=st.lists(st.floats(60, 160), min_size=1, max_size=5),
    length=st.floats(100, 900),
    least=st.floats(50, 300),
    lap=st.floats(0, 20),
    most=st.integers(1, 4),
)
@example(sides=[82.0, 77.0, 70.0], length=300.0, least=100.0, lap=0.0, most=4)
def test_parts_of_a_lace_make_it_up_and_none_is_a_stub(
    sides: list[float], length: float, least: float, lap: float, most: int
) -> None:
    area = shapely.union_all([shapely.box(n * 500, 0, n * 500 + side, side) for n, side in enumerate(sides)])
    discs, (missing,) = lay_laces(area, 20.0, [length], least=least, lap=lap, most_parts=most)
    parts = [disc for _, disc in discs]
    assert (missing == 0.0) == bool(parts)
    if not parts:
        assert missing == length
        return
    assert len(parts) <= most
    assert sum(disc.length for disc in parts) == pytest.approx(length + (len(parts) - 1) * lap, abs=1e-6)
    assert len(parts) == 1 or min(disc.length for disc in parts) >= least - 1e-6
    rings = [shapely.Point(disc.x, disc.y).buffer(disc.diameter / 2) for disc in parts]
    assert all(ring.difference(area).area < 0.05 for ring in rings)
    assert all(one.intersection(other).area < 0.05 for n, one in enumerate(rings) for other in rings[:n])
