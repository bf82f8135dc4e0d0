"""A cut is booked whole or not at all, and undone byte for byte."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from nestplan.errors import InputError
from nestplan.model import cut_journal
from nestplan.model.cut_journal import (
    JOURNAL_NAME,
    LOCK_NAME,
    MARK_NAME,
    commit_cut,
    rack_lock,
    read_journal,
    roll_back_unfinished_cuts,
    settle_rack,
    undo_cut,
)
from nestplan.model.files import to_text, write_hide
from nestplan.model.hide import Origin
from tests.small_jobs import plain_hide

# Line ends and spacing that no writer of ours makes: they must come back as they were.
OLD = '{"nestplan": 1,\r\n   "kind":"hide"}  '


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.name != JOURNAL_NAME}


def book(folder: Path, cut_id: str = "cut 1", **files: str) -> None:
    texts = [(folder / f"{name}.hide.json", text) for name, text in files.items()]
    commit_cut(folder, cut_id=cut_id, date="2031-05-01", plan="spring", files=texts)


@pytest.fixture
def rack(tmp_path: Path) -> Path:
    (tmp_path / "a.hide.json").write_bytes(OLD.encode())
    return tmp_path


def test_a_cut_writes_all_its_files_and_undo_puts_every_byte_back(rack: Path) -> None:
    before = contents(rack)
    book(rack, a="used", b="offcut")
    assert contents(rack) == {"a.hide.json": b"used", "b.hide.json": b"offcut"}
    assert [cut.state for cut in read_journal(rack)] == ["done"]
    undone = undo_cut(rack, "cut 1")
    assert undone.state == "undone"
    assert contents(rack) == before


def test_a_cut_may_be_booked_again_after_it_was_undone_but_not_twice(rack: Path) -> None:
    book(rack, a="used")
    with pytest.raises(InputError, match="cut already"):
        book(rack, a="used")
    undo_cut(rack, "cut 1")
    with pytest.raises(InputError, match="knows no such cut"):
        undo_cut(rack, "cut 1")
    book(rack, a="used")
    assert [cut.state for cut in read_journal(rack)] == ["done"]


def test_undo_refuses_when_a_file_was_changed_since_and_touches_nothing(rack: Path) -> None:
    book(rack, a="used", b="offcut")
    (rack / "b.hide.json").write_text("someone's own work")
    before = contents(rack)
    with pytest.raises(InputError, match="changed after the cut") as caught:
        undo_cut(rack, "cut 1")
    assert caught.value.file.endswith("b.hide.json")
    assert contents(rack) == before


@pytest.mark.parametrize("name", ["a.hide.json", "b.hide.json"])
def test_undo_refuses_when_a_file_was_taken_away_since(rack: Path, name: str) -> None:
    book(rack, a="used", b="offcut")
    (rack / "kept").mkdir()
    (rack / name).rename(rack / "kept" / name)
    before = {path.name: path.read_bytes() for path in rack.glob("*.hide.json")}
    with pytest.raises(InputError, match="taken away after the cut") as caught:
        undo_cut(rack, "cut 1")
    assert caught.value.file.endswith(name)
    assert {path.name: path.read_bytes() for path in rack.glob("*.hide.json")} == before
    (rack / "kept" / name).rename(rack / name)
    assert undo_cut(rack, "cut 1").state == "undone"


def test_later_cuts_are_undone_first(rack: Path) -> None:
    before = contents(rack)
    book(rack, a="used once")
    book(rack, "cut 2", a="used twice", b="offcut")
    with pytest.raises(InputError, match="changed after"):
        undo_cut(rack, "cut 1")
    undo_cut(rack, "cut 2")
    undo_cut(rack, "cut 1")
    assert contents(rack) == before


def test_an_undo_that_broke_off_is_finished_by_the_next(rack: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = contents(rack)
    book(rack, a="used", b="offcut", c="offcut")
    write = cut_journal.write_atomically

    def stopping(path: Any, content: bytes, **options: Any) -> None:
        if Path(path).name == JOURNAL_NAME:
            raise KeyboardInterrupt
        write(path, content, **options)

    monkeypatch.setattr(cut_journal, "write_atomically", stopping)
    with pytest.raises(KeyboardInterrupt):
        undo_cut(rack, "cut 1")
    monkeypatch.undo()
    undo_cut(rack, "cut 1")
    assert contents(rack) == before


def test_two_at_once_do_not_change_one_rack(rack: Path) -> None:
    with rack_lock(rack):
        with pytest.raises(InputError, match="Another nestplan"), rack_lock(rack):
            pass
        assert (rack / LOCK_NAME).exists()
    assert not (rack / LOCK_NAME).exists()
    (rack / LOCK_NAME).touch()
    os.utime(rack / LOCK_NAME, (0, 0))
    with rack_lock(rack):
        pass
    assert not (rack / LOCK_NAME).exists()
    with pytest.raises(InputError, match="cannot be written"), rack_lock(rack / "none"):
        pass


@pytest.mark.parametrize("fails_at", [1, 2, 3])
def test_a_cut_that_cannot_be_written_leaves_everything_as_it_was(
    rack: Path, monkeypatch: pytest.MonkeyPatch, fails_at: int
) -> None:
    before = contents(rack)
    write, count = cut_journal.write_atomically, 0

    def failing(path: Any, content: bytes, **options: Any) -> None:
        nonlocal count
        if Path(path).name != JOURNAL_NAME:
            count += 1
            if count == fails_at:
                raise InputError("The disk is full.")
        write(path, content, **options)

    monkeypatch.setattr(cut_journal, "write_atomically", failing)
    with pytest.raises(InputError, match="disk is full"):
        book(rack, a="used", b="offcut", c="offcut")
    assert contents(rack) == before
    assert read_journal(rack) == ()


@pytest.mark.parametrize("stops_at", [1, 2, 3])
def test_a_cut_that_broke_off_is_put_back_next_time(
    rack: Path, monkeypatch: pytest.MonkeyPatch, stops_at: int
) -> None:
    before = contents(rack)
    write, count = cut_journal.write_atomically, 0

    class PowerCut(BaseException):
        pass

    def stopping(path: Any, content: bytes, **options: Any) -> None:
        nonlocal count
        if Path(path).name != JOURNAL_NAME:
            count += 1
            if count >= stops_at:
                raise PowerCut
        elif count:
            raise PowerCut
        write(path, content, **options)

    monkeypatch.setattr(cut_journal, "write_atomically", stopping)
    monkeypatch.setattr(cut_journal, "_restore", lambda *_: (_ for _ in ()).throw(PowerCut))
    with pytest.raises(PowerCut):
        book(rack, a="used", b="offcut", c="offcut")
    monkeypatch.undo()
    assert [cut.state for cut in read_journal(rack)] == ["begun"]
    assert len(roll_back_unfinished_cuts(rack)) == 1
    assert contents(rack) == before
    assert read_journal(rack) == ()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "cannot be read"),
        ('{"nestplan": 1, "kind": "cuts", "cuts": [{"id": 1}]}', "cannot be read"),
        (
            '{"cuts": [{"id": "x", "date": "", "plan": "", "state": "begun", '
            '"changes": [{"file": "../../.profile", "before": "evil", "after": ""}]}]}',
            "which no cut writes",
        ),
    ],
)
@pytest.mark.security
def test_a_damaged_or_foreign_journal_is_refused(rack: Path, text: str, words: str) -> None:
    (rack / JOURNAL_NAME).write_text(text)
    for act in (lambda: undo_cut(rack, "x"), lambda: book(rack, a="used")):
        with pytest.raises(InputError, match=words) as caught:
            act()
        assert caught.value.mend
    assert contents(rack) == {"a.hide.json": OLD.encode()}


def break_off(rack: Path) -> None:
    """Make the last cut one that had begun and did not come to its end."""
    journal = rack / JOURNAL_NAME
    journal.write_text(journal.read_text().replace('"done"', '"begun"'))


def test_a_cut_that_broke_off_is_taken_back_on_reading_and_told(rack: Path) -> None:
    before = contents(rack)
    book(rack, a="used", b="offcut")
    assert settle_rack(rack) == ()
    break_off(rack)
    (repair,) = settle_rack(rack)
    assert (repair.plan, repair.date, repair.was) == ("spring", "2031-05-01", "cut")
    assert contents(rack) == before
    assert settle_rack(rack) == ()


def test_an_undo_that_broke_off_is_finished_on_reading(rack: Path) -> None:
    before = contents(rack)
    book(rack, a="used", b="offcut")
    journal = rack / JOURNAL_NAME
    journal.write_text(journal.read_text().replace('"done"', '"undoing"'))
    (rack / "b.hide.json").unlink()
    (repair,) = settle_rack(rack)
    assert repair.was == "undo"
    assert contents(rack) == before
    assert [cut.state for cut in read_journal(rack)] == ["undone"]


def test_asking_again_for_an_undo_that_broke_off_finishes_it(rack: Path) -> None:
    before = contents(rack)
    book(rack, a="used", b="offcut")
    journal = rack / JOURNAL_NAME
    journal.write_text(journal.read_text().replace('"done"', '"undoing"'))
    assert undo_cut(rack, "cut 1").state == "undone"
    assert contents(rack) == before


def test_a_cut_that_broke_off_is_not_taken_back_in_part(rack: Path) -> None:
    book(rack, a="used", b="offcut")
    break_off(rack)
    (rack / "b.hide.json").write_text("someone's own work")
    before = contents(rack)
    for act in (lambda: settle_rack(rack), lambda: book(rack, "cut 2", a="used")):
        with pytest.raises(InputError, match="cannot be taken back") as caught:
            act()
        assert caught.value.file.endswith("b.hide.json")
    assert contents(rack) == before


def test_an_undo_that_cannot_delete_an_offcut_says_so_and_the_cut_stands(
    rack: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book(rack, a="used", b="offcut", c="offcut")
    before = contents(rack)
    unlink = os.unlink

    def refusing(path: Any, **options: Any) -> None:
        if Path(path).name == "c.hide.json":
            raise PermissionError(13, "Permission denied")
        unlink(path, **options)

    monkeypatch.setattr(os, "unlink", refusing)
    with pytest.raises(InputError, match="cannot be deleted") as caught:
        undo_cut(rack, "cut 1")
    assert caught.value.file.endswith("c.hide.json")
    assert contents(rack) == before
    assert [cut.state for cut in read_journal(rack)] == ["done"]
    monkeypatch.undo()
    undo_cut(rack, "cut 1")
    assert contents(rack) == {"a.hide.json": OLD.encode()}


def test_offcuts_are_deleted_before_their_hide_is_put_back(
    rack: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book(rack, a="used", b="offcut", c="offcut")
    write, seen = cut_journal.write_atomically, []

    def noting(path: Any, content: bytes, **options: Any) -> None:
        if Path(path).name == "a.hide.json":
            seen.append(sorted(each.name for each in rack.glob("?.hide.json")))
        write(path, content, **options)

    monkeypatch.setattr(cut_journal, "write_atomically", noting)
    undo_cut(rack, "cut 1")
    assert seen == [["a.hide.json"]]


def strangers_journal(rack: Path, victim: Path, state: str) -> None:
    """A journal that would have us write a hide's file elsewhere."""
    after = cut_journal._hash(victim.read_text())
    change = {"file": os.path.relpath(victim, rack), "before": "not yours", "after": after}
    cut = {"id": "cut 1", "date": "", "plan": "spring", "state": state, "changes": [change]}
    (rack / JOURNAL_NAME).write_text(json.dumps({"nestplan": 1, "kind": "cuts", "cuts": [cut]}))


