"""Names that come from files are shown as they are: no markup in them is read, in no label, tip or menu."""

from __future__ import annotations

import msgspec
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel, QWidget

from nestplan.desk.plain_text import menu_text, plain_tip
from tests.desk.conftest import settle
from tests.desk.small_work import job, laid_work, panel, sheet

pytestmark = pytest.mark.security

MARKUP = "<b>bold</b> <img src='x'> & co"


def test_a_tip_with_markup_is_shown_as_it_is():
    assert plain_tip("a & b") == "a & b"
    assert "<b>" not in plain_tip(MARKUP)
    assert "&lt;b&gt;bold" in plain_tip(MARKUP)
    assert menu_text("a & b") == "a && b"


@pytest.mark.parametrize("step", ["hides", "pieces", "choose", "plan", "cut"])
def test_a_name_full_of_markup_is_plain_text_wherever_it_stands(window, qtbot, step):
    contents = laid_work(3)
    hide = msgspec.structs.replace(contents.hides[0], name=MARKUP, leather=MARKUP)
    placements = tuple(msgspec.structs.replace(p, hide=MARKUP) for p in contents.plan.placements)
    wanted = msgspec.structs.replace(contents.job, name=MARKUP)
    plan = msgspec.structs.replace(contents.plan, name=MARKUP, placements=placements)
    window.document.open(type(contents)((hide, sheet("other")), wanted, plan), {})
    window.go_to(step)
    window.document.select(plan.placements[:1])
    window.session.messages.notify(f"Saved {MARKUP}.")
    settle(qtbot, window)
    QApplication.processEvents()
    seen = 0
    for label in window.findChildren(QLabel):
        if "<b>" in label.text():
            seen += 1
            assert label.textFormat() == Qt.TextFormat.PlainText, label.text()
    assert seen, "the name is seen somewhere"
    for widget in window.findChildren(QWidget):
        assert "<b>" not in widget.toolTip(), widget.toolTip()
    for row in range(window.rack.list.count()):
        assert "<b>" not in window.rack.list.item(row).toolTip()


def test_a_piece_and_its_article_are_plain_text_too(window):
    named = panel(name=MARKUP)
    wanted = job(named)
    article = msgspec.structs.replace(wanted.articles[0], name=MARKUP)
    window.document.open(
        type(window.document.contents)((), msgspec.structs.replace(wanted, articles=(article,))), {}
    )
    window.go_to("pieces")
    tree = window.panels["pieces"].tree
    root = tree.topLevelItem(0)
    for item in (root, root.child(0), root.child(0).child(0)):
        assert "<b>" not in item.toolTip(0)
