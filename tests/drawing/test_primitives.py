from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.drawing.primitives import (
    Circle,
    Fill,
    Hatch,
    LineStyle,
    Outline,
    Picture,
    Text,
    bounds_of,
    dashed,
    moved,
)
from tests.sheets.looking import layers_of, words_of


def test_a_sketch_keeps_what_is_drawn_in_order_and_by_layer() -> None:
    picture = Picture()
    picture.line([(0, 0), (3, 4)], layer="a")
    picture.circle(1, 1, 2, layer="b")
    picture.text(0, 0, "word", layer="a")
    assert [type(item) for item in picture] == [Outline, Circle, Text]
    assert layers_of(picture) == ["a", "b"]
    assert words_of(picture) == ["word"]
    assert len(picture.on("a")) == 2


def test_an_area_takes_one_ring_or_a_ring_with_holes() -> None:
    picture = Picture()
    square = [(0, 0), (4, 0), (4, 4), (0, 4)]
    hole = [(1, 1), (2, 1), (2, 2)]
    picture.area(square)
    picture.area(np.array(square, dtype=float))
    picture.area([np.array(square), np.array(hole)])
    counts = [[len(ring) for ring in item.rings] for item in picture if isinstance(item, Outline)]
    assert counts == [[4], [4], [4, 3]]


def test_bounds_count_lines_and_circles_but_not_words() -> None:
    picture = Picture()
    picture.line([(1, 2), (3, 4)])
    picture.circle(10, 0, 2)
    picture.text(500, 500, "far away")
    assert picture.bounds() == (1.0, -2.0, 12.0, 4.0)
    assert bounds_of([]) == (0.0, 0.0, 0.0, 0.0)


def test_a_moved_drawing_scales_everything_alike() -> None:
    picture = Picture()
    picture.area(
        [(0, 0), (2, 0), (2, 2)], LineStyle(0.5, "#000000", (1.0, 2.0)), Fill(None, Hatch("lines", 3.0))
    )
    picture.circle(1, 1, 1, LineStyle(0.5))
    picture.text(1, 0, "a", 4.0)
    area, circle, text = list(moved(picture, 10.0, 20.0, 0.5))
    assert isinstance(area, Outline)
    assert isinstance(circle, Circle)
    assert isinstance(text, Text)
    assert area.rings[0].tolist() == [[10, 20], [11, 20], [11, 21]]
    assert area.stroke == LineStyle(0.25, "#000000", (0.5, 1.0))
    assert area.fill is not None
    assert area.fill.hatch is not None
    assert area.fill.hatch.spacing == 1.5
    assert (circle.x, circle.y, circle.radius) == (10.5, 20.5, 0.5)
    assert (text.x, text.y, text.size) == (10.5, 20.0, 2.0)


@given(
    st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=2, max_size=8),
    st.floats(0.3, 5.0),
    st.floats(0.3, 5.0),
)
def test_dashes_draw_their_share_of_a_line_and_stay_on_it(
    points: list[tuple[float, float]], on: float, off: float
) -> None:
    path = np.array(points)
    total = float(np.hypot(*np.diff(path, axis=0).T).sum())
    if total < 0.01:
        return
    drawn = sum(float(np.hypot(*np.diff(piece, axis=0).T).sum()) for piece in dashed(path, (on, off)))
    periods, rest = divmod(total, on + off)
    assert drawn == pytest.approx(periods * on + min(rest, on), abs=1e-6 * max(total, 1.0))


def test_a_line_without_length_or_dash_is_drawn_whole() -> None:
    assert len(dashed(np.array([(1.0, 1.0), (1.0, 1.0)]), (1.0, 1.0))) == 1
    assert len(dashed(np.array([(0.0, 0.0), (9.0, 0.0)]), ())) == 1
