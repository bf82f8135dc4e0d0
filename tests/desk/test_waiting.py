"""What has no place: a hide that has no backbone gets one from the message that asks for it."""

from __future__ import annotations

import msgspec
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from nestplan.nesting.nest import nest
from nestplan.tasks.contents import Contents
from tests.desk.small_work import pair_job, sheet


def open_unplaced(window, *hides):
    """A plan in which nothing has a place, since no hide has a backbone."""
    wanted = pair_job(sets=1)
    window.document.open(Contents(hides, wanted, nest(wanted, hides)), {})
    window.go_to("plan")
    QApplication.processEvents()
    return window.panels["plan"].waiting


def bare(name="bare"):
    return msgspec.structs.replace(sheet(name), backbone=None)


def test_a_button_in_the_message_begins_drawing_the_backbone_and_then_offers_to_plan_again(window, hand):
    waiting = open_unplaced(window, bare())
    assert "'bare' has no backbone" in waiting.why.text()
    assert [offer.words for offer in waiting.offers()] == ["Let panel lie any way to the stretch"]
    assert waiting.backbone.isVisible()
    QTest.mouseClick(waiting.backbone, Qt.MouseButton.LeftButton)
    QApplication.processEvents()
    assert window.step.name == "hides"
    assert "Press at the neck" in window.table.tool.hint
    window.table.fit()
    QApplication.processEvents()
    hand.drag((950, 300), (500, 300), (50, 300))
    hide = window.document.hide
    assert hide.backbone is not None
    assert hide.backbone[0] == pytest.approx((950, 300), abs=3)
    assert hide.backbone[-1] == pytest.approx((50, 300), abs=3)
    assert [offer.text() for offer in window.notice.offers] == ["Plan again"]
    window.go_to("plan")
    assert not waiting.backbone.isVisible()
    window.document.stack.undo()
    assert window.document.hide.backbone is None


def test_the_hide_in_sight_gets_the_backbone_where_several_have_none(window):
    waiting = open_unplaced(window, bare("one"), bare("two"))
    window.document.show_hide("two")
    waiting.refresh()
    wanted = []
    waiting.backbone_wanted.connect(wanted.append)
    waiting.backbone.click()
    assert wanted == ["two"]
    assert window.document.hide.name == "two"


def test_the_button_is_not_there_where_a_hide_knows_its_direction(window):
    waiting = open_unplaced(window, sheet(width=50.0, height=30.0))
    assert waiting.isVisible()
    assert not waiting.backbone.isVisible()
