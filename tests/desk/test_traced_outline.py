"""An outline found in a photograph, looked at in the window: painted on, undone, accepted warning by warning."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QHBoxLayout, QWidget

from nestplan.desk.dialogs.traced_outline import OutlineReview, OutlineView
from nestplan.desk.editing.hide_from_photo import PhotoOutline, hide_of_outline
from nestplan.desk.settings import Settings
from nestplan.intake.photo.camera import CameraFit
from nestplan.intake.photo.flaws import FlawSuggestion
from nestplan.intake.photo.outline import Outline
from nestplan.intake.photo.outline_checks import TraceWarning
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.rectification import rectify_through
from nestplan.tasks.tracing import PrintedMarks, TracedPhoto
from tests.work_time import WorkTime

SQUARE = np.array([[200.0, 200], [800, 200], [800, 600], [200, 600]])
PLACE = np.array([[700.0, 500], [800, 500], [800, 600], [700, 600]])


def found(warnings: int = 0, flaws: tuple[FlawSuggestion, ...] = ()) -> PhotoOutline:
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
    outline = Outline(SQUARE, (), 1.5, 0.0, told)
    return PhotoOutline(TracedPhoto(photo, PrintedMarks(), straight, outline), flaws, "hide.jpg")


@pytest.fixture
def review(qtbot):
    view = OutlineView()
    made = OutlineReview(view, Settings())
    for widget, size in ((view, (700, 560)), (made, (300, 560))):
        qtbot.addWidget(widget)
        widget.resize(*size)
        widget.show()
    made.show_found(found())
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
    type_width(review, "100 mm")
    assert review.view.brush_width == 100.0
    paint(review.view, (790, 400), (810, 400))
    assert shapely.Polygon(review.traced.outline.exterior).bounds[2] == pytest.approx(860, abs=2.5)


@pytest.mark.parametrize("width", ["0", "-5 mm"])
def test_a_brush_without_width_is_refused_in_its_field(review, width):
    type_width(review, width)
    assert review.width_field.fault
    assert review.view.brush_width == 30.0


def type_width(review: OutlineReview, words: str) -> None:
    """Type into the field of the brush's width, and go on to the next one."""
    review.width_field.selectAll()
    QTest.keyClicks(review.width_field, words)
    review.width_field.editingFinished.emit()


def test_what_is_typed_counts_as_soon_as_the_picture_is_clicked(qtbot):
    whole = QWidget()
    row = QHBoxLayout(whole)
    view = OutlineView()
    review = OutlineReview(view, Settings())
    row.addWidget(view)
    row.addWidget(review)
    qtbot.addWidget(whole)
    whole.resize(1000, 560)
    whole.show()
    whole.activateWindow()
    review.show_found(found())
    review.width_field.setFocus()
    qtbot.waitUntil(review.width_field.hasFocus)
    review.width_field.selectAll()
    QTest.keyClicks(review.width_field, "80 mm")
    paint(view, (790, 400), (810, 400))
    assert shapely.Polygon(review.traced.outline.exterior).bounds[2] == pytest.approx(850, abs=2.5)


def test_from_near_the_outline_lies_where_the_picture_shows_the_hide(review):
    view = review.view
    view.show_whole()
    spot = view.to_view((800, 400))
    QTest.mouseMove(view, spot.toPoint())
    view.zoom(8.0, spot)
    assert view.to_view((800, 400)).x() == pytest.approx(spot.x(), abs=0.01)
    shown = view.grab().toImage()
    # 3 mm inside and outside the edge: leather and floor, at eight times the size.
    for aside, tone in ((-3.0, (110, 70, 45)), (3.0, (190, 190, 190))):
        at = view.to_view((800 + aside, 415)).toPoint()
        assert shown.pixelColor(at).getRgb()[:3] == tone
    paint(view, (799, 400), (801, 400))
    assert view.to_view((800, 400)).x() == pytest.approx(spot.x(), abs=0.01)


def test_a_hide_just_found_is_shown_large_with_room_round_it(review):
    low, high = review.view.to_view((200, 200)), review.view.to_view((800, 600))
    seen = (high.x() - low.x()) / review.view.width(), (low.y() - high.y()) / review.view.height()
    assert max(seen) == pytest.approx(1 / 1.24, abs=0.02)


def test_a_picture_seen_from_near_never_leaves_its_frame_and_goes_back_whole(review):
    view = review.view
    view.show_whole()
    whole = view.box()
    QTest.keyClick(view, Qt.Key.Key_Plus)
    assert view.box().width() == pytest.approx(1.25 * whole.width())
    view.pan(10_000, 10_000)
    assert view.box().left() <= 0.5 * (view.width() - whole.width()) + 0.01
    view.pan(-20_000, -20_000)
    assert view.box().right() >= 0.5 * (view.width() + whole.width()) - 0.01
    view.zoom(1e9)
    assert view.box().width() == pytest.approx(24 * whole.width())
    QTest.keyClick(view, Qt.Key.Key_0)
    assert view.box() == whole
    view.zoom(0.01)
    assert view.box() == whole


