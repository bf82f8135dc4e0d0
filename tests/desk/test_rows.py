"""Rows of holes drawn along an edge with the pointer, and edited as one thing."""

from __future__ import annotations

import msgspec
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from nestplan.model import Layer, LayerCut, Row
from nestplan.tasks.contents import Contents
from tests.desk.small_work import job, panel, sheet
from tests.desk.test_marks import chosen
from tests.small_jobs import laced_job

EDGE = Row(name="edge", start=(100.0, 0.0), end=(100.0, 60.0), inset=9.0, pitch=10.0, diameter=3.0)


def open_piece(window, *rows, **fields):
    window.document.open(Contents((sheet(),), job(panel(rows=rows, **fields), panel("other"))), {})
    window.go_to("pieces")
    window.document.show_piece("panel")
    window.session.pieces.use_default_tool()
    window.table.fit()
    QApplication.processEvents()
    return window.panels["pieces"].piece.rows


def typed(field, value):
    """Type a value and leave the field."""
    field.setText(value)
    field.editingFinished.emit()


def test_a_row_is_drawn_along_the_edge_with_two_clicks(window, hand):
    part = open_piece(window)
    typed(part.pitch, "12 mm")
    typed(part.inset, "8 mm")
    part.along_edge.click()
    assert "where the row starts" in window.table.tool.hint
    hand.click(70, 0)
    hand.move(100, 40)
    shapes = {shape.kind: shape for shape in window.table.tool.preview()}
    assert shapes["words"].words == "5 × hole to punch"
    hand.click(100, 40)
    row = window.document.piece.rows[0]
    assert (row.pitch, row.inset, row.clockwise) == (12.0, 8.0, False)
    assert row.start == pytest.approx((70, 0), abs=1.5)
    assert row.end == pytest.approx((100, 40), abs=1.5)
    # hand count: 22 along the bottom line and 32 up the side hold four steps of 12
    assert len(window.document.piece.all_marks) == 5
    assert part.list.currentRow() == 0
    window.document.stack.undo()
    assert window.document.piece.rows == ()


def test_shift_takes_the_longer_way_and_backspace_goes_back(window, hand):
    part = open_piece(window)
    part.along_edge.click()
    hand.click(10, 0)
    hand.key(Qt.Key.Key_Backspace)
    assert window.table.tool.start is None
    hand.click(70, 0)
    hand.click(100, 40, shift=True)
    assert window.document.piece.rows[0].clockwise
    assert len(window.document.piece.all_marks) > 10


def test_a_click_far_from_the_edge_starts_nothing(window, hand):
    part = open_piece(window)
    part.along_edge.click()
    hand.click(50, 30)
    assert window.table.tool.start is None
    hand.key(Qt.Key.Key_Escape)
    assert window.document.piece.rows == ()


def test_a_row_on_a_line_goes_anywhere(window, hand):
    part = open_piece(window)
    chosen(part.kind, "slit")
    typed(part.size_field, "5 mm")
    part.on_line.click()
    hand.click(20, 30)
    hand.click(80, 30)
    row = window.document.piece.rows[0]
    assert (row.along, row.do, row.length, row.inset) == ("line", "slit", 5.0, 0.0)
    assert not part.inset.isEnabled()


def test_the_figures_of_a_row_are_changed_as_one_thing(window):
    part = open_piece(window, EDGE)
    part.list.setCurrentRow(0)
    typed(part.number, "4")
    assert (window.document.piece.rows[0].number, window.document.piece.rows[0].pitch) == (4, None)
    assert part.pitch.value is None
    typed(part.pitch, "8 mm")
    assert (window.document.piece.rows[0].number, window.document.piece.rows[0].pitch) == (None, 8.0)
    typed(part.name, "eyelets")
    typed(part.what, "eyelet 3 mm")
    part.other_way.click()
    row = window.document.piece.rows[0]
    assert (row.name, row.what, row.clockwise) == ("eyelets", "eyelet 3 mm", True)
    part.round.click()
    assert window.document.piece.rows[0].end is None
    part.round.click()
    assert window.document.piece.rows[0].end is not None
    part.take_away.click()
    assert window.document.piece.rows == ()
    for _ in range(8):
        window.document.stack.undo()
    assert window.document.piece.rows == (EDGE,)


def test_a_row_that_cannot_be_is_refused_and_the_figures_come_back(window):
    part = open_piece(window, EDGE)
    part.list.setCurrentRow(0)
    typed(part.pitch, "90 mm")
    assert window.document.piece.rows == (EDGE,)
    assert part.pitch.value == 10.0


def test_a_name_that_is_taken_is_refused_in_the_field(window):
    other = msgspec.structs.replace(EDGE, name="other", inset=20.0)
    part = open_piece(window, EDGE, other)
    part.list.setCurrentRow(0)
    typed(part.name, "other")
    assert "called other" in part.name.fault


def test_pressing_a_hole_picks_its_row(window, hand):
    other = msgspec.structs.replace(EDGE, name="other", start=(0.0, 60.0), end=(0.0, 0.0))
    part = open_piece(window, EDGE, other)
    hand.click(*window.document.piece.marks_of_rows[1][1].at)
    assert part.list.currentRow() == 1


