"""All is cut: asked with the counts before anything is used up, and taken back from the menu, also another day."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QApplication

from nestplan.model.files import read_hide
from tests.desk.answers import Answer
from tests.desk.small_work import laid_work, sheet


@pytest.fixture
def shop(window, tmp_path):
    """A folder with a saved plan of four pieces, two of them ticked, open in the window."""
    folder = tmp_path / "shop"
    folder.mkdir()
    window.document.open(laid_work(4, sheet(), step=(200, 150)), {})
    window.go_to("cut")
    panel = window.panels["cut"]
    for row in range(2):
        panel.list.item(row).setCheckState(panel.list.item(row).checkState().Checked)
    assert window.session.files.save_in(folder, {})
    return folder


def hides_in(folder):
    return sorted(path.name for path in folder.glob("*.hide.json"))


def test_it_is_asked_with_the_counts_and_cancel_leaves_all_as_it_was(window, shop):
    before = window.document.contents
    answer = Answer("Cancel")
    window.panels["cut"].book.click()
    assert "2 of 4 pieces are ticked as cut. The other 2 will count as cut too." in answer.asked
    assert "1 hide will be used up" in answer.asked
    assert window.document.contents == before
    assert hides_in(shop) == ["sheet.hide.json"]
    assert not read_hide(shop / "sheet.hide.json").used


def test_it_is_taken_back_from_the_menu_when_the_message_is_long_gone(window, shop):
    before = window.document.contents
    Answer("All is cut")
    window.menus.actions["All is cut: put the rest back …"].trigger()
    assert read_hide(shop / "sheet.hide.json").used
    window.notice.clear()
    answer = Answer("Take it back")
    window.menus.actions["Take the last cut back …"].trigger()
    assert "1 hide will be whole again" in answer.asked
    assert window.document.contents == before
    assert hides_in(shop) == ["sheet.hide.json"]
    assert not read_hide(shop / "sheet.hide.json").used


def test_it_is_taken_back_after_a_restart(window, shop, window_factory, tmp_path):
    placed = len(window.document.contents.plan.placements)
    Answer("All is cut")
    window.panels["cut"].book.click()
    assert read_hide(shop / "sheet.hide.json").used
    later = window_factory(tmp_path / "later")
    later.session.files.open([shop])
    assert later.document.contents.hide("sheet").used
    Answer("Take it back")
    later.menus.actions["Take the last cut back …"].trigger()
    QApplication.processEvents()
    assert [hide.name for hide in later.document.contents.hides] == ["sheet"]
    assert len(later.document.contents.plan.placements) == placed
    assert hides_in(shop) == ["sheet.hide.json"]
    assert not later.isWindowModified()


def test_with_nothing_open_the_last_rack_is_remembered(window, shop, window_factory, tmp_path):
    Answer("All is cut")
    window.panels["cut"].book.click()
    later = window_factory(tmp_path / "later")
    Answer("Take it back")
    later.menus.actions["Take the last cut back …"].trigger()
    assert [hide.name for hide in later.document.contents.hides] == ["sheet"]


def test_with_no_cut_to_take_back_it_says_so(window):
    window.menus.actions["Take the last cut back …"].trigger()
    assert "no cut to take back" in window.notice.words.text()
