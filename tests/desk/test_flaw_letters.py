"""The letters of flaws keep off pieces, edges of the leather and each other."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtWidgets import QApplication

from nestplan.desk.table.flaw_letters import letter_place, lines_of
from nestplan.desk.table.items import FlawItem, HideItem, PlacementItem
from nestplan.desk.table.overlay import fitting_labels, fitting_letters, fitting_numbers
from nestplan.desk.table.piece_items import PieceItem, ShownPiece
from nestplan.model import Row
from nestplan.model.hide import Flaw, Line
from nestplan.model.piece import Strip
from nestplan.tasks.contents import Contents
from tests.desk.conftest import settle
from tests.desk.small_work import laid_work, panel, spoiled_sheet

NO_EDGES = np.empty((0, 2, 2))


def square(x: float, y: float, side: float = 20.0) -> np.ndarray:
    return np.array(((x, y), (x + side, y), (x + side, y + side), (x, y + side)), dtype=float)


def box(at: tuple[float, float], size: tuple[float, float], scale: float) -> shapely.Polygon:
    width, height = size[0] / scale, size[1] / scale
    return shapely.box(at[0] - width / 2, at[1] - height / 2, at[0] + width / 2, at[1] + height / 2)


@given(
    st.lists(st.tuples(st.floats(-60, 60), st.floats(-60, 60), st.floats(4, 50)), max_size=12),
    st.floats(0.3, 4.0),
)
def test_a_letter_never_lies_on_a_piece_unless_every_side_is_taken(places, scale):
    flaw, size = square(0, 0), (14.0, 16.0)
    pieces = [square(*place) for place in places]
    at = letter_place(flaw, size, scale, pieces, NO_EDGES, ())
    shown = box(at, size, scale)
    on_pieces = sum(shown.intersection(shapely.Polygon(ring)).area for ring in pieces)
    assert at is not None
    if at != (10.0, 10.0):
        assert on_pieces == pytest.approx(0.0, abs=1e-9)
        assert shown.distance(shapely.Polygon(flaw)) <= 3.0 / scale, "it stays beside its flaw"


def test_where_nothing_else_lies_it_stands_above_to_the_right():
    x, y = letter_place(square(0, 0), (14, 16), 1.0, [], NO_EDGES, ())
    assert x > 20
    assert y < 0


def test_it_keeps_off_the_edge_of_the_leather_and_off_other_letters():
    flaw, size = square(0, 0), (14.0, 16.0)
    first = letter_place(flaw, size, 1.0, [], NO_EDGES, ())
    second = letter_place(flaw, size, 1.0, [], NO_EDGES, (first,))
    assert box(first, size, 1.0).intersection(box(second, size, 1.0)).area == 0
    edge = shapely.LineString(((-100, second[1]), (100, second[1])))
    edges = lines_of([np.array(((-100.0, second[1]), (100.0, second[1])))])
    third = letter_place(flaw, size, 1.0, [], edges, (first,))
    assert not box(third, size, 1.0).intersects(edge)


def test_with_no_room_on_any_side_it_stands_on_its_own_flaw_or_nowhere():
    everywhere = [square(-100, -100, 300)]
    assert letter_place(square(0, 0), (14, 16), 1.0, everywhere, NO_EDGES, ()) == (10, 10)
    assert letter_place(square(0, 0), (14, 16), 1.0, everywhere, NO_EDGES, [(16.0, 14.0)]) is None


def test_a_letter_of_a_slim_flaw_stands_upright():
    line = Line(points=((100.0, 100.0), (100.0, 400.0)), width=4.0)
    assert not FlawItem(Flaw(spoils="mark", line=line)).letter.standing


@pytest.mark.parametrize("zoom", [0.6, 1.5, 6.0])
def test_the_number_of_a_mark_lies_on_no_mark_and_on_no_other_number(zoom):
    row = Row(name="edge", start=(100.0, 0.0), end=(100.0, 60.0), inset=9.0, number=12, diameter=3.0)
    item = PieceItem(ShownPiece(panel(rows=(row,))))
    numbers = fitting_numbers([item], zoom)
    assert len(numbers) == 12 if zoom == 6.0 else 1 <= len(numbers) < 12
    words = [number.label.words for number in numbers]
    assert {"1", "12"} & set(words), "the ends of a row are the first to have one"
    # Half a pixel and two: what the letters themselves leave free of their boxes.
    boxes = [
        box((number.x, number.y), (number.label.width, number.label.height - 4), zoom) for number in numbers
    ]
    for at, shown in enumerate(boxes):
        assert not any(shown.intersects(other) for other in boxes[at + 1 :])
        for mark in item.marks:
            assert not shown.intersects(shapely.box(mark.left(), mark.top(), mark.right(), mark.bottom()))


def test_a_strip_by_itself_is_shown_with_whatever_else_is_named(window, qtbot):
    strip = Strip(name="strap", width=40.0, length=600.0)
    window.table.show_records([("strip", ShownPiece(strip)), ("piece", ShownPiece(panel()))])
    items = [item for _, item in window.table._items.values()]
    assert fitting_numbers(items, 1.0) == []
    assert [placed.label.words for placed in fitting_labels(items, 5.0)] == [panel().name]
    with qtbot.captureExceptions() as raised:
        window.table.grab()
    assert not raised


def test_letters_lie_on_no_piece_of_the_plan(window, qtbot):
    hide, laid = spoiled_sheet(), laid_work(6)
    window.document.open(Contents((hide,), laid.job, laid.plan), {})
    window.go_to("plan")
    settle(qtbot, window)
    for zoom in (1.0, 1.6, 1.6):
        window.table.zoom(zoom)
        qtbot.waitUntil(lambda: not window.table._rest.isActive(), timeout=60_000)
        QApplication.processEvents()
        items = [item for _, item in window.table._items.values()]
        scale = window.table.pixels_per_mm
        letters = fitting_letters(items, scale)
        assert len(letters) == len([item for item in items if isinstance(item, FlawItem)]) >= 1
        pieces = [shapely.Polygon(item.ring) for item in items if isinstance(item, PlacementItem)]
        edges = [
            shapely.LinearRing(ring) for item in items if isinstance(item, HideItem) for ring in item.rings
        ]
        assert pieces
        for letter in letters:
            shown = box((letter.x, letter.y), (letter.label.width, letter.label.height), scale)
            assert not any(shown.intersects(piece) for piece in pieces)
            assert not any(shown.intersects(edge) for edge in edges)