@pytest.mark.parametrize("state", ["begun", "undoing", "done"])
@pytest.mark.security
def test_a_journal_from_a_stranger_writes_nothing_outside_the_rack(rack: Path, state: str) -> None:
    victim = rack / "mine" / "own.hide.json"
    victim.parent.mkdir()
    victim.write_text("mine")
    inner = rack / "sent" / "rack"
    inner.mkdir(parents=True)
    strangers_journal(inner, victim, state)
    acts = [lambda: undo_cut(inner, "cut 1")]
    if state != "done":
        acts += [lambda: settle_rack(inner), lambda: book(inner, "cut 2", a="used")]
    for act in acts:
        with pytest.raises(InputError, match="outside the rack") as caught:
            act()
        assert caught.value.mend
    assert victim.read_text() == "mine"
    assert not (victim.parent / MARK_NAME).exists()


@pytest.mark.security
def test_a_strangers_journal_does_not_write_through_a_link(rack: Path) -> None:
    victim = rack / "own.json"
    victim.write_text("mine")
    inner = rack / "sent"
    inner.mkdir()
    (inner / "a.hide.json").symlink_to(victim)
    strangers_journal(inner, inner / "a.hide.json", "begun")
    with pytest.raises(InputError, match="outside the rack"):
        settle_rack(inner)
    assert victim.read_text() == "mine"


