"""Ctrl+Z and a tool chosen again, while something is typed or drawn: nothing that was done by hand is lost."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from nestplan.desk.table.tracing import TraceTool
from tests.desk.small_work import sheet
from tests.desk.test_panels import type_in


def press_undo(widget) -> None:
    QTest.keyClick(widget, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)


@pytest.fixture
def opened(window):
    window.document.add_hide(sheet("oak"))
    window.activateWindow()
    return window


def test_undo_works_while_a_text_field_has_the_keys(opened):
    field = opened.panels["hides"].leather
    field.setFocus()
    type_in(field, "goat")
    field.setFocus()
    assert opened.document.hide.leather == "goat"
    press_undo(field)
    assert opened.document.hide.leather != "goat"
    assert field.text() == opened.document.hide.leather


def test_undo_in_a_text_field_first_takes_back_what_is_being_typed(opened):
    field = opened.panels["hides"].note
    before = opened.document.contents
    field.setFocus()
    QTest.keyClicks(field, "soft")
    press_undo(field)
    assert field.text() == ""
    assert opened.document.contents is before


def test_undo_while_tracing_takes_the_last_point_back_and_then_a_whole_stroke(opened, hand):
    opened.session.hides.draw_flaw("outline")
    before = opened.document.contents
    hand.click(100, 100)
    hand.click(300, 100)
    hand.drag((300, 300), *((300 - 10 * step, 300 + step) for step in range(1, 12)))
    tool = opened.table.tool
    assert isinstance(tool, TraceTool)
    assert len(tool.points) > 3
    press_undo(opened.table)
    assert [tuple(round(v, -1) for v in point) for point in tool.points] == [(100, 100), (300, 100)]
    press_undo(opened.table)
    assert len(tool.points) == 1
    assert opened.document.contents is before
    press_undo(opened.table)
    assert tool.points == []
    press_undo(opened.table)
    assert opened.document.contents is not before, "with nothing drawn the last change is undone"


def test_a_tool_chosen_again_goes_on_with_the_unfinished_flaw(opened, hand):
    tools = opened.panels["hides"].tools
    tools["outlined flaw"].click()
    for at in ((100, 100), (300, 100), (300, 300)):
        hand.click(*at)
    tools["outlined flaw"].click()
    assert len(opened.table.tool.points) == 3
    tools["line flaw"].click()
    assert opened.table.tool.points == []
    tools["outlined flaw"].click()
    assert len(opened.table.tool.points) == 3
    opened.go_to("pieces")
    opened.go_to("hides")
    tools["outlined flaw"].click()
    assert len(opened.table.tool.points) == 3
    hand.key(Qt.Key.Key_Return)
    assert len(opened.document.hide.flaws) == 1
    tools["outlined flaw"].click()
    assert opened.table.tool.points == []


def test_an_unfinished_flaw_is_given_up_with_escape_and_stays_with_its_hide(opened, hand):
    tools = opened.panels["hides"].tools
    tools["outlined flaw"].click()
    hand.click(100, 100)
    hand.key(Qt.Key.Key_Escape)
    tools["outlined flaw"].click()
    assert opened.table.tool.points == []
    hand.click(100, 100)
    opened.document.add_hide(sheet("elm"))
    tools["outlined flaw"].click()
    assert opened.table.tool.points == [], "a flaw begun on one hide does not go on on another"


def test_a_dragged_scratch_ends_at_release_like_a_dragged_backbone(opened, hand):
    opened.session.hides.draw_flaw("line")
    hand.drag((100, 100), (300, 110), (500, 120))
    (flaw,) = opened.document.hide.flaws
    assert flaw.line is not None
    assert flaw.line.points[0] == pytest.approx((100, 100), abs=2)
    assert flaw.line.points[-1] == pytest.approx((500, 120), abs=2)
