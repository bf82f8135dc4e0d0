from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.drawing.hatching import hatch_lines
from nestplan.drawing.primitives import Hatch

SQUARE = np.array(((0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0)))
HOLE = np.array(((5.0, 5.0), (15.0, 5.0), (15.0, 15.0), (5.0, 15.0)))


@given(st.floats(0.5, 4.0), st.floats(0.0, 180.0))
def test_hatching_stays_inside_and_covers_by_its_spacing(spacing: float, angle: float) -> None:
    shape = shapely.Polygon(SQUARE, [HOLE])
    lines = hatch_lines((SQUARE, HOLE), Hatch("lines", spacing, angle))
    grown = shape.buffer(1e-6)
    assert all(grown.contains(shapely.LineString(line)) for line in lines)
    length = sum(float(np.hypot(*(line[1] - line[0]))) for line in lines)
    # Parallel lines at a spacing hold area / spacing of length, but for the lines at the border.
    assert length == pytest.approx(shape.area / spacing, abs=80.0)


def test_cross_hatching_is_lines_both_ways() -> None:
    one = hatch_lines((SQUARE,), Hatch("lines", 2.0, 45.0))
    both = hatch_lines((SQUARE,), Hatch("cross", 2.0, 45.0))
    assert abs(len(both) - 2 * len(one)) <= 2


def test_dots_are_segments_without_length_inside_the_area() -> None:
    dots = hatch_lines((SQUARE,), Hatch("dots", 2.0, 30.0))
    assert 60 <= len(dots) <= 140
    assert all(np.array_equal(dot[0], dot[1]) for dot in dots)
    assert all(shapely.Polygon(SQUARE).buffer(1e-6).contains(shapely.Point(dot[0])) for dot in dots)


def test_dashes_are_broken_lines() -> None:
    dashes = hatch_lines((SQUARE,), Hatch("dashes", 2.0, 0.0))
    assert max(float(np.hypot(*(dash[1] - dash[0]))) for dash in dashes) <= 2.0 * 1.4 + 1e-9


def test_a_pattern_far_too_fine_for_its_area_is_left_out() -> None:
    assert hatch_lines((SQUARE,), Hatch("lines", 0.001)) == []
