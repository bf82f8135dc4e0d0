"""Two windows on one folder, and a cut meanwhile: what one saves, the other never writes over unasked."""

from __future__ import annotations

import msgspec
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from nestplan.model.files import read_hide, read_job, read_plan, write_hide
from tests.desk.answers import Answer
from tests.desk.small_work import laid_work


def type_in(field, words):
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, words)
    QTest.keyClick(field, Qt.Key.Key_Return)
    QApplication.processEvents()


@pytest.fixture
def two(window_factory, tmp_path):
    """Two windows on the saved work of a third, and the folder it lies in."""
    folder = tmp_path / "shop"
    folder.mkdir()
    first = window_factory(tmp_path / "r0")
    first.document.open(laid_work(3), {})
    assert first.session.files.save_in(folder, {})
    windows = [window_factory(tmp_path / f"r{number}") for number in (1, 2)]
    for window in windows:
        window.session.files.open([folder])
        window.go_to("hides")
    return (*windows, folder)


def save(window):
    window.menus.actions["Save"].trigger()
    QApplication.processEvents()


def only(folder, pattern):
    (path,) = folder.glob(pattern)
    return path


def test_the_later_save_of_a_hide_keeps_both_and_shows_the_difference(two):
    one, other, folder = two
    type_in(one.panels["hides"].leather, "goat skin")
    save(one)
    type_in(other.panels["hides"].leather, "deer skin")
    answer = Answer("Keep both")
    save(other)
    assert "sheet.hide.json" in answer.asked
    assert "deer skin" in answer.asked
    assert "goat skin" in answer.asked
    kinds = {read_hide(path).name: read_hide(path).leather for path in folder.glob("*.hide.json")}
    assert kinds == {"sheet": "goat skin", "sheet 2": "deer skin"}
    assert other.document.hide.name == "sheet 2"
    assert not other.isWindowModified()
    assert {p.hide for p in other.document.contents.plan.placements} == {"sheet 2"}
    # The folder opens as before: no two hides of it share a name.
    other.session.files.open([folder])
    assert {hide.name for hide in other.document.contents.hides} == {"sheet", "sheet 2"}


def test_a_save_that_is_called_off_leaves_file_and_work_as_they_were(two):
    one, other, folder = two
    type_in(one.panels["hides"].leather, "goat skin")
    save(one)
    type_in(other.panels["hides"].leather, "deer skin")
    Answer("Cancel")
    save(other)
    assert read_hide(only(folder, "*.hide.json")).leather == "goat skin"
    assert other.document.hide.leather == "deer skin"
    assert other.isWindowModified()


def test_theirs_can_be_taken_and_undone(two):
    one, other, folder = two
    type_in(one.panels["hides"].leather, "goat skin")
    save(one)
    type_in(other.panels["hides"].leather, "deer skin")
    Answer("Take theirs")
    save(other)
    assert read_hide(only(folder, "*.hide.json")).leather == "goat skin"
    assert other.document.hide.leather == "goat skin"
    other.document.stack.undo()
    assert other.document.hide.leather == "deer skin"


def test_the_later_save_of_a_job_and_of_a_plan_keeps_both(two):
    one, other, folder = two
    one.go_to("pieces")
    one.document.edit_job("Set the gap", msgspec.structs.replace(one.document.contents.job, gap=7.0))
    save(one)
    plan = one.document.contents.plan
    one.document.set_plan("Take off", msgspec.structs.replace(plan, placements=plan.placements[:1]))
    save(one)
    other.document.edit_job("Set the gap", msgspec.structs.replace(other.document.contents.job, gap=9.0))
    answer = Answer("Keep both")
    save(other)
    assert "small-job.job.json" in answer.asked
    assert "small-job.plan.json" in answer.asked
    jobs = {path.name: read_job(path).gap for path in folder.glob("*.job.json")}
    assert jobs == {"small-job.job.json": 7.0, "small-job-2.job.json": 9.0}
    plans = {path.name: len(read_plan(path).placements) for path in folder.glob("*.plan.json")}
    assert plans == {"small-job.plan.json": 1, "small-job-2.plan.json": 3}
    assert other.document.contents.job.name == "small job 2"


def test_a_hide_cut_up_meanwhile_stays_used_up_and_keeps_the_change_made_here(two):
    one, _, folder = two
    file = only(folder, "*.hide.json")
    write_hide(file, msgspec.structs.replace(read_hide(file), used="belts of 3 May"))
    type_in(one.panels["hides"].leather, "goat skin")
    save(one)
    kept = read_hide(file)
    assert (kept.leather, kept.used) == ("goat skin", "belts of 3 May")
    assert one.document.hide.used == "belts of 3 May"
    assert "belts of 3 May" in one.notice.words.text()


def test_what_only_the_other_window_changed_is_not_written_over(two):
    one, other, folder = two
    type_in(one.panels["hides"].leather, "goat skin")
    save(one)
    other.document.edit_job("Set the gap", msgspec.structs.replace(other.document.contents.job, gap=9.0))
    save(other)
    assert read_hide(only(folder, "*.hide.json")).leather == "goat skin"
    assert read_job(only(folder, "*.job.json")).gap == 9.0


def test_saving_twice_in_one_window_asks_nothing(two):
    one, _, folder = two
    for leather in ("goat skin", "deer skin"):
        type_in(one.panels["hides"].leather, leather)
        save(one)
        assert read_hide(only(folder, "*.hide.json")).leather == leather
