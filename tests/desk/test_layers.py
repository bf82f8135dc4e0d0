"""Layers of a job in the window: named, with leather and thickness, and all pieces cut from the same at once."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QApplication

from nestplan.nesting.nest import nest
from nestplan.tasks.contents import Contents
from tests.desk.small_work import job, panel, sheet
from tests.desk.test_whole_job import type_in


def open_job(window):
    wanted = job(panel(), panel("other"), sets=1)
    window.document.open(Contents((sheet(),), wanted, nest(wanted, (sheet(),))), {})
    window.go_to("pieces")
    pieces = window.panels["pieces"]
    pieces._article = ""
    pieces.show_job(wanted)
    QApplication.processEvents()
    return pieces


def test_layers_are_renamed_with_what_is_cut_from_them_and_undone_in_one(window):
    pieces = open_job(window)
    before = window.document.contents
    type_in(pieces.layers, "outer = cow side, 2-2.4 mm; lining = goat skin")
    outer, lining = window.document.contents.job.layers
    assert (outer.name, outer.leather, outer.thickness) == ("outer", ("cow side",), (2.0, 2.4))
    assert lining.leather == ("goat skin",)
    assert pieces.layers.text() == "outer = cow side, 2-2.4 mm; lining = goat skin"
    assert {placed.layer for placed in window.document.contents.plan.placements} == {"outer"}
    window.document.stack.undo()
    assert window.document.contents.job == before.job
    assert window.document.contents.plan == before.plan


def test_words_that_are_no_layer_are_told_and_the_layers_stay(window):
    pieces = open_job(window)
    told = []
    window.session.pieces.error_reported.connect(told.append)
    type_in(pieces.layers, "outer = cow side, 2")
    assert "thickness" in str(told[0])
    assert [layer.name for layer in window.document.contents.job.layers] == ["leather"]


def test_all_pieces_are_lined_like_one_in_one_press(window):
    pieces = open_job(window)
    type_in(pieces.layers, "outer = leather; lining = leather")
    pieces.select("panel")
    QApplication.processEvents()
    part = pieces.piece
    part.layer.set_value("lining")
    part.layer.activated.emit(part.layer.currentIndex())
    part.used.click()
    part.reversed.click()
    type_in(part.least, "4 mm")
    part.all_so.click()
    other = window.document.contents.job.piece("other")
    assert [(cut.layer, cut.reversed) for cut in other.cuts] == [("outer", False), ("lining", True)]
    assert other.cuts[1].overcut.least == pytest.approx(4.0)
    window.document.stack.undo()
    assert len(window.document.contents.job.piece("other").cuts) == 1
