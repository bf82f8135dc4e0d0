"""Pieces from a photograph of templates in the window: found, seen over the photo, mended, named, answered, undone."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from nestplan.desk.dialogs.templates import TemplatesDialog
from tests.intake.kept_readings import keep_readings
from tests.intake.small_drawings import dxf
from tests.intake.template_render import SMALL_TEMPLATES, render_templates


@pytest.fixture(scope="module")
def photo(tmp_path_factory):
    path = tmp_path_factory.mktemp("photo") / "templates.jpg"
    path.write_bytes(render_templates(SMALL_TEMPLATES, supersample=3).jpeg)
    return path


@pytest.fixture(scope="module")
def kept():
    return {}


@pytest.fixture
def dialog(window, photo, qtbot, kept, monkeypatch):
    """The dialog with the templates found."""
    keep_readings(monkeypatch, kept)
    window.go_to("pieces")
    made = TemplatesDialog(str(photo), window.settings, window)
    made.made.connect(window.session.files._templates_made)
    made.resize(1200, 760)
    made.show()
    made.find_button.click()
    qtbot.waitUntil(lambda: len(made.view.corners) == 4 or made.fault.isVisible(), timeout=60_000)
    assert len(made.view.corners) == 4, made.fault.text()
    qtbot.waitUntil(made.read_button.isEnabled, timeout=60_000)
    made.read_button.click()
    qtbot.waitUntil(lambda: made.talk is not None or made.fault.isVisible(), timeout=120_000)
    assert made.talk is not None, made.fault.text()
    qtbot.waitUntil(lambda: not made._busy, timeout=60_000)
    QApplication.processEvents()
    yield made
    made.close()
    made.deleteLater()


def test_templates_are_answered_for_named_and_taken_in_one_step_that_can_be_undone(window, dialog):
    talk = dialog.talk
    assert dialog.rows.count() == 5
    assert not dialog.take_button.isEnabled(), "what the marks mean is not said"
    for group, do in (("red rings", "punch"), ("blue dots", "mark")):
        dialog.groups[group].set_value(do)
        dialog.groups[group].edited.emit(do)
    assert dialog.take_button.isEnabled()
    dialog.rows.setCurrentRow(1)
    dialog.name.setText("gusset")
    QTest.keyClick(dialog.name, Qt.Key.Key_Return)
    assert talk.name(1) == "gusset"
    dialog.pairs.click()
    dialog.take_button.click()
    QApplication.processEvents()
    pieces = window.document.contents.job.articles[0].pieces
    assert len(pieces) == 4
    assert sum(piece.pair for piece in pieces) == 1
    assert sum(mark.do == "punch" for piece in pieces for mark in piece.marks) == 4
    window.document.stack.undo()
    assert window.document.contents.job is None
    window.document.stack.redo()
    assert len(window.document.contents.job.articles[0].pieces) == 4


def test_what_is_said_in_the_dialog_can_be_taken_back(dialog):
    talk = dialog.talk
    item = dialog.rows.item(2)
    item.setCheckState(Qt.CheckState.Unchecked)
    assert talk.choices.left_out == {2}
    dialog.undo_button.click()
    assert not talk.choices.left_out
    assert dialog.rows.item(2).checkState() == Qt.CheckState.Checked
    QTest.keyClick(
        dialog, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
    )
    assert talk.choices.left_out == {2}


def test_a_point_of_a_template_is_dragged_over_the_photograph(dialog, tmp_path):
    talk, view = dialog.talk, dialog.pieces_view
    number = next(k for k, each in enumerate(talk.read.found) if len(each.inside.holes) == 2)
    dialog.rows.setCurrentRow(number)
    dialog.mend_button.click()
    before = shapely.Polygon(talk.outline(number)).area
    ring = talk.outline(number)
    outward = ring[0] + (ring[0] - ring.mean(axis=0)) * 0.1
    start, end = (view.to_view(np.array([place]))[0].toPoint() for place in (ring[0], outward))
    QTest.mousePress(view, Qt.MouseButton.LeftButton, pos=start)
    QTest.mouseMove(view, (start + end) / 2)
    QTest.mouseMove(view, end)
    QTest.mouseRelease(view, Qt.MouseButton.LeftButton, pos=end)
    QApplication.processEvents()
    assert shapely.Polygon(talk.outline(number)).area > before + 50
    assert dialog.grab().save(str(tmp_path / "templates.png"))
    dialog.undo_button.click()
    assert shapely.Polygon(talk.outline(number)).area == pytest.approx(before)


@pytest.mark.parametrize(("layer", "offer"), [("HELP", "HELP"), ("KNIFE", "(frame)")])
def test_a_frame_in_a_drawing_is_left_out_at_a_click(layer, offer, window, tmp_path):
    def build(_document, space):
        space.add_lwpolyline(
            [(-10, -10), (210, -10), (210, 110), (-10, 110)], close=True, dxfattribs={"layer": layer}
        )
        for x in (0, 100):
            space.add_lwpolyline(
                [(x, 0), (x + 80, 0), (x + 60, 90), (x, 80)], close=True, dxfattribs={"layer": "KNIFE"}
            )
            space.add_circle((x + 30, 40), 3, dxfattribs={"layer": "KNIFE"})

    window.session.files.take_drawing(str(dxf(tmp_path / "bag.dxf", build)), pieces=True)
    offers = {button.text(): button for button in window.notice.offers}
    assert window.grab().save(str(tmp_path / "frame.png"))
    offers[f"Leave out the layer {offer}"].click()
    assert [piece.name for piece in window.document.contents.job.articles[0].pieces] == ["bag 1", "bag 2"]
