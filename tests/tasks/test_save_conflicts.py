"""What someone else changed in the files meanwhile is found before they are written over."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from nestplan.model.files import read_hide, write_hide, write_job
from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job
from nestplan.model.piece import Piece
from nestplan.tasks.contents import Contents
from nestplan.tasks.save_conflicts import (
    check_save,
    contents_beside,
    contents_of_theirs,
    difference_words,
    file_fingerprint,
)


def a_hide(**fields: object) -> Hide:
    return Hide(name="barley", leather="cow side", outline=((0, 0), (900, 0), (900, 600), (0, 600)), **fields)


def a_job() -> Job:
    piece = Piece(name="panel", outline=((0, 0), (100, 0), (100, 50), (0, 50)))
    return Job(name="belts", articles=(Article(name="belt", sets=1, pieces=(piece,)),))


@pytest.fixture
def opened(tmp_path: Path) -> tuple[Contents, dict[str, str], dict[str, str]]:
    """A hide and a job as they were read, their files, and the fingerprints of these."""
    contents = Contents((a_hide(),), a_job())
    files = {"barley": str(tmp_path / "barley.hide.json"), "": str(tmp_path / "belts.job.json")}
    write_hide(files["barley"], contents.hides[0])
    write_job(files[""], contents.job)
    return contents, files, {file: file_fingerprint(file) for file in files.values()}


def changed_hide(contents: Contents, **fields: object) -> Contents:
    return Contents((msgspec.structs.replace(contents.hides[0], **fields),), contents.job)


def test_files_nobody_touched_stand_in_nobodys_way(opened) -> None:
    contents, files, fingerprints = opened
    check = check_save(changed_hide(contents, leather="goat skin"), contents, files, fingerprints)
    assert (check.conflicts, check.left) == ((), ())


def test_a_hide_changed_on_both_sides_is_a_conflict_that_says_how_they_differ(opened) -> None:
    contents, files, fingerprints = opened
    write_hide(files["barley"], a_hide(thickness=(2.0, 2.4)))
    ours = changed_hide(contents, leather="goat skin")
    (conflict,) = check_save(ours, contents, files, fingerprints).conflicts
    words = difference_words(conflict)
    assert "leather: goat skin here, cow side there" in words
    assert any(line.startswith("thickness") for line in words)
    beside, kept = contents_beside(ours, files, [conflict])
    assert beside.hides[0].name == "barley 2"
    assert kept == {"": files[""]}
    assert contents_of_theirs(ours, [conflict]).hides[0].thickness == (2.0, 2.4)


def test_what_was_changed_in_the_file_alone_is_left(opened) -> None:
    contents, files, fingerprints = opened
    write_hide(files["barley"], a_hide(thickness=(2.0, 2.4)))
    check = check_save(contents, contents, files, fingerprints)
    assert check.left == ("barley",)
    assert not check.conflicts


def test_a_hide_that_was_only_cut_up_meanwhile_is_no_conflict(opened) -> None:
    contents, files, fingerprints = opened
    write_hide(files["barley"], msgspec.structs.replace(read_hide(files["barley"]), used="belts"))
    check = check_save(changed_hide(contents, leather="goat skin"), contents, files, fingerprints)
    assert (check.conflicts, check.left) == ((), ())


def test_of_a_hide_cut_up_and_changed_meanwhile_what_is_kept_beside_it_is_used_up_too(opened) -> None:
    contents, files, fingerprints = opened
    write_hide(files["barley"], a_hide(used="belts", thickness=(2.0, 2.4)))
    ours = changed_hide(contents, leather="goat skin")
    (conflict,) = check_save(ours, contents, files, fingerprints).conflicts
    beside, _ = contents_beside(ours, files, [conflict])
    assert (beside.hides[0].used, beside.hides[0].leather) == ("belts", "goat skin")


def test_a_file_that_can_no_longer_be_read_is_not_written_over_unasked(opened) -> None:
    contents, files, fingerprints = opened
    Path(files[""]).write_text("{")
    job = msgspec.structs.replace(contents.job, gap=7.0)
    (conflict,) = check_save(Contents(contents.hides, job), contents, files, fingerprints).conflicts
    assert conflict.theirs is None
    assert difference_words(conflict) == ["the file cannot be read any more"]
    beside, kept = contents_beside(Contents(contents.hides, job), files, [conflict])
    assert beside.job is not None
    assert beside.job.name == "belts 2"
    assert "" not in kept


def test_a_file_that_is_gone_is_simply_written_again(opened) -> None:
    contents, files, fingerprints = opened
    Path(files["barley"]).unlink()
    check = check_save(changed_hide(contents, leather="goat skin"), contents, files, fingerprints)
    assert not check.conflicts
