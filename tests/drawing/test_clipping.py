from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.drawing.clipping import clipped, clipped_line
from nestplan.drawing.primitives import Fill, LineStyle, Outline, Picture, Text, bounds_of

WINDOW = (0.0, 0.0, 10.0, 8.0)
numbers = st.floats(-15.0, 25.0, allow_nan=False).map(lambda value: round(value, 3))


@given(st.lists(st.tuples(numbers, numbers), min_size=2, max_size=12, unique=True))
def test_a_cut_line_is_what_geos_says_lies_inside(points: list[tuple[float, float]]) -> None:
    path = np.array(points)
    parts = clipped_line(path, WINDOW)
    inside = [
        shapely.LineString(path[n : n + 2]).intersection(shapely.box(*WINDOW)) for n in range(len(path) - 1)
    ]
    ours = sum(float(np.hypot(*np.diff(part, axis=0).T).sum()) for part in parts)
    assert ours == pytest.approx(sum(each.length for each in inside), abs=1e-6)
    for part in parts:
        assert part[:, 0].min() >= -1e-9
        assert part[:, 0].max() <= 10.0 + 1e-9
        assert part[:, 1].min() >= -1e-9
        assert part[:, 1].max() <= 8.0 + 1e-9


def test_corners_inside_the_window_stay_exact() -> None:
    path = np.array(((-5.0, 1.1), (3.3, 2.2), (4.4, 7.7), (4.4, 20.0)))
    (part,) = clipped_line(path, WINDOW)
    assert part[1].tolist() == [3.3, 2.2]
    assert part[2].tolist() == [4.4, 7.7]


def test_the_windows_own_edge_is_never_drawn() -> None:
    picture = Picture()
    picture.area([(-5, -5), (20, -5), (20, 20), (-5, 20)], LineStyle(0.3), Fill("#ff0000"))
    parts = list(clipped(picture, WINDOW))
    assert [(item.stroke is None, item.closed) for item in parts if isinstance(item, Outline)] == [
        (True, True)
    ]
    assert bounds_of(parts) == WINDOW


def test_a_filled_ring_keeps_its_hole_when_cut() -> None:
    picture = Picture()
    outer, hole = [(-5, 1), (9, 1), (9, 7), (-5, 7)], [(2, 2), (4, 2), (4, 4), (2, 4)]
    picture.area([np.array(outer), np.array(hole)], None, Fill("#ff0000"))
    (part,) = clipped(picture, WINDOW)
    assert isinstance(part, Outline)
    area = shapely.Polygon(part.rings[0], part.rings[1:]).area
    assert area == pytest.approx(9 * 6 - 4)


def test_a_circle_is_kept_whole_or_cut_to_arcs() -> None:
    picture = Picture()
    picture.circle(5, 4, 2, LineStyle(0.2))
    picture.circle(0, 4, 2, LineStyle(0.2))
    picture.circle(50, 50, 2, LineStyle(0.2))
    whole, arc = clipped(picture, WINDOW)
    assert whole is picture.items[0]
    assert isinstance(arc, Outline)
    assert not arc.closed
    assert np.hypot(arc.rings[0][:, 0], arc.rings[0][:, 1] - 4).max() == pytest.approx(2.0)


def test_a_word_is_shown_whole_or_not_at_all() -> None:
    picture = Picture()
    picture.text(1, 1, "in", 2.0)
    picture.text(8.5, 1, "half out", 2.0)
    picture.text(1, 7.9, "too high", 2.0)
    assert [item.words for item in clipped(picture, WINDOW) if isinstance(item, Text)] == ["in"]
