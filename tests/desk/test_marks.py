"""Marks by layer and time, chosen in the window."""

from __future__ import annotations

from nestplan.model import Layer, LayerCut, Mark, Opening
from nestplan.model.layer_work import layers_of, time_of
from nestplan.tasks.contents import Contents
from tests.desk.small_work import job, panel, sheet

SLIT = Mark(at=(40.0, 30.0), do="slit", length=10.0)


def chosen(box, key):
    """Choose by hand, as a click in the list does."""
    box.set_value(key)
    box.activated.emit(box.currentIndex())


def open_lined(window):
    cuts = (LayerCut(layer="outer"), LayerCut(layer="lining"))
    layers = (Layer(name="outer"), Layer(name="lining"))
    wanted = job(panel(cuts=cuts, marks=(SLIT,)), layers=layers)
    window.document.open(Contents((sheet(),), wanted), {})
    window.document.show_piece("panel")
    part = window.panels["pieces"].piece.marks
    part.list.setCurrentRow(0)
    return part


def test_the_layers_and_the_time_of_a_mark_are_chosen_and_can_be_undone(window):
    part = open_lined(window)
    assert part.layers.currentText() == "as usual: outer and lining"
    assert part.when.currentText() == "as usual: after trimming"
    chosen(part.layers, "outer")
    piece = window.document.piece
    assert layers_of(piece, piece.marks[0]) == ("outer",)
    assert part.when.currentText() == "as usual: before gluing"
    assert "outer" in part.list.item(0).text()
    chosen(part.when, "after trimming")
    piece = window.document.piece
    assert time_of(piece, piece.marks[0]) == "after trimming"
    window.document.stack.undo()
    window.document.stack.undo()
    assert window.document.piece.marks == (SLIT,)
    chosen(part.layers, "outer\nlining")
    assert window.document.piece.marks[0].layers == ("outer", "lining")


def test_a_change_of_size_keeps_the_layers_of_a_mark(window):
    part = open_lined(window)
    chosen(part.layers, "lining")
    part.size_field.set_value(12.0)
    part.size_field.edited.emit(12.0)
    assert window.document.piece.marks[0].layers == ("lining",)
    assert window.document.piece.marks[0].length == 12.0


def test_a_piece_of_one_layer_leaves_nothing_to_choose(window):
    window.document.open(Contents((sheet(),), job(panel(marks=(SLIT,)))), {})
    window.document.show_piece("panel")
    part = window.panels["pieces"].piece.marks
    part.list.setCurrentRow(0)
    assert not part.layers.isEnabled()
    assert not part.when.isEnabled()


def test_the_layers_and_the_time_of_an_opening_are_chosen_and_can_be_undone(window):
    window_ring = ((20.0, 20.0), (40.0, 20.0), (40.0, 40.0), (20.0, 40.0))
    cuts = (LayerCut(layer="outer"), LayerCut(layer="lining"))
    layers = (Layer(name="outer"), Layer(name="lining"))
    before = job(panel(cuts=cuts, holes=(window_ring,)), layers=layers)
    window.document.open(Contents((sheet(),), before), {})
    window.document.show_piece("panel")
    part = window.panels["pieces"].piece.openings
    part.list.setCurrentRow(0)
    assert part.layers.currentText() == "as usual: outer"
    assert part.when.currentText() == "as usual: before gluing"
    chosen(part.layers, "outer\nlining")
    chosen(part.when, "after trimming")
    opening = window.document.piece.openings[0]
    assert opening == Opening(outline=window_ring, layers=("outer", "lining"), when="after trimming")
    assert "after trimming" in part.list.item(0).text()
    window.document.stack.undo()
    window.document.stack.undo()
    assert window.document.contents.job == before
    part.take_away.click()
    assert window.document.piece.holes == ()
    assert part.isHidden()


def test_the_key_explains_the_layer_that_is_shown(window):
    from nestplan.desk.table.legend import Legend
    from nestplan.model.job import Layer
    from nestplan.model.piece import LayerCut, Overcut
    from nestplan.tasks.contents import Contents
    from tests.desk.small_work import job, panel

    cuts = (LayerCut(layer="outer"), LayerCut(layer="lining", overcut=Overcut(least=3, wished=6)))
    wanted = job(panel(cuts=cuts), layers=(Layer(name="outer"), Layer(name="lining")))
    window.document.open(Contents((), wanted, None), {})
    window.go_to("pieces")
    legend = window.findChild(Legend)
    assert [entry.words for entry in legend._entries] == []
    assert not legend.isVisible()
    window.session.pieces.show_layer("lining")
    assert [entry.words for entry in legend._entries] == ["overcut, at least", "overcut, wished"]
