"""Sizes of an article in the window: a table of them, all drawn over each other, made and undone as one step."""

from __future__ import annotations

import msgspec
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QPushButton

from nestplan.desk.dialogs.sizes import SizesDialog
from nestplan.model.job import Article, Job
from nestplan.model.piece import Mark, Piece
from nestplan.model.sizes import Edge, Seam
from nestplan.tasks.contents import Contents
from tests.desk.small_work import sheet
from tests.small_jobs import laced_job

FRONT = Piece(
    name="front", outline=((0, 0), (110, 0), (118, 130), (0, 130)), marks=(Mark(at=(50, 60)),), pair=True
)
SIDE = Piece(name="side", outline=((0, 0), (140, 0), (140, 130), (0, 130)), pair=True)
JOB = Job(name="belts", articles=(Article(name="belt", sets=2, pieces=(FRONT, SIDE)),))


def give(field, value):
    """Type a value by hand and leave the field."""
    field.setFocus()
    field.setText(value)
    field.setModified(True)
    field.editingFinished.emit()


def chosen(box, key):
    """Choose by hand, as a click in the list does."""
    box.set_value(key)
    box.activated.emit(box.currentIndex())


def open_sizes(window, job=JOB) -> SizesDialog:
    window.document.open(Contents((sheet(),), job), {})
    window.go_to("pieces")
    window.menus.actions["Other sizes … "].trigger()
    dialog = window.findChild(SizesDialog)
    assert dialog is not None
    return dialog


def test_three_sizes_are_made_in_one_step_and_undone_in_one(window):
    dialog = open_sizes(window)
    give(dialog.sizes.cellWidget(0, 0), "M")
    give(dialog.sizes.cellWidget(1, 2), "40")
    give(dialog.sizes.cellWidget(1, 3), "10 mm")
    dialog.add_size()
    give(dialog.sizes.cellWidget(2, 0), "S")
    give(dialog.sizes.cellWidget(2, 1), "4")
    give(dialog.sizes.cellWidget(2, 2), "-1 in")
    for field, words in zip(dialog.fits["waist"], ("700", "760"), strict=True):
        give(field, words)
    assert [article.size for article in dialog.preview.articles] == ["M", "L", "S"]
    dialog.make.click()
    job = window.document.contents.job
    assert [(article.name, article.sets) for article in job.articles] == [
        ("belt M", 2),
        ("belt L", 1),
        ("belt S", 4),
    ]
    assert job.articles[2].fits == {"waist": (674.6, 734.6)}
    assert job.piece("front L").ring[:, 1].max() == pytest.approx(140)
    window.document.stack.undo()
    assert window.document.contents.job == JOB


def test_what_was_made_is_shown_again_and_can_be_changed(window):
    dialog = open_sizes(window)
    give(dialog.sizes.cellWidget(1, 2), "40")
    dialog.make.click()
    again = SizesDialog(
        window.document.contents.job, window.document.contents.job.articles[0], window.settings
    )
    assert again.sizes.value(1, 2) == 40.0
    give(again.sizes.cellWidget(1, 0), "XL")
    again.made.connect(window.document.set_sizes)
    again.make.click()
    assert [article.name for article in window.document.contents.job.articles] == ["belt", "belt XL"]


def test_who_takes_part_and_what_meets_are_chosen(window):
    dialog = open_sizes(window)
    give(dialog.sizes.cellWidget(1, 2), "40")
    chosen(dialog.shares.cellWidget(1, 1), "no")
    chosen(dialog.shares.cellWidget(0, 1), "right")
    dialog.add_seam()
    chosen(dialog.seams.cellWidget(0, 4), "left")
    assert "differ" in dialog.fault.text() or "differ by at most" in dialog.told.text()
    wish = dialog.wish()
    assert [(growth.name, growth.where) for growth in wish.sizes.measures[0].pieces] == [("front", "right")]
    assert wish.seams[0].first[0].words == "front, right edge"
    dialog.remove_seam()
    give(dialog.shares.cellWidget(0, 2), "0.25")
    dialog.make.click()
    job = window.document.contents.job
    assert job.piece("front L").ring[:, 0].max() == pytest.approx(128)
    assert job.piece("side L").ring[:, 0].max() == pytest.approx(140)


