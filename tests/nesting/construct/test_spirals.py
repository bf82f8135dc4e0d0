"""Spiral lace against the trade's disc table and on areas with an obvious answer."""

from __future__ import annotations

import pytest
import shapely

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
