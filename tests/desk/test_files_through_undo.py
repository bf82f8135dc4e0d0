"""A hide keeps its file through renaming, deleting, undo and redo: no save writes one hide over another, or twice."""

from __future__ import annotations

import msgspec
import pytest

from nestplan.model.files import read_hide
from nestplan.tasks.contents import Contents
from tests.desk.small_work import job, panel, sheet


@pytest.fixture
def shop(window, tmp_path):
    """A folder with two hides and a job, open in the window."""
    folder = tmp_path / "shop"
    folder.mkdir()
    window.document.open(Contents((sheet("oak"), sheet("elm", 700.0)), job(panel()), None), {})
    assert window.session.files.save_in(folder, {})
    return folder


def hides_in(folder) -> dict[str, tuple[str, float]]:
    read = {path.name: read_hide(path) for path in folder.glob("*.hide.json")}
    return {file: (hide.name, hide.outline[1][0]) for file, hide in read.items()}


def rename(window, old: str, new: str) -> None:
    hide = window.document.contents.hide(old)
    window.document.edit_hide("Rename", msgspec.structs.replace(hide, name=new), old=old)


def test_a_new_hide_with_the_name_that_a_renamed_one_had_gets_a_file_of_its_own(window, shop):
    rename(window, "oak", "ash")
    window.document.add_hide(sheet("oak", 500.0))
    assert window.session.files.save()
    assert hides_in(shop) == {
        "oak.hide.json": ("ash", 1000.0),
        "oak-2.hide.json": ("oak", 500.0),
        "elm.hide.json": ("elm", 700.0),
    }
    window.session.files.open([shop])
    assert {hide.name for hide in window.document.contents.hides} == {"ash", "oak", "elm"}


def test_names_that_two_hides_exchange_stay_with_their_files(window, shop):
    for old, new in (("oak", "third"), ("elm", "oak"), ("third", "elm")):
        rename(window, old, new)
    assert window.session.files.save()
    assert hides_in(shop) == {"oak.hide.json": ("elm", 1000.0), "elm.hide.json": ("oak", 700.0)}


def test_a_deleted_hide_that_undo_brings_back_is_saved_in_its_old_file(window, shop):
    window.document.remove_hide("oak")
    assert window.session.files.save()
    window.document.stack.undo()
    assert window.session.files.save()
    assert sorted(hides_in(shop)) == ["elm.hide.json", "oak.hide.json"]
    window.session.files.open([shop])
    assert {hide.name for hide in window.document.contents.hides} == {"oak", "elm"}


def test_a_renamed_hide_keeps_its_file_and_stays_on_the_table_when_that_is_undone(window, shop):
    window.document.show_hide("elm")
    rename(window, "elm", "ash")
    assert window.session.files.save()
    window.document.stack.undo()
    assert window.document.hide.name == "elm"
    assert window.session.files.save()
    assert hides_in(shop) == {"oak.hide.json": ("oak", 1000.0), "elm.hide.json": ("elm", 700.0)}
    window.document.stack.redo()
    assert window.document.hide.name == "ash"


def test_what_undo_brings_back_after_saving_elsewhere_is_saved_there_too(window, shop, tmp_path):
    other = tmp_path / "other"
    other.mkdir()
    window.document.remove_hide("oak")
    assert window.session.files.save_in(other, {})
    window.document.stack.undo()
    before = (shop / "oak.hide.json").read_bytes()
    assert window.session.files.save()
    assert sorted(hides_in(other)) == ["elm.hide.json", "oak.hide.json"]
    assert (shop / "oak.hide.json").read_bytes() == before


def test_a_job_that_was_undone_is_not_among_the_files_that_are_opened_again(window, tmp_path):
    window.document.open(Contents((sheet("oak"),), None, None), {})
    window.document.edit_job("New job", job(panel()))
    assert window.session.files.save_in(tmp_path, {})
    window.document.stack.undo()
    assert "" not in window.document.files
    window.document.stack.redo()
    assert window.session.files.save()
    assert [path.name for path in tmp_path.glob("*.job.json")] == ["small-job.job.json"]
