"""A photograph in the window: its scale, places called hide or floor, the outline found again."""

from __future__ import annotations

import pytest
import shapely
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from nestplan.desk.dialogs.photo import PhotoDialog
from nestplan.tasks.tracing import ClickedSheet, FoundSheet, PrintedMarks, floor_of_place
from tests.desk.photographs import sheet_beside_a_skin


def test_a_place_called_floor_binds_what_is_found_again(window, qtbot, tmp_path):
    file, _ = sheet_beside_a_skin(tmp_path / "skin.png")
    dialog = PhotoDialog(str(file), window.settings, window)
    qtbot.addWidget(dialog)
    dialog.show()
    dialog.flaws.setChecked(False)
    dialog.find_button.click()
    qtbot.waitUntil(dialog.take_button.isEnabled, timeout=60_000)
    assert isinstance(dialog.scale, FoundSheet), "left as found: other sheets of its size count too"
    dialog.click.set_value("hide")
    dialog.click.edited.emit("hide")
    QTest.mouseClick(
        dialog.view, Qt.MouseButton.LeftButton, pos=dialog.view.to_view((480.0, 330.0)).toPoint()
    )
    assert len(dialog.view.corners) == 4
    assert dialog.told_places.text() == "Called hide: 1 place, floor: 0."
    dialog.take_button.click()
    qtbot.waitUntil(lambda: dialog.review.traced is not None or dialog.fault.isVisible(), timeout=90_000)
    assert dialog.review.traced is not None, dialog.fault.text()
    first = dialog.review.traced
    inside = floor_of_place(first, (350.0, 400.0))
    outline = shapely.Polygon(first.outline.exterior)
    assert outline.buffer(-30).contains(shapely.Point(inside))
    dialog.review.brush.set_value("floor")
    dialog.review.brush.edited.emit("floor")
    QTest.mouseClick(
        dialog.outline_view, Qt.MouseButton.LeftButton, pos=dialog.outline_view.to_view(inside).toPoint()
    )
    qtbot.waitUntil(dialog.again_button.isEnabled, timeout=60_000)
    dialog.again_button.click()
    qtbot.waitUntil(lambda: dialog.review.traced is not first or dialog.fault.isVisible(), timeout=90_000)
    now = dialog.review.traced
    assert now is not None
    assert now is not first, dialog.fault.text()
    assert now.straight is first.straight, "neither read nor straightened again"
    assert not shapely.Polygon(now.outline.exterior, now.outline.holes).contains(shapely.Point(inside))
    dialog.review.undo_button.click()
    assert dialog.review.traced is first
    qtbot.waitUntil(dialog.back_button.isEnabled, timeout=60_000)
    dialog.back_button.click()
    dialog.take_button.click()
    qtbot.waitUntil(lambda: dialog.review.traced is not first or dialog.fault.isVisible(), timeout=90_000)
    dialog.review.undo_button.click()
    assert dialog.review.traced is first, "what was mended before going back is one Undo away"
    for tick in dialog.review.ticks:
        tick.setChecked(True)
    made = []
    dialog.made.connect(lambda hide, photo: made.append((hide, photo)))
    qtbot.waitUntil(dialog.use_button.isEnabled, timeout=60_000)
    dialog.use_button.click()
    qtbot.waitUntil(lambda: bool(made) or dialog.fault.isVisible(), timeout=60_000)
    assert made, dialog.fault.text()
    assert made[0][0].gross_area == pytest.approx(outline.area, rel=0.01)


def test_corners_moved_by_hand_are_taken_as_they_are_and_marks_need_none(window, qtbot, tmp_path):
    file, _ = sheet_beside_a_skin(tmp_path / "skin.png")
    dialog = PhotoDialog(str(file), window.settings, window)
    qtbot.addWidget(dialog)
    dialog.show()
    assert dialog.scale is None
    assert not dialog.take_button.isEnabled()
    dialog.view.set_corners([(100.0, 100.0), (200.0, 100.0), (200.0, 180.0), (100.0, 180.0)])
    for key in (Qt.Key.Key_3, Qt.Key.Key_Right, Qt.Key.Key_Up, Qt.Key.Key_Up):
        QTest.keyClick(dialog.view, key)
    QTest.keyClick(dialog.view, Qt.Key.Key_Left, Qt.KeyboardModifier.ShiftModifier)
    assert dialog.view.corners[2] == (191.0, 178.0)
    scale = dialog.scale
    assert isinstance(scale, ClickedSheet)
    assert list(scale.corners) == dialog.view.corners
    dialog.sheet.set_value("marks")
    dialog.sheet.edited.emit("marks")
    assert isinstance(dialog.scale, PrintedMarks)
    assert dialog.take_button.isEnabled()
    dialog.find_button.click()
    qtbot.waitUntil(dialog.fault.isVisible, timeout=60_000)
    assert "mark" in dialog.fault.text()