@pytest.mark.security
def test_a_journal_that_is_a_link_is_refused(rack: Path) -> None:
    (rack / JOURNAL_NAME).symlink_to(rack / "nowhere.json")
    for act in (lambda: settle_rack(rack), lambda: book(rack, a="used")):
        with pytest.raises(InputError, match="is a link"):
            act()
    assert not (rack / "nowhere.json").exists()


def cut_apart(folder: Path) -> tuple[Path, bytes]:
    """A cut of a hide in `folder` whose journal lies in a folder in it; that one, and the hide's text before."""
    home = folder / "journal"
    home.mkdir(exist_ok=True)
    hide = plain_hide("a")
    write_hide(folder / "a.hide.json", hide)
    before = (folder / "a.hide.json").read_bytes()
    offcut = replace(hide, name="b", origin=Origin(how="offcut", parent="a", plan_hash="cut 1"))
    files = [
        (folder / "a.hide.json", to_text(replace(hide, used="spring"))),
        (folder / "b.hide.json", to_text(offcut)),
    ]
    commit_cut(home, cut_id="cut 1", date="2031-05-01", plan="spring", files=files)
    return home, before


@pytest.mark.security
def test_a_hide_in_another_folder_is_put_back_where_the_caller_allows_it(rack: Path) -> None:
    home, before = cut_apart(rack)
    assert not (rack / MARK_NAME).exists()
    with pytest.raises(InputError, match="outside the rack"):
        undo_cut(home, "cut 1")
    undo_cut(home, "cut 1", also=[rack])
    assert (rack / "a.hide.json").read_bytes() == before
    assert not (rack / "b.hide.json").exists()
    assert not (rack / MARK_NAME).exists()


