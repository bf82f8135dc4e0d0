"""Boxes on shelves: each once, none over another or over the edge, few sheets."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from nestplan.drawing.shelf_packing import packed_on_shelves

side = st.floats(5.0, 100.0)


@given(st.lists(st.tuples(side, side), max_size=30), st.floats(0.0, 10.0))
def test_every_box_lies_once_apart_from_the_others_and_on_its_sheet(
    sizes: list[tuple[float, float]], gap: float
) -> None:
    sheets = packed_on_shelves(sizes, 100.0, 100.0, gap)
    assert sorted(index for sheet in sheets for index, _, _ in sheet) == list(range(len(sizes)))
    for sheet in sheets:
        for place, (index, x, y) in enumerate(sheet):
            width, height = sizes[index]
            assert x + width <= 100.0 + 1e-9
            assert y + height <= 100.0 + 1e-9
            for other, left, top in sheet[:place]:
                apart_x = max(x - (left + sizes[other][0]), left - (x + width))
                apart_y = max(y - (top + sizes[other][1]), top - (y + height))
                assert max(apart_x, apart_y) >= gap - 1e-9


def test_boxes_share_a_shelf_while_they_fit() -> None:
    assert packed_on_shelves([(40.0, 20.0), (40.0, 30.0)], 100.0, 60.0, 6.0) == [
        [(1, 0.0, 0.0), (0, 46.0, 0.0)]
    ]


def test_a_second_shelf_is_opened_before_a_second_sheet() -> None:
    sheets = packed_on_shelves([(60.0, 30.0), (60.0, 20.0), (60.0, 20.0)], 100.0, 60.0, 6.0)
    assert sheets == [[(0, 0.0, 0.0), (1, 0.0, 36.0)], [(2, 0.0, 0.0)]]


def test_a_box_larger_than_a_sheet_gets_one_of_its_own() -> None:
    assert packed_on_shelves([(500.0, 500.0), (10.0, 10.0)], 100.0, 100.0, 6.0) == [
        [(0, 0.0, 0.0)],
        [(1, 0.0, 0.0)],
    ]