BAND = Piece(name="band", outline=((0, 0), (258, 0), (258, 30), (0, 30)), pair=True)
ROUND_THE_BAND = Seam(
    first=(Edge(piece="band", side="bottom"),),
    second=(Edge(piece="front", side="top"), Edge(piece="side", side="top")),
)
PART = Seam(
    first=(Edge(piece="front", start=(118, 130), end=(60, 130)),), second=(Edge(piece="side", side="left"),)
)


def seamed(*seams):
    return Job(
        name="belts",
        articles=(Article(name="belt", sets=2, pieces=(FRONT, SIDE, BAND), seams=seams),),
    )


def test_a_seam_of_several_edges_is_changed_in_the_window(window):
    dialog = open_sizes(window, seamed(ROUND_THE_BAND, PART))
    assert dialog.wish().seams == (ROUND_THE_BAND, PART)
    assert [dialog.seams.item(row, 0).text() for row in range(3)] == ["1", "and", "2"]
    assert dialog.seams.value(1, 1) == ""
    assert not dialog.seams.cellWidget(1, 2).isEnabled()
    chosen(dialog.seams.cellWidget(1, 4), "bottom")
    assert dialog.wish().seams[0].second[1].words == "side, bottom edge"
    # one more edge on the other side of the seam in which one was last
    dialog.add_edge()
    assert [dialog.seams.item(row, 0).text() for row in range(4)] == ["1", "and", "and", "2"]
    chosen(dialog.seams.cellWidget(2, 1), "band")
    assert dialog.seams.cellWidget(2, 2).isEnabled()
    chosen(dialog.seams.cellWidget(2, 3), "")
    first, second = dialog.wish().seams
    assert [edge.words for edge in first.first] == ["band, bottom edge", "band, top edge"]
    assert second == PART


def test_two_edges_become_a_seam_of_three_and_of_two_again(window):
    dialog = open_sizes(window, seamed())
    dialog.add_edge()
    for column, key in ((1, "band"), (2, "bottom"), (3, "front"), (4, "top")):
        chosen(dialog.seams.cellWidget(0, column), key)
    dialog.add_edge()
    chosen(dialog.seams.cellWidget(1, 3), "side")
    assert dialog.wish().seams == (ROUND_THE_BAND,)
    give(dialog.sizes.cellWidget(1, 2), "40")
    assert not dialog.fault.isVisible(), dialog.fault.text()
    dialog.make.click()
    job = window.document.contents.job
    assert job.articles[0].seams == (ROUND_THE_BAND,)
    large = {piece.name: piece.ring for piece in job.articles[1].pieces}
    tops = sum(
        float(large[f"{name} L"][large[f"{name} L"][:, 1] > 129][:, 0].max()) for name in ("front", "side")
    )
    assert large["band L"][:, 0].max() == pytest.approx(tops, abs=0.5)


def test_a_seam_that_joins_nothing_on_one_side_is_told_below_the_picture(window):
    dialog = open_sizes(window, seamed(ROUND_THE_BAND, PART))
    chosen(dialog.seams.cellWidget(2, 3), "")
    assert "Seam 2 joins nothing on one of its sides" in dialog.fault.text()
    chosen(dialog.seams.cellWidget(2, 3), "side")
    chosen(dialog.seams.cellWidget(2, 1), "side")
    assert "a part of front cannot be one of side" in dialog.fault.text()
    dialog.remove_seam()
    assert dialog.wish().seams == (ROUND_THE_BAND,)
    # without its first row the second begins the seam, with nothing before it
    chosen(dialog.seams.cellWidget(0, 4), "top")
    dialog.remove_seam()
    assert "Seam 1 joins nothing" in dialog.fault.text()
    dialog.remove_seam()
    assert dialog.wish().seams == ()
    dialog.remove_seam()