def test_the_middle_button_moves_the_picture_and_paints_nothing(review):
    view = review.view
    view.show_whole()
    view.zoom(4.0)
    before = view.box()
    middle = QPoint(350, 280)
    QTest.mousePress(view, Qt.MouseButton.MiddleButton, pos=middle)
    QTest.mouseMove(view, middle + QPoint(40, 25))
    QTest.mouseRelease(view, Qt.MouseButton.MiddleButton, pos=middle + QPoint(40, 25))
    assert view.box().x() == pytest.approx(before.x() + 40)
    assert view.box().y() == pytest.approx(before.y() + 25)
    assert area_of(review) == 240_000


def test_an_outline_is_ready_only_when_each_warning_is_ticked(review, qtbot):
    assert review.ready
    told: list[bool] = []
    review.ready_changed.connect(told.append)
    review.show_found(found(warnings=2))
    assert not review.ready
    assert review.view.shown_warning == 0
    review.ticks[0].setChecked(True)
    assert not review.ready
    assert review.view.shown_warning == 1
    QTest.keyClick(review.ticks[1], Qt.Key.Key_Space)
    assert review.ready
    assert told == [False, False, True]


def test_what_is_found_anew_has_nothing_accepted_and_what_was_mended_is_one_undo_away(review):
    paint(review.view, (780, 400), (830, 400))
    mended = area_of(review)
    review.show_found(found(warnings=1))
    assert not review.ready
    assert area_of(review) == 240_000
    review.undo_button.click()
    assert area_of(review) == mended


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
    review.show_found(found(warnings=1))
    paint(review.view, (780, 400), (830, 400))
    assert len(review.traced.outline.warnings) == 1


def choose(review: OutlineReview, kind: str) -> None:
    """Choose by hand what the pointer does."""
    review.brush.set_value(kind)
    review.brush.edited.emit(kind)


def test_a_place_is_called_by_a_click_and_taken_back_by_undo(review):
    choose(review, "floor")
    paint(review.view, (600, 500))
    choose(review, "hide")
    paint(review.view, (850, 300))
    assert area_of(review) == 240_000
    (floor,), (hide,) = (review.view.places.called(what) for what in ("floor", "hide"))
    # Pixels of the file: down from the top.
    assert floor == pytest.approx((600, 299), abs=1.5)
    assert hide == pytest.approx((850, 499), abs=1.5)
    marked = review.view.grab().toImage()
    at = review.view.to_view((850, 300)).toPoint() + QPoint(6, 0)
    assert marked.pixelColor(at).getRgb()[:3] != (190, 190, 190)
    review.undo_button.click()
    assert not review.view.places.called("hide")
    review.redo_button.click()
    assert review.view.places.called("hide") == [hide]
    choose(review, "grow")
    paint(review.view, (780, 400), (800, 400), (830, 400))
    assert area_of(review) > 240_000


def test_an_outline_found_again_takes_the_place_of_the_mended_one_and_undo_brings_that_back(review):
    review.show_found(found(warnings=1))
    review.ticks[0].setChecked(True)
    paint(review.view, (780, 400), (830, 400))
    mended = area_of(review)
    review.show_found(found(warnings=2))
    assert area_of(review) == 240_000
    assert len(review.ticks) == 2
    assert not review.ready
    review.undo_button.click()
    assert area_of(review) == mended
    assert len(review.ticks) == 1
    assert not review.ready, "it is to be looked at again"
    review.undo_button.click()
    assert area_of(review) == 240_000


def spot(x: float, y: float, appearance: str = "dark spot") -> FlawSuggestion:
    return FlawSuggestion(np.array([[x, y], [x + 20, y], [x + 20, y + 20], [x, y + 20]]), appearance, 0.7)


def test_flaws_are_suggestions_until_they_are_ticked(review, tmp_path):
    review.show_found(found(flaws=(spot(300, 300), spot(500, 400, "line"), spot(600, 300, "hole"))))
    assert [tick.text() for tick in review.flaws.ticks] == ["1: dark spot, 20 mm", "2: line, 20 mm"]
    assert review.ready, "a suggestion asks for nothing"
    assert review.accepted.flaws == ()
    review.flaws.ticks[1].setChecked(True)
    made = hide_of_outline(review.accepted, name="h", leather="goat", folder=tmp_path)
    assert [flaw.name for flaw in made.hide.flaws] == ["line"]
    assert not review.flaws.every.isChecked()
    QTest.keyClick(review.flaws.every, Qt.Key.Key_Space)
    assert len(review.accepted.flaws) == 2
    paint(review.view, (780, 400), (830, 400))
    assert len(review.accepted.flaws) == 2, "a stroke leaves what was ticked"


def test_ticked_flaws_are_drawn_more_strongly(review):
    review.show_found(found(flaws=(spot(300, 300),)))
    at = review.view.to_view((300, 310)).toPoint()
    before = review.view.grab().toImage()
    review.flaws.ticks[0].setChecked(True)
    after = review.view.grab().toImage()
    darker = sum(
        after.pixelColor(at + QPoint(dx, dy)).lightness() < before.pixelColor(at + QPoint(dx, dy)).lightness()
        for dx in (-1, 0, 1)
        for dy in range(-6, 7)
    )
    assert darker > 5


def test_what_is_found_again_brings_its_own_suggestions_and_undo_those_before(review):
    review.show_found(found(flaws=(spot(300, 300),)))
    review.show_found(found(flaws=(spot(400, 300), spot(500, 300))))
    assert len(review.flaws.ticks) == 2
    review.undo_button.click()
    assert len(review.flaws.ticks) == 1
    assert review.flaws.flaws[0].ring[0, 0] == 300
