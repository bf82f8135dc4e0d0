"""The projector view: its marks moved by hand, a square measured from its grabbed picture, steps gone through."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from nestplan.desk.editing.cutting import steps_on_hide
from nestplan.desk.output.projecting import Projection
from nestplan.desk.output.projector_view import ProjectorView
from tests.desk.small_work import laid_work

#: Where a slanted projector shows the corners of a rectangle of 1400 × 1100 mm, pixels.
SEEN = np.array(((160.0, 930.0), (1730.0, 985.0), (1610.0, 110.0), (250.0, 60.0)))


@pytest.fixture
def dialog(window):
    window.document.open(laid_work(4), {})
    window.session.projector.show()
    QApplication.processEvents()
    made = window.session.projector.dialog
    yield made
    made.close()


def solved(source, target):
    """The 3 × 3 matrix from four points to four, by its eight linear equations (not by our own fit)."""
    rows, right = [], []
    for (x, y), (u, v) in zip(source, target, strict=True):
        rows += [(x, y, 1, 0, 0, 0, -u * x, -u * y), (0, 0, 0, x, y, 1, -v * x, -v * y)]
        right += [u, v]
    return np.append(np.linalg.solve(np.array(rows), np.array(right)), 1.0).reshape(3, 3)


def apply(matrix, points):
    spots = np.column_stack((points, np.ones(len(points)))) @ matrix.T
    return spots[:, :2] / spots[:, 2:]


def fitted_corners(found, near):
    """The corners (4, 2) of a quadrilateral from the pixels of its lines: each side fitted, sides crossed."""
    sides = []
    for start, end in zip(near, np.roll(near, -1, axis=0), strict=True):
        along = (end - start) / np.hypot(*(end - start))
        away = (found - start) @ np.array((-along[1], along[0]))
        place = (found - start) @ along / np.hypot(*(end - start))
        mine = found[(np.abs(away) < 3) & (place > 0.05) & (place < 0.95)]
        middle = mine.mean(axis=0)
        direction = np.linalg.svd(mine - middle)[2][0]
        sides.append((middle, direction))
    corners = []
    for (a, d), (b, e) in zip([sides[-1], *sides[:-1]], sides, strict=True):
        share = np.linalg.solve(np.column_stack((d, -e)), b - a)
        corners.append(a + share[0] * d)
    return np.array(corners)


def test_the_square_of_one_metre_measured_from_the_picture_is_one_metre(qapp, qtbot):
    projection = Projection((1920, 1080), (1400.0, 1100.0))
    projection.set_corners(SEEN)
    projection.go("cut")
    projection.square = 1000.0
    view = ProjectorView(projection)
    qtbot.addWidget(view)
    view.setGeometry(0, 0, 1920, 1080)
    view.show()
    QApplication.processEvents()
    assert projection.size == (1920, 1080)
    picture = view.grab().toImage().convertToFormat(view.grab().toImage().Format.Format_RGB888)
    assert (picture.width(), picture.height()) == (1920, 1080)
    raw = np.frombuffer(picture.constBits(), np.uint8).reshape(1080, picture.bytesPerLine())
    pixels = raw[:, : 3 * 1920].reshape(1080, 1920, 3).astype(int)
    yellow = (pixels[:, :, 0] > 90) & (pixels[:, :, 2] < 0.6 * pixels[:, :, 0])
    found = np.argwhere(yellow)[:, ::-1] + 0.5
    table = np.array(((0, 0), (1400, 0), (1400, 1100), (0, 1100)), dtype=float)
    to_pixels = solved(table, SEEN)
    square = np.array(((0, 0), (1000, 0), (1000, 1000), (0, 1000)), dtype=float)
    corners = fitted_corners(found, apply(to_pixels, square))
    measured = apply(np.linalg.inv(to_pixels), corners)
    sides = np.hypot(*(np.roll(measured, -1, axis=0) - measured).T)
    assert sides == pytest.approx([1000.0] * 4, rel=0.002)
    assert np.hypot(*(measured[2] - measured[0])) == pytest.approx(1000 * 2**0.5, rel=0.002)


def test_marks_are_dragged_and_moved_by_keys_and_remembered(dialog, window, qtbot):
    dialog.open_view.click()
    view = dialog.view
    qtbot.waitExposed(view)
    first = QPoint(*(int(value) for value in dialog.projection.corners[0].round()))
    QTest.mousePress(view, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, first)
    QTest.mouseMove(view, first + QPoint(-30, 20))
    QTest.mouseRelease(
        view, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, first + QPoint(-30, 20)
    )
    assert dialog.projection.corners[0] == pytest.approx([first.x() - 30, first.y() + 20])
    before = dialog.projection.corners[1].copy()
    QTest.keyClick(view, Qt.Key.Key_Tab)
    assert dialog.projection.chosen == 1
    QTest.keyClick(view, Qt.Key.Key_Right)
    QTest.keyClick(view, Qt.Key.Key_Up, Qt.KeyboardModifier.ShiftModifier)
    assert dialog.projection.corners[1] == pytest.approx(before + np.array((1, -10)))
    assert "lower right" in dialog.words.text()
    assert window.settings.projector["corners"] == dialog.projection.corners.tolist()


def test_corners_that_cross_are_not_taken(qapp):
    projection = Projection((1000, 800))
    before = projection.corners.copy()
    projection.grasp(tuple(before[0]))
    projection.move(tuple(before[2] + np.array((50, -50))))
    assert np.array_equal(projection.corners, before)


def test_the_hide_lies_where_its_two_spots_were_found(dialog):
    projection = dialog.projection
    dialog.phases["hide"].click()
    assert projection.phase == "hide"
    wanted = projection.calibration.pixels(np.array(((300.0, 120.0), (300.0, 120.0 + 380.0))))
    for number, at in enumerate(wanted):
        projection.chosen = number
        projection.move(tuple(at))
    ends = projection.pose.apply(projection.on_hide)
    assert ends.mean(axis=0) == pytest.approx([300.0, 310.0], abs=1e-6)
    assert ends[1, 0] == pytest.approx(ends[0, 0], abs=1e-6)
    assert "than on the plan" in dialog.words.text() or "than on the plan" in projection.words()


def test_the_whole_hide_is_dragged_where_no_mark_is(dialog, qtbot):
    dialog.open_view.click()
    qtbot.waitExposed(dialog.view)
    dialog.phases["hide"].click()
    before = dialog.projection.on_table.copy()
    middle = dialog.projection.handles().mean(axis=0)
    start = QPoint(int(middle[0]), int(middle[1]))
    none, left = Qt.KeyboardModifier.NoModifier, Qt.MouseButton.LeftButton
    QTest.mousePress(dialog.view, left, none, start)
    QTest.mouseMove(dialog.view, start + QPoint(50, 0))
    QTest.mouseRelease(dialog.view, left, none, start + QPoint(50, 0))
    moved = dialog.projection.on_table - before
    assert moved[0] == pytest.approx(moved[1])
    assert moved[0, 0] > 10


def test_pieces_are_gone_through_in_cutting_order_and_marked_as_cut(dialog, window):
    dialog.phases["cut"].click()
    steps = steps_on_hide(window.session.document)
    assert len(dialog.projection.steps) == len(steps)
    now = [line for line in dialog.projection.lines() if line.role == "cut now"]
    first = dialog.projection.pose.apply(steps[0][1][0].cut_ring)
    assert now[0].pixels == pytest.approx(dialog.projection.calibration.pixels(first))
    dialog.ticked.click()
    assert sum(placement.done for placement in window.document.contents.plan.placements) == len(steps[0][1])
    assert dialog.projection.current == min(1, len(steps) - 1)
    dialog.phases["hide"].click()
    assert {line.role for line in dialog.projection.lines()} == {"hide"}
    dialog.back.click()
    dialog.phases["cut"].click()
    dialog.back.click()
    assert dialog.projection.current == 0
    window.document.stack.undo()
    assert not any(placement.done for placement in window.document.contents.plan.placements)
