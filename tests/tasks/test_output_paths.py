from __future__ import annotations

import os
from pathlib import Path

import pytest

from nestplan.errors import InputError
from nestplan.tasks.output_paths import (
    free_name,
    free_path,
    make_folder,
    path_from,
    require_folder,
    require_new_file,
)


def test_a_folder_that_can_be_made_is_taken_and_not_made_yet(tmp_path: Path) -> None:
    require_folder(tmp_path / "a" / "b", instead="another")
    assert os.listdir(tmp_path) == []
    make_folder(tmp_path / "a" / "b", instead="another")
    assert (tmp_path / "a" / "b").is_dir()


def test_a_file_in_the_way_of_a_folder_is_told_with_what_to_choose(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("mine")
    for ask in (require_folder, make_folder):
        with pytest.raises(InputError) as refused:
            ask(tmp_path / "a" / "b", instead="another folder")
        assert refused.value.mend == "Choose another folder."


def test_a_folder_without_the_right_to_write_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "access", lambda path, _mode: Path(path) != tmp_path)
    with pytest.raises(InputError, match="may not be written"):
        require_folder(tmp_path / "a", instead="another")


def test_a_new_file_may_be_written_and_an_old_one_only_if_it_is_said(tmp_path: Path) -> None:
    path = tmp_path / "a.pdf"
    require_new_file(path, replace=False, instead="Choose another name.", endings=(".pdf",))
    path.write_text("mine")
    require_new_file(path, replace=True, instead="Choose another name.")
    with pytest.raises(InputError, match="there already") as refused:
        require_new_file(path, replace=False, instead="Choose another name.")
    assert refused.value.mend == "Choose another name."


@pytest.mark.parametrize(("name", "words"), [("a.txt", "does not end in .pdf"), ("folder.pdf", "a folder")])
def test_a_wrong_ending_and_a_folder_are_no_new_file(tmp_path: Path, name: str, words: str) -> None:
    (tmp_path / "folder.pdf").mkdir()
    with pytest.raises(InputError, match=words):
        require_new_file(tmp_path / name, replace=True, instead="", endings=(".pdf",))


def test_a_free_path_is_neither_there_nor_taken(tmp_path: Path) -> None:
    (tmp_path / "a.json").write_text("")
    assert free_path(tmp_path, "a", ".json", ()) == tmp_path / "a-2.json"
    assert free_path(tmp_path, "a", ".json", {tmp_path / "a-2.json"}) == tmp_path / "a-3.json"
    assert free_path(tmp_path, "b", ".json", ()) == tmp_path / "b.json"


def test_a_free_name_counts_on() -> None:
    assert free_name("hide", ()) == "hide"
    assert free_name("hide", {"hide", "hide 2"}) == "hide 3"


def test_a_path_is_told_from_a_folder_with_forward_slashes(tmp_path: Path) -> None:
    assert path_from(tmp_path / "out", tmp_path / "rack" / "a.json") == "../rack/a.json"
    assert path_from(tmp_path, tmp_path / "a.json") == "a.json"