@pytest.mark.parametrize("from_journal", [False, True])
def test_a_cut_over_two_folders_that_broke_off_is_put_right_from_either(
    rack: Path, from_journal: bool
) -> None:
    home, before = cut_apart(rack)
    break_off(home)
    (rack / MARK_NAME).write_text("journal")
    assert len(settle_rack(home if from_journal else rack)) == 1
    assert (rack / "a.hide.json").read_bytes() == before
    assert not (rack / "b.hide.json").exists()
    assert not (rack / MARK_NAME).exists()


@pytest.mark.parametrize("name", ["a.hide.json", "b.hide.json"])
@pytest.mark.security
def test_in_another_folder_no_more_than_a_cut_is_taken_back(rack: Path, name: str) -> None:
    """A journal that was tampered with: another hide in place of this one, an offcut of another plan to delete."""
    home, _ = cut_apart(rack)
    journal = json.loads((home / JOURNAL_NAME).read_text())
    (cut,) = journal["cuts"]
    if name == "a.hide.json":
        cut["changes"][0]["before"] = to_text(plain_hide("a", price=1.0))
    else:
        cut["id"] = "cut 2"
    (home / JOURNAL_NAME).write_text(json.dumps(journal))
    before = {path.name: path.read_bytes() for path in rack.glob("*.hide.json")}
    with pytest.raises(InputError, match="outside the rack"):
        undo_cut(home, cut["id"], also=[rack])
    assert {path.name: path.read_bytes() for path in rack.glob("*.hide.json")} == before


def test_hides_of_any_file_name_and_depth_are_cut_and_put_back(rack: Path) -> None:
    deep = rack.joinpath(*(["a folder with a long name"] * 9))
    deep.mkdir(parents=True)
    for path in (rack / "hide.json", deep / "x.hide.json"):
        path.write_text("old")
    files = [(rack / "hide.json", "used"), (deep / "x.hide.json", "used")]
    commit_cut(rack, cut_id="cut 1", date="2031-05-01", plan="spring", files=files)
    undo_cut(rack, "cut 1")
    assert [path.read_text() for path in (rack / "hide.json", deep / "x.hide.json")] == ["old", "old"]


@pytest.mark.security
def test_what_is_made_of_a_private_hide_is_private_too(rack: Path) -> None:
    (rack / "a.hide.json").chmod(0o600)
    (rack / "c.hide.json").write_text("old")
    (rack / "c.hide.json").chmod(0o644)
    book(rack, a="used", b="offcut", c="used")
    rights = {path.name: path.stat().st_mode & 0o777 for path in rack.iterdir()}
    assert rights == {
        "a.hide.json": 0o600,
        "b.hide.json": 0o600,
        "c.hide.json": 0o644,
        JOURNAL_NAME: 0o600,
    }
