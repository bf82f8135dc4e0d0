"""What the window saves and cuts keeps the rack right."""

from __future__ import annotations

import html
import json

import msgspec
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel

from nestplan.desk.plain_text import plain_tip
from nestplan.model.cut_journal import JOURNAL_NAME
from nestplan.model.files import read_hide, write_hide
from nestplan.tasks.cutting import cut_plan, find_cut
from tests.small_jobs import plain_hide
from tests.tasks.small_rack import contents_of, small_rack


def test_saving_leaves_a_hide_used_that_was_cut_up_meanwhile(window, tmp_path):
    window.session.files.open([small_rack(tmp_path)])
    document = window.document
    hide = document.contents.hides[0]
    write_hide(tmp_path / "barley.hide.json", msgspec.structs.replace(hide, used="spring belts"))
    document.edit_hide("Note", msgspec.structs.replace(hide, note="soft"))
    assert window.session.files.save()
    written = read_hide(tmp_path / "barley.hide.json")
    assert (written.used, written.note) == ("spring belts", "soft")
    assert document.contents.hides[0].used == "spring belts"
    assert document.stack.isClean()
    assert "barley was cut up meanwhile for spring belts" in window.notice.words.text()


def test_opening_a_rack_with_a_cut_that_broke_off_puts_it_right_and_says_so(window, tmp_path):
    rack = tmp_path / "rack"
    rack.mkdir()
    plan = small_rack(rack)
    before = contents_of(rack)
    cut_plan(find_cut(plan))
    journal = rack / JOURNAL_NAME
    journal.write_text(journal.read_text().replace('"done"', '"begun"'))
    window.session.files.open([plan])
    assert contents_of(rack) == before
    assert "had broken off; its files were put back" in window.notice.words.text()
    assert [hide.name for hide in window.document.contents.leather] == ["barley", "rye"]


def test_a_cut_from_the_window_is_taken_back_to_the_byte(window, tmp_path, monkeypatch):
    window.session.files.open([small_rack(tmp_path)])
    assert window.session.files.save()
    before = contents_of(tmp_path)
    monkeypatch.setattr(window.session.cuts, "_asked_to_commit", lambda _plan: True)
    window.session.cuts.commit()
    assert read_hide(tmp_path / "barley.hide.json").used
    assert "used up" in window.notice.words.text()
    window.notice.offers[0].click()
    assert contents_of(tmp_path) == before
    assert window.document.contents.plan is not None


def test_names_are_shown_as_they_are_and_not_as_markup(window, tmp_path):
    name = "<b>bold</b> <img src='file:///etc/passwd'>"
    plan = small_rack(tmp_path)
    for path in (tmp_path / "barley.hide.json", plan, tmp_path / "small.job.json"):
        text = path.read_text().replace('"barley"', json.dumps(name)).replace('"square"', json.dumps(name))
        path.write_text(text)
    write_hide(tmp_path / "none.hide.json", plain_hide(name))
    window.session.files.open([tmp_path])
    window.session.files.open([tmp_path / "barley.hide.json", tmp_path / "small.job.json", plan])
    shown = []
    for step in ("hides", "pieces", "choose", "plan", "cut"):
        window.session.navigation.go_to(step)
        shown += [label for label in window.findChildren(QLabel) if "<b>" in label.text()]
    assert shown
    assert {label.textFormat() for label in shown} == {Qt.TextFormat.PlainText}
    assert plain_tip(name) == f"<qt>{html.escape(name)}</qt>"
    assert plain_tip("plain & simple") == "plain & simple"