def test_who_takes_part_as_usual_follows_the_seams(window):
    third = msgspec.structs.replace(SIDE, name="pocket")
    wanted = Job(name="belts", articles=(Article(name="belt", sets=1, pieces=(FRONT, SIDE, third)),))
    dialog = open_sizes(window, wanted)
    give(dialog.sizes.cellWidget(1, 2), "40")
    assert [dialog.shares.cellWidget(row, 1).itemText(0) for row in range(3)] == ["as usual"] * 3
    dialog.add_seam()
    chosen(dialog.seams.cellWidget(0, 4), "left")
    words = [dialog.shares.cellWidget(row, 1).itemText(0) for row in range(3)]
    assert words == ["as usual", "as usual", "as usual: not"]
    chosen(dialog.shares.cellWidget(0, 1), "middle")
    assert [growth.name for growth in dialog.wish().sizes.measures[0].pieces] == ["front", "side"]
    dialog.remove_seam()
    assert dialog.shares.cellWidget(2, 1).itemText(0) == "as usual"
    assert dialog.shares.cellWidget(0, 1).value == "middle"


def test_a_measure_of_ones_own_runs_lengthwise(window):
    dialog = open_sizes(window)
    give(dialog.measure, "torso")
    chosen(dialog.along, "length")
    dialog.add_measure()
    give(dialog.sizes.cellWidget(1, 4), "25")
    dialog.make.click()
    job = window.document.contents.job
    assert job.piece("side L").ring[:, 1].max() == pytest.approx(155)
    assert job.articles[0].sizes.measure("torso").along == "length"


def test_a_size_that_cannot_be_is_told_below_the_picture(window):
    dialog = open_sizes(window)
    give(dialog.sizes.cellWidget(1, 2), "-900")
    assert "Take out at most" in dialog.fault.text()
    dialog.make.click()
    assert dialog.isVisible()
    give(dialog.sizes.cellWidget(1, 2), "wide")
    dialog.make.click()
    assert dialog.sizes.cellWidget(1, 2).fault
    assert window.document.contents.job == JOB
    dialog.reject()


def test_sizes_follow_the_drawing_and_a_size_changed_by_hand_follows_no_longer(window):
    dialog = open_sizes(window)
    give(dialog.sizes.cellWidget(1, 2), "40")
    dialog.make.click()
    document, said = window.document, []
    document.told.connect(said.append)
    document.show_piece("front")
    window.session.pieces.change("Take the marks away", marks=())
    assert document.contents.job.piece("front L").marks == ()
    document.show_piece("front L")
    window.session.pieces.change("Set the count", count=2)
    assert said == ["belt L was changed by hand and follows belt no longer."]
    document.stack.undo()
    document.stack.undo()
    assert len(document.contents.job.piece("front L").marks) == 1


def test_a_plan_keeps_the_drawn_pieces_under_their_new_names(window):
    from nestplan.desk.document.plan_edits import Waiting, laid_down
    from nestplan.tasks.planning import empty_plan

    dialog = open_sizes(window)
    hide = window.document.contents.hides[0]
    waiting = Waiting("side", "leather", False, False, 1, "side")
    plan = laid_down(empty_plan(JOB, (hide,)), JOB, hide, waiting, (200.0, 200.0))[0]
    window.document.set_plan("Lay a side", plan)
    give(dialog.sizes.cellWidget(0, 0), "M")
    dialog.make.click()
    assert [placed.piece for placed in window.document.contents.plan.placements] == ["side M"]


def test_a_plan_keeps_the_pieces_of_other_sizes_when_one_is_renamed_in_the_drawn_size(window):
    from nestplan.nesting.nest import nest

    dialog = open_sizes(window)
    give(dialog.sizes.cellWidget(0, 0), "M")
    give(dialog.sizes.cellWidget(1, 2), "40")
    dialog.make.click()
    document = window.document
    plan = nest(document.contents.job, document.contents.hides)
    document.set_plan("Plan", plan)
    before = sorted(placed.piece for placed in plan.placements)
    assert before.count("side L") == 2
    document.show_piece("side M")
    window.session.pieces.change("Rename", name="flank M")
    lying = sorted(placed.piece for placed in document.contents.plan.placements)
    assert lying == sorted(name.replace("side", "flank") for name in before)
    assert document.contents.job.piece("flank L").pair
    document.stack.undo()
    assert sorted(placed.piece for placed in document.contents.plan.placements) == before


