"""What a field refuses, and how it says so; and drop-downs that keep their choice while the panel is scrolled."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication, QLabel

from nestplan.desk.controls.fields import Choice
from nestplan.desk.dialogs.measured_hide import MeasuredHideDialog
from tests.desk.small_work import laid_work, sheet
from tests.desk.test_panels import type_in


@pytest.fixture
def panel(window):
    window.document.add_hide(sheet("oak"))
    return window.panels["hides"]


def shown_words(widget) -> list[str]:
    QApplication.processEvents()
    return [label.text() for label in widget.findChildren(QLabel) if label.isVisible()]


@pytest.mark.parametrize(
    ("name", "typed", "why"),
    [
        ("stated", "999999999999 ft2", "The area of a hide must be between 0.01 and 1,000 ft²."),
        ("stated", "0 ft2", "The area of a hide must be between 0.01 and 1,000 ft²."),
        ("currency", "9", "Give a currency by its letters or its sign, such as EUR or €."),
        ("price", "much", "This is no number."),
        ("firmness", "7", "It must be at least 1 and at most 5."),
    ],
)
def test_a_bad_field_says_its_reason_beside_it_until_it_is_put_right(window, panel, name, typed, why):
    before = window.document.contents
    field = getattr(panel, name)
    type_in(field, typed)
    assert why in shown_words(panel)
    assert window.document.contents is before
    reason = next(label for label in panel.findChildren(QLabel) if label.text() == why)
    gap = reason.mapTo(panel, QPoint(0, 0)).y() - field.mapTo(panel, QPoint(0, field.height())).y()
    assert 0 <= gap < 12, "the reason stands right below its field"
    type_in(field, {"stated": "22.75 ft2", "currency": "EUR", "price": "10", "firmness": "2"}[name])
    assert why not in shown_words(panel)
    assert window.document.contents is not before


def test_a_measured_hide_refuses_an_area_that_cannot_be(window):
    dialog = MeasuredHideDialog(window.settings, window)
    dialog.open()
    made = []
    dialog.made.connect(made.append)
    dialog.area.setText("999999999999 ft2")
    dialog.make.click()
    assert made == []
    assert "The area of a hide must be between 0.01 and 1,000 ft²." in shown_words(dialog)
    dialog.reject()
    dialog.deleteLater()


def test_the_wheel_over_a_drop_down_changes_nothing(window):
    window.document.open(laid_work(1), {})
    window.go_to("plan")
    choices = [choice for choice in window.panels["plan"].findChildren(Choice) if choice.isVisible()]
    assert choices
    for choice in choices:
        choice.setFocus()
        before = choice.currentIndex()
        for delta in (-120, 120):
            middle = QPointF(choice.rect().center())
            turn = QWheelEvent(
                middle, choice.mapToGlobal(middle), QPoint(), QPoint(0, delta), Qt.MouseButton.NoButton,
                Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
            )  # fmt: skip
            QApplication.sendEvent(choice, turn)
            assert not turn.isAccepted(), "the panel below may scroll"
            assert choice.currentIndex() == before


def test_no_turning_handle_stays_where_a_piece_was_taken_to_another_hide(window, hand):
    window.document.open(laid_work(2, step=(200, 150)), {})
    window.document.add_hide(sheet("elm"))
    window.document.show_hide("sheet")
    window.go_to("plan")
    first = window.document.contents.plan.placements[0]
    window.document.select((first,))
    assert window.table.tool.handle is not None
    window.session.plan.move_to_hide("elm")
    assert window.document.contents.plan.placements[0].hide == "elm"
    assert window.table.tool.handle is None
    assert window.table.tool.preview() == ()
