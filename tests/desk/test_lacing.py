"""Laced joins and edges in the window: rows selected, the lace and its way seen at once, undone as one step each."""

from __future__ import annotations

import msgspec
import pytest

from nestplan.model import LacedRow, Row
from nestplan.tasks.contents import Contents
from tests.desk.small_work import job, panel, sheet
from tests.desk.test_marks import chosen
from tests.desk.test_rows import typed
from tests.small_jobs import laced_job

EDGE = Row(name="edge", start=(100.0, 0.0), end=(100.0, 60.0), inset=9.0, number=4, diameter=3.0)


def open_article(window, wanted):
    window.document.open(Contents((sheet(),), wanted), {})
    window.go_to("pieces")
    pieces = window.panels["pieces"]
    pieces._article = wanted.articles[0].name
    pieces.show_job(wanted)
    return pieces.lacing


def strip_of(wanted, name):
    return wanted.strip(name)


def joins(window):
    return window.document.contents.job.articles[0].laced_joins


def test_a_pair_is_laced_to_its_mate_in_one_press_and_the_lace_is_seen(window):
    part = open_article(window, job(panel(pair=True, rows=(EDGE,), around=((0.0, 30.0), (100.0, 30.0)))))
    assert not part.take_away.isVisible()
    part.add_join.click()
    (join,) = joins(window)
    assert join.rows == (LacedRow(piece="panel", row="edge"),)
    # hand count: 25 + 9 + 9 = 43 across, 42 / 3 = 14 along; 43 + 6 x √(43² + 14²) + 440 of tails = 754.3
    assert "Lace 755 mm (to buy: no strip of the job is for it), with 220 mm at each end" in part.words.text()
    assert (
        part.range.text() == "200 mm round with its joins closed to 225 mm at their widest, 225 mm as worn."
    )
    assert not part.picture.pixmap().isNull()
    typed(part.lace_width, "5 mm")
    strip = window.document.contents.job.articles[0].strips[0]
    assert (strip.laces, strip.length, strip.width) == ("join", 755.0, 5.0)
    typed(part.widest, "50 mm")
    assert window.document.contents.job.articles[0].strips[0].length == pytest.approx(755.0 + 25 * 7, abs=8.0)
    window.document.stack.undo()
    window.document.stack.undo()
    window.document.stack.undo()
    assert joins(window) == ()
    assert window.document.contents.job.articles[0].strips == ()


def test_the_next_join_takes_a_row_that_is_not_laced_yet(window):
    other = panel("other", pair=True, rows=(msgspec.structs.replace(EDGE, name="side"),))
    part = open_article(window, job(panel(pair=True, rows=(EDGE,)), other))
    part.add_join.click()
    part.add_join.click()
    assert [join.rows for join in joins(window)] == [
        (LacedRow(piece="panel", row="edge"),),
        (LacedRow(piece="other", row="side"),),
    ]


def test_path_ends_rows_and_left_out_holes_are_changed(window):
    part = open_article(window, laced_job())
    part.list.setCurrentRow(1)
    chosen(part.path, "ladder")
    chosen(part.finish, "bow")
    typed(part.name, "sides")
    typed(part.skip_one, "2, 4")
    assert joins(window)[1].rows[0].skip == (), "the other row has more holes then"
    assert "3 holes in 'front' and 5 in 'back'" in part.skip_one.fault
    typed(part.skip_other, "1, 5")
    assert [row.skip for row in joins(window)[1].rows] == [(2, 4), (1, 5)]
    assert part.skip_one.fault == ""
    typed(part.tail, "120 mm")
    typed(part.count, "3")
    join = joins(window)[1]
    assert (join.path, join.finish, join.name, join.tail, join.count) == ("ladder", "bow", "sides", 120.0, 3)
    assert [strip.laces for strip in window.document.contents.job.articles[0].strips][1] == "sides"
    part.list.setCurrentRow(0)
    typed(part.skip_one, "2, 5")
    assert joins(window)[0].rows[0].skip == (2, 5)
    typed(part.skip_one, "two")
    assert "by their numbers" in part.skip_one.fault
    assert joins(window)[0].rows[0].skip == (2, 5)


def test_rows_that_do_not_match_are_refused_with_both_counts(window):
    told = []
    part = open_article(window, laced_job())
    window.session.pieces.error_reported.connect(told.append)
    part.list.setCurrentRow(0)
    chosen(part.other, "back\nleft edge")
    assert "6 holes in 'front' and 5 in 'back'" in told[0].what
    assert len(joins(window)[0].rows) == 1
    assert part.other.value == ""


def test_an_edge_is_laced_and_taken_away_and_its_lace_stays(window):
    part = open_article(window, laced_job())
    assert part.list.count() == 3
    part.list.setCurrentRow(2)
    assert part.stitch.isVisible()
    assert not part.path.isVisible()
    chosen(part.stitch, "running")
    length = strip_of(window.document.contents.job, "edge lace").length
    part.take_away.click()
    after = window.document.contents.job
    assert after.articles[0].laced_edges == ()
    kept = strip_of(after, "edge lace")
    assert (kept.laces, kept.length) == ("", length)
    part.add_edge.click()
    assert after != window.document.contents.job
    window.document.stack.undo()
    window.document.stack.undo()
    window.document.stack.undo()
    assert window.document.contents.job == laced_job()


def test_without_rows_it_is_said_what_is_needed_first(window):
    told = []
    part = open_article(window, job(panel()))
    window.session.pieces.notified.connect(told.append)
    part.add_join.click()
    part.add_edge.click()
    assert "Draw a row of holes" in told[0]
    assert "Draw a row of holes" in told[1]
    assert joins(window) == ()


def test_two_single_pieces_with_as_many_holes_are_laced_to_each_other(window):
    other = msgspec.structs.replace(EDGE, start=(0.0, 60.0), end=(0.0, 0.0))
    part = open_article(window, job(panel(rows=(EDGE,)), panel("other", rows=(other,))))
    part.add_join.click()
    assert [(row.piece, row.backward) for row in joins(window)[0].rows] == [("panel", False), ("other", True)]
    assert part.backward.isChecked()
    part.backward.click()
    assert not joins(window)[0].rows[1].backward
    typed(part.skip_one, "2")
    typed(part.skip_other, "3")
    assert [(row.skip, row.backward) for row in joins(window)[0].rows] == [((2,), False), ((3,), False)]


def test_a_name_that_is_taken_is_refused_in_the_field(window):
    part = open_article(window, laced_job())
    part.list.setCurrentRow(0)
    typed(part.name, "beside")
    assert "called beside" in part.name.fault


def test_the_figures_of_a_lace_that_follow_from_its_join_are_not_typed(window):
    window.document.open(Contents((sheet(),), laced_job()), {})
    window.document.show_piece("lace")
    strip = window.panels["pieces"].strip
    assert not strip.length.isEnabled()
    assert "It laces before" in strip.laces.text()
    window.document.show_piece("front")
    window.panels["pieces"].piece.rows.list.setCurrentRow(0)
    typed(window.panels["pieces"].piece.rows.number, "5")
    assert strip_of(window.document.contents.job, "lace").length < strip_of(laced_job(), "lace").length


def test_whether_a_piece_goes_round_the_wearer_is_ticked(window):
    open_article(window, laced_job())
    window.panels["pieces"].select("back")
    piece = window.panels["pieces"].piece
    assert piece.around.isChecked()
    piece.around.click()
    assert window.document.piece.around == ()
    piece.around.click()
    assert window.document.piece.around == ((0.0, 45.0), (200.0, 45.0))
    window.document.stack.undo()
    assert window.document.piece.around == ()