def test_layers_and_time_of_a_row_are_chosen(window):
    cuts = (LayerCut(layer="outer"), LayerCut(layer="lining"))
    layers = (Layer(name="outer"), Layer(name="lining"))
    window.document.open(Contents((sheet(),), job(panel(rows=(EDGE,), cuts=cuts), layers=layers)), {})
    window.document.show_piece("panel")
    part = window.panels["pieces"].piece.rows
    part.list.setCurrentRow(0)
    assert part.layers.currentText() == "as usual: outer and lining"
    chosen(part.layers, "outer")
    assert window.document.piece.rows[0].layers == ("outer",)
    assert part.when.currentText() == "as usual: before gluing"
    chosen(part.when, "after trimming")
    assert window.document.piece.rows[0].when == "after trimming"


def test_a_warning_names_a_row_once(window):
    near = msgspec.structs.replace(EDGE, inset=3.0)
    open_piece(window, near)
    words = window.panels["pieces"].piece.warnings.text()
    assert words.count("row 'edge'") == 1


def test_a_laced_row_follows_the_one_it_is_laced_to_and_is_not_taken_away(window):
    window.document.open(Contents((sheet(),), laced_job()), {})
    window.go_to("pieces")
    window.document.show_piece("front")
    part = window.panels["pieces"].piece.rows
    part.list.setCurrentRow(1)
    typed(part.number, "7")
    assert window.document.contents.job.piece("back").row("left edge").number == 7
    part.take_away.click()
    assert len(window.document.piece.rows) == 2
    window.document.stack.undo()
    assert window.document.contents.job == laced_job()


def row_now(window, name="edge"):
    return window.document.piece.row(name)


def test_an_end_of_a_row_is_dragged_along_the_edge_and_undone_as_one(window, hand):
    part = open_piece(window, EDGE)
    part.list.setCurrentRow(0)
    (shown,) = window.table.tool.preview()
    assert shown.points == ((100.0, 0.0), (100.0, 60.0))
    # off the edge and round the corner: it keeps to the edge
    hand.drag((100, 60), (98, 62), (50, 66), release=False)
    words = next(shape.words for shape in window.table.tool.preview() if shape.kind == "words")
    # hand count: the holes' line is 42 up, from 9 to 51, and from 91 back to 50: 83 hold eight steps of 10
    assert words == "9 × hole to punch"
    hand.release((50, 66))
    assert row_now(window).end == pytest.approx((50, 60), abs=1.0)
    assert row_now(window).start == EDGE.start
    assert len(window.document.piece.all_marks) == 9
    assert part.list.currentRow() == 0
    window.document.stack.undo()
    assert window.document.piece.rows == (EDGE,)
    window.document.stack.redo()
    assert row_now(window).end == pytest.approx((50, 60), abs=1.0)


def test_the_outermost_hole_takes_the_end_with_it_and_a_click_moves_nothing(window, hand):
    part = open_piece(window, EDGE)
    first = window.document.piece.marks_of_rows[0][0].at
    hand.click(*first)
    assert part.list.currentRow() == 0
    assert window.document.piece.rows == (EDGE,)
    hand.drag(first, (first[0], first[1] + 5), (first[0], first[1] + 20))
    assert row_now(window).start == pytest.approx((100, 20), abs=1.0)
    assert row_now(window).end == EDGE.end


def test_escape_leaves_a_dragged_end_where_it_was(window, hand):
    open_piece(window, EDGE).list.setCurrentRow(0)
    hand.drag((100, 60), (98, 50), (95, 30), release=False)
    hand.key(Qt.Key.Key_Escape)
    hand.release((95, 30))
    assert window.document.piece.rows == (EDGE,)


def test_an_end_that_would_leave_no_room_is_said_and_refused(window, hand):
    part = open_piece(window, EDGE)
    part.list.setCurrentRow(0)
    hand.drag((100, 60), (100, 50), (100, 12), release=False)
    words = next(shape.words for shape in window.table.tool.preview() if shape.kind == "words")
    assert "no room for two marks" in words
    hand.release((100, 12))
    assert window.document.piece.rows == (EDGE,)
    assert not window.notice.isHidden()


def test_the_end_of_a_row_on_a_line_goes_anywhere(window, hand):
    line = Row(name="studs", along="line", start=(20.0, 30.0), end=(80.0, 30.0), number=4, do="mark")
    open_piece(window, line).list.setCurrentRow(0)
    hand.drag((80, 30), (75, 35), (70, 45))
    assert row_now(window, "studs").end == pytest.approx((70, 45), abs=1.0)
    assert row_now(window, "studs").start == (20.0, 30.0)


def test_an_end_of_a_row_is_typed_and_comes_to_the_nearest_spot_of_the_edge(window):
    part = open_piece(window, EDGE)
    part.list.setCurrentRow(0)
    assert [field.text() for field in part.at["end"]] == ["100 mm", "60 mm"]
    typed(part.at["end"][0], "70 mm")
    assert row_now(window).end == (70.0, 60.0)
    typed(part.at["start"][1], "20")
    assert row_now(window).start == (100.0, 20.0)
    typed(part.at["start"][0], "90")
    assert row_now(window).start == (100.0, 20.0), "it keeps to the edge"
    assert [field.text() for field in part.at["start"]] == ["100 mm", "20 mm"]
    part.round.click()
    assert not part.at["end"][0].isEnabled()
    assert part.at["end"][0].text() == ""
    for _ in range(3):
        window.document.stack.undo()
    assert window.document.piece.rows == (EDGE,)
    part.new.click()
    assert not part.at["start"][0].isEnabled()
