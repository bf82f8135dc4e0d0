"""A lined, laced belt in one sitting at the window: three drawn pairs become three sizes, a plan and sheets."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from nestplan.desk.dialogs.measured_hide import MeasuredHideDialog
from nestplan.desk.dialogs.sizes import SizesDialog
from nestplan.model.audit import check
from tests.desk.conftest import settle
from tests.desk.test_marks import chosen
from tests.desk.test_sizes import give
from tests.desk.test_whole_job import press, type_in
from tests.sheets.pdf_reading import read_pdf

DRAWING = """x_mm,y_mm,name
0,0,front
120,-6,front
126,60,front
118,140,front
60,150,front
0,150,front
200,0,side
330,0,side
336,66,side
330,146,side
200,146,side
194,66,side
400,0,back
525,0,back
525,160,back
470,166,back
400,146,back
394,66,back
"""


def pick(window, name):
    window.panels["pieces"].select(name)
    window.session.pieces.use_default_tool()
    window.table.fit()
    QApplication.processEvents()
    return window.panels["pieces"].piece


def pick_layer(part, name):
    chosen(part.layer, name)
    QApplication.processEvents()


def name_and_line_the_pieces(window):
    pieces = window.panels["pieces"]
    pieces._article = ""
    pieces.show_job(window.document.contents.job)
    type_in(pieces.layers, "outer = cow side, 2-2.4 mm; lining = goat skin, 0.8-1.2 mm")
    part = pick(window, "front")
    part.pair.click()
    for layer in ("outer", "lining"):
        pick_layer(part, layer)
        if layer == "lining":
            part.used.click()
            part.reversed.click()
            chosen(part.shows, "hidden")
        type_in(part.least, "4")
        type_in(part.wished, "8")
    part.all_so.click()
    for name in ("side", "back"):
        pick(window, name).pair.click()


def draw_rows(window, hand):
    for name, start, end in (("front", (0, 156), (0, 6)), ("back", (131, 0), (131, 160))):
        rows = pick(window, name).rows
        rows.new.click()
        chosen(rows.kind, "punch")
        for field, words in ((rows.size_field, "5"), (rows.pitch, "18"), (rows.inset, "12")):
            type_in(field, words)
        type_in(rows.what, "eyelet 5 mm")
        rows.along_edge.click()
        hand.click(*start)
        hand.click(*end)
        type_in(rows.name, f"{name} edge")
    rows = pick(window, "front").rows
    rows.new.click()
    chosen(rows.kind, "mark")
    type_in(rows.number, "4")
    type_in(rows.what, "stud 7 mm")
    rows.on_line.click()
    hand.click(40, 30)
    hand.click(100, 30)


def lace_front_and_back(window):
    pieces = window.panels["pieces"]
    pieces._article = window.document.contents.job.articles[0].name
    pieces.show_job(window.document.contents.job)
    type_in(pieces.article_name, "belt")
    for _ in range(2):
        pieces.lacing.add_join.click()
        type_in(pieces.lacing.widest, "45")
        type_in(pieces.lacing.lace_width, "5")


def make_three_sizes(window):
    window.panels["pieces"].sizes_button.click()
    dialog = next(each for each in QApplication.topLevelWidgets() if isinstance(each, SizesDialog))
    give(dialog.sizes.cellWidget(0, 0), "M")
    dialog.add_size()
    for row, size in enumerate((("S", "-60", "-8"), ("L", "60", "8")), start=1):
        for column, words in zip((0, 2, 3), size, strict=True):
            give(dialog.sizes.cellWidget(row, column), words)
    for row, edges in enumerate((("front", "right", "side", "left"), ("side", "right", "back", "left"))):
        dialog.add_seam()
        for column, key in enumerate(edges, start=1):
            chosen(dialog.seams.cellWidget(row, column), key)
    assert "differ by at most 0.2 mm" in dialog.told.text()
    dialog.make.click()


def measure_hide(window, kind, **typed):
    window.menus.actions["From measures …"].trigger()
    dialog = next(
        each
        for each in QApplication.topLevelWidgets()
        if isinstance(each, MeasuredHideDialog) and each.isVisible()
    )
    chosen(dialog.kind, kind)
    for field, words in typed.items():
        line = getattr(dialog, field)
        line.setFocus()
        line.selectAll()
        QTest.keyClicks(line, words)
        QTest.keyClick(line, Qt.Key.Key_Tab)
    press(dialog.make)


@pytest.fixture
def sitting(window, hand, qtbot, tmp_path):
    """The window after the whole sitting, its plan on the table."""
    drawing = tmp_path / "belt.csv"
    drawing.write_text(DRAWING)
    window.session.files.take_drawing(str(drawing), pieces=True)
    name_and_line_the_pieces(window)
    draw_rows(window, hand)
    lace_front_and_back(window)
    make_three_sizes(window)
    window.go_to("hides")
    measure_hide(window, "cow-side", name="side A", leather="cow side", length="2.3 m")
    measure_hide(
        window, "goat", name="goat A", leather="goat skin", length="1000 mm", widths="400 mm: 750 mm"
    )
    window.go_to("plan")
    window.panels["plan"].begin(seconds=20.0)
    qtbot.waitUntil(lambda: not window.session.plan_search.running, timeout=180_000)
    settle(qtbot, window)
    return window


def test_three_sizes_of_a_lined_laced_belt_lie_on_two_hides_after_one_sitting(sitting, tmp_path):
    contents = sitting.document.contents
    job, plan = contents.job, contents.plan
    assert [(article.name, len(article.laced_joins)) for article in job.articles] == [
        ("belt M", 2),
        ("belt S", 2),
        ("belt L", 2),
    ]
    assert len([strip for article in job.articles for strip in article.strips if strip.laces]) == 6
    # six panels of two layers in three sizes, and six laces
    assert len(plan.placements) + sum(each.count for each in plan.unplaced) == 3 * 6 * 2 + 6
    assert check(plan, job, contents.hides) == ()
    assert {placed.hide for placed in plan.placements if placed.layer == "lining"} == {"goat A"}
    sheets = tmp_path / "full-size.pdf"
    assert sitting.session.papers.export_to("full size", sheets)
    pages = [" ".join(page.words.split()) for page in read_pdf(sheets)]
    linings = [page for page in pages if "front M, lining" in page]
    outers = [page for page in pages if "front M, outer" in page]
    assert linings
    assert all("stud 7 mm" not in page and "eyelet 5 mm" not in page for page in linings)
    assert any("stud 7 mm" in page and "eyelet 5 mm" in page for page in outers)
    # every step of the sitting is one Undo
    while sitting.document.stack.canUndo():
        sitting.document.stack.undo()
    assert sitting.document.contents.job is None
    assert sitting.document.contents.hides == ()