def test_a_laced_belt_is_made_in_two_sizes(window):
    dialog = open_sizes(window, laced_job())
    give(dialog.sizes.cellWidget(0, 0), "M")
    give(dialog.sizes.cellWidget(1, 2), "48")
    assert "L fits" in dialog.told.text()
    dialog.make.click()
    job = window.document.contents.job
    assert [article.name for article in job.articles] == ["belt M", "belt L"]
    assert job.articles[1].wearer_range.worn > job.articles[0].wearer_range.worn


def test_the_tables_are_gone_through_by_keyboard_and_enter_makes_the_sizes(window):
    dialog = open_sizes(window)
    dialog.activateWindow()
    first = dialog.sizes.cellWidget(0, 0)
    first.setFocus()
    QTest.keyClicks(first, "M")
    QTest.keyClick(first, Qt.Key.Key_Tab)
    assert dialog.focusWidget() is dialog.sizes.cellWidget(0, 1)
    for expected in ((1, 0), (1, 1), (1, 2)):
        QTest.keyClick(dialog.focusWidget(), Qt.Key.Key_Tab)
        assert dialog.focusWidget() is dialog.sizes.cellWidget(*expected)
    waist = dialog.focusWidget()
    QTest.keyClicks(waist, "40")
    QTest.keyClick(waist, Qt.Key.Key_Return)
    assert not dialog.isVisible()
    assert [article.name for article in window.document.contents.job.articles] == ["belt M", "belt L"]


def test_the_row_worked_in_last_is_taken_away(window):
    dialog = open_sizes(window)
    dialog.add_size()
    dialog.add_size()
    dialog.activateWindow()
    QTest.mouseClick(dialog.sizes.cellWidget(2, 0), Qt.MouseButton.LeftButton)
    away = next(each for each in dialog.findChildren(QPushButton) if each.text() == "Delete")
    QTest.mouseClick(away, Qt.MouseButton.LeftButton)
    assert [size.name for size, _ in dialog.sizes.others] == ["L", "XL"]
    dialog.reject()


def test_opening_a_job_whose_sizes_are_not_what_its_drawing_gives_says_so():
    from nestplan.desk.sentences import opened_words
    from nestplan.model.sizes import Size, Sizes
    from nestplan.tasks.article_sizes import SizesWish, with_sizes
    from nestplan.tasks.job_edits import with_piece
    from nestplan.tasks.opening import OpenedFiles

    sized = with_sizes(JOB, SizesWish(article="belt", sizes=Sizes(others=(Size(name="L"),)))).job
    assert opened_words(OpenedFiles(job=sized)) == ""
    changed = with_piece(sized, "side", msgspec.structs.replace(SIDE, note="softer"))
    assert "belt L is not what belt gives in size L" in opened_words(OpenedFiles(job=changed))


def test_the_picture_of_the_sizes_makes_way_below_the_tables_where_the_dialog_is_narrow(window):
    dialog = SizesDialog(JOB, JOB.articles[0], window.settings, window)
    dialog.resize(1060, 600)
    dialog.show()
    QApplication.processEvents()
    tables = dialog.sizes.mapTo(dialog, dialog.sizes.rect().topRight())
    assert dialog.preview.mapTo(dialog, dialog.preview.rect().topLeft()).x() > tables.x()
    dialog.resize(700, 600)
    QApplication.processEvents()
    assert dialog.width() == 700
    below = dialog.seams.mapTo(dialog, dialog.seams.rect().bottomLeft())
    assert dialog.preview.mapTo(dialog, dialog.preview.rect().topLeft()).y() > below.y()
    dialog.resize(1060, 600)
    QApplication.processEvents()
    tables = dialog.sizes.mapTo(dialog, dialog.sizes.rect().topRight())
    assert dialog.preview.mapTo(dialog, dialog.preview.rect().topLeft()).x() > tables.x()
    dialog.close()
