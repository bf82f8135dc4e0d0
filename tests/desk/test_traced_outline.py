"""An outline found in a photograph, looked at in the window: painted on, undone, accepted warning by warning."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from PySide6.QtCore import QPointF, Qt
from PySide6.QtTest import QTest

from nestplan.desk.dialogs.traced_outline import OutlineReview, OutlineView
from nestplan.desk.settings import Settings
from nestplan.intake.photo.camera import CameraFit
from nestplan.intake.photo.outline import Outline
from nestplan.intake.photo.outline_checks import TraceWarning
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.rectification import rectify_through
from nestplan.tasks.tracing import TracedPhoto
from tests.work_time import WorkTime

SQUARE = np.array([[200.0, 200], [800, 200], [800, 600], [200, 600]])
PLACE = np.array([[700.0, 500], [800, 500], [800, 600], [700, 600]])


def found(warnings: int = 0) -> TracedPhoto:
    """A square hide on a floor of 1000 × 800 mm, a pixel a mm, seen from above."""
    image = np.full((800, 1000, 3), 190, dtype=np.uint8)
    image[200:600, 200:800] = (110, 70, 45)
    photo = Photo(image, "hide.jpg")
    # Floor y runs up, the picture's down.
    camera = CameraFit(np.array([[1.0, 0, 0], [0, -1, 799], [0, 0, 1]]), np.empty((0, 3, 3)), 0.0)
    straight = rectify_through(photo, camera, PLACE, has_reference=False)
    told = tuple(
        TraceWarning("weak edge", f"Reason {number}.", "Look there.", (PLACE,)) for number in range(warnings)
    )
    return TracedPhoto(photo, straight, Outline(SQUARE, (), 1.5, 0.0, told))


@pytest.fixture
def review(qtbot):
    view = OutlineView()
    made = OutlineReview(view, Settings())
    for widget, size in ((view, (700, 560)), (made, (300, 560))):
        qtbot.addWidget(widget)
        widget.resize(*size)
        widget.show()
    made.show_traced(found())
    return made


def paint(view: OutlineView, *points: tuple[float, float]) -> None:
    """Drag the left button over places on the floor, mm."""
    spots = [view.to_view(point).toPoint() for point in points]
    QTest.mousePress(view, Qt.MouseButton.LeftButton, pos=spots[0])
    for spot in spots[1:]:
        QTest.mouseMove(view, spot)
    QTest.mouseRelease(view, Qt.MouseButton.LeftButton, pos=spots[-1])


def area_of(review: OutlineReview) -> float:
    assert review.traced is not None
    outline = review.traced.outline
    return float(shapely.Polygon(outline.exterior, outline.holes).area)


def test_painting_grows_and_cuts_the_outline_and_undo_takes_it_back(review):
    paint(review.view, (780, 400), (800, 400), (830, 400))
    grown = area_of(review)
    assert grown == pytest.approx(240_000 + 30 * 30 + np.pi * 15**2 / 2, rel=0.002)
    review.brush.setCurrentIndex(1)
    review.brush.edited.emit("cut")
    paint(review.view, (400, 590), (400, 610))
    assert area_of(review) < grown - 200
    review.undo_button.click()
    assert area_of(review) == grown
    review.undo_button.click()
    assert area_of(review) == 240_000
    assert not review.undo_button.isEnabled()
    review.redo_button.click()
    assert area_of(review) == grown


def test_a_stroke_apart_from_the_hide_is_refused_in_words_and_changes_nothing(review):
    paint(review.view, (50, 50), (60, 60))
    assert review.fault.isVisible()
    assert "does not touch the hide" in review.fault.text()
    assert area_of(review) == 240_000


def test_a_stroke_is_done_and_shown_in_less_than_three_tenths_of_a_second(review):
    times = []
    for _ in range(3):
        start = WorkTime()
        paint(review.view, (780, 400), (800, 420), (830, 440))
        review.view.grab()
        times.append(start.seconds)
    assert min(times) < 0.3


def test_the_brush_is_as_wide_as_the_field_says(review):
    review.width_field.set_value(100.0)
    paint(review.view, (790, 400), (810, 400))
    assert shapely.Polygon(review.traced.outline.exterior).bounds[2] == pytest.approx(860, abs=2.5)


def test_an_outline_is_ready_only_when_each_warning_is_ticked(review, qtbot):
    assert review.ready
    told: list[bool] = []
    review.ready_changed.connect(told.append)
    review.show_traced(found(warnings=2))
    assert not review.ready
    assert review.view.shown_warning == 0
    review.ticks[0].setChecked(True)
    assert not review.ready
    assert review.view.shown_warning == 1
    QTest.keyClick(review.ticks[1], Qt.Key.Key_Space)
    assert review.ready
    assert told == [False, False, True]


def test_what_is_found_anew_has_nothing_accepted_and_no_stroke(review):
    paint(review.view, (780, 400), (830, 400))
    review.show_traced(found(warnings=1))
    assert not review.undo_button.isEnabled()
    assert not review.ready
    assert area_of(review) == 240_000


def test_the_outline_lies_where_the_picture_shows_the_hide(review):
    spot = review.view.to_view((200, 600))
    box = review.view.box()
    assert (spot.x() - box.x()) / box.width() == pytest.approx(0.2, abs=0.003)
    assert (spot.y() - box.y()) / box.height() == pytest.approx(0.25, abs=0.003)
    assert isinstance(spot, QPointF)
    grey = review.view.grab().toImage()
    inside = grey.pixelColor(review.view.to_view((500, 400)).toPoint())
    assert (inside.red(), inside.green(), inside.blue()) == pytest.approx((110, 70, 45), abs=6)


def test_a_warning_stays_when_the_outline_is_painted(review):
    review.show_traced(replace(found(warnings=1)))
    paint(review.view, (780, 400), (830, 400))
    assert len(review.traced.outline.warnings) == 1
