from __future__ import annotations

import dataclasses
from pathlib import Path

import msgspec

from nestplan.model.cut_journal import JOURNAL_NAME
from nestplan.model.files import read_hide, read_plan, write_hide
from nestplan.tasks.contents import Contents
from nestplan.tasks.cutting import cut_plan, find_cut
from nestplan.tasks.opening import open_files, open_plan
from nestplan.tasks.saving import save_contents
from tests.small_jobs import one_piece_job, plain_hide
from tests.tasks.small_rack import small_rack


def test_all_that_has_no_file_gets_one_named_after_it(tmp_path: Path) -> None:
    contents = Contents((plain_hide("Cow side: A"), plain_hide("cow side a")), one_piece_job())
    files = save_contents(contents, Contents(), {}, tmp_path).files
    assert {name: Path(file).name for name, file in files.items()} == {
        "Cow side: A": "cow-side-a.hide.json",
        "cow side a": "cow-side-a-2.hide.json",
        "": "small.job.json",
    }
    assert read_hide(files["cow side a"]).name == "cow side a"


def test_only_what_has_changed_is_written_again(tmp_path: Path) -> None:
    opened = open_files([small_rack(tmp_path)])
    saved = Contents(tuple(opened.hides), opened.job, opened.plan)
    (tmp_path / "rye.hide.json").write_text("not to be touched")
    (tmp_path / "small.job.json").write_text("nor this")
    dearer = msgspec.structs.replace(saved.hides[0], price=7.0)
    changed = dataclasses.replace(saved, hides=(dearer, saved.hides[1]))
    files = save_contents(changed, saved, opened.files, tmp_path).files
    assert files == opened.files
    assert read_hide(tmp_path / "barley.hide.json").price == 7.0
    assert (tmp_path / "rye.hide.json").read_text() == "not to be touched"
    assert (tmp_path / "small.job.json").read_text() == "nor this"


def test_the_plan_is_written_with_its_sources_as_they_are_now(tmp_path: Path) -> None:
    opened = open_files([small_rack(tmp_path / "old")])
    dearer = msgspec.structs.replace(opened.hides[0], price=7.0)
    contents = Contents((dearer, opened.hides[1]), opened.job, opened.plan)
    (tmp_path / "new").mkdir()
    files = save_contents(contents, Contents(), {}, tmp_path / "new").files
    assert len(list((tmp_path / "new").iterdir())) == 4
    plan = read_plan(files["plan"])
    assert [source.file for source in plan.hides] == ["barley.hide.json", "rye.hide.json"]
    assert open_plan(Path(files["plan"])).hides[0].price == 7.0


def test_files_of_hides_that_are_gone_are_forgotten(tmp_path: Path) -> None:
    opened = open_files([small_rack(tmp_path)])
    contents = Contents((opened.hides[0],), opened.job, opened.plan)
    files = save_contents(contents, contents, opened.files, tmp_path).files
    assert set(files) == {"barley", "", "plan"}
    assert (tmp_path / "rye.hide.json").is_file()


def test_saving_does_not_erase_that_a_hide_was_cut_up_meanwhile(tmp_path: Path) -> None:
    opened = open_files([small_rack(tmp_path)])
    saved = Contents(tuple(opened.hides), opened.job, opened.plan)
    write_hide(tmp_path / "barley.hide.json", msgspec.structs.replace(opened.hides[0], used="small"))
    dearer = tuple(msgspec.structs.replace(hide, price=7.0) for hide in saved.hides)
    done = save_contents(dataclasses.replace(saved, hides=dearer), saved, opened.files, tmp_path)
    written = read_hide(tmp_path / "barley.hide.json")
    assert (written.used, written.price) == ("small", 7.0)
    assert done.used_changed == ("barley",)
    assert [hide.used for hide in done.contents.hides] == ["small", ""]
    again = save_contents(done.contents, done.contents, done.files, tmp_path)
    assert again.used_changed == ()


def test_saving_a_hide_whose_cut_was_taken_back_leaves_it_whole(tmp_path: Path) -> None:
    plan = small_rack(tmp_path)
    whole = read_hide(tmp_path / "barley.hide.json")
    write_hide(tmp_path / "barley.hide.json", msgspec.structs.replace(whole, used="small"))
    opened = open_files([plan])
    saved = Contents(tuple(opened.hides), opened.job, opened.plan)
    assert saved.hides[0].used == "small"
    write_hide(tmp_path / "barley.hide.json", whole)
    noted = msgspec.structs.replace(saved.hides[0], note="soft")
    save_contents(dataclasses.replace(saved, hides=(noted, *saved.hides[1:])), saved, opened.files, tmp_path)
    assert read_hide(tmp_path / "barley.hide.json").used == ""
    assert read_hide(tmp_path / "barley.hide.json").note == "soft"


def test_saving_puts_right_a_cut_that_broke_off_before_it_writes(tmp_path: Path) -> None:
    plan = small_rack(tmp_path)
    opened = open_files([plan])
    saved = Contents(tuple(opened.hides), opened.job, opened.plan)
    cut_plan(find_cut(plan))
    journal = tmp_path / JOURNAL_NAME
    journal.write_text(journal.read_text().replace('"done"', '"begun"'))
    dearer = tuple(msgspec.structs.replace(hide, price=7.0) for hide in saved.hides)
    done = save_contents(dataclasses.replace(saved, hides=dearer), saved, opened.files, tmp_path)
    assert [repair.was for repair in done.repairs] == ["cut"]
    assert read_hide(tmp_path / "barley.hide.json") == dearer[0]
    assert not (tmp_path / "barley-offcut-1.hide.json").exists()
