"""A cut is booked whole or not at all, and undone byte for byte."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from nestplan.errors import InputError
from nestplan.model import cut_journal
from nestplan.model.cut_journal import (
    JOURNAL_NAME,
    LOCK_NAME,
    commit_cut,
    rack_lock,
    read_journal,
    roll_back_unfinished_cuts,
    undo_cut,
)

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

    def stopping(path: Any, content: bytes) -> None:
        if Path(path).name == JOURNAL_NAME:
            raise KeyboardInterrupt
        write(path, content)

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

    def failing(path: Any, content: bytes) -> None:
        nonlocal count
        if Path(path).name != JOURNAL_NAME:
            count += 1
            if count == fails_at:
                raise InputError("The disk is full.")
        write(path, content)

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

    def stopping(path: Any, content: bytes) -> None:
        nonlocal count
        if Path(path).name != JOURNAL_NAME:
            count += 1
            if count >= stops_at:
                raise PowerCut
        elif count:
            raise PowerCut
        write(path, content)

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
def test_a_damaged_or_foreign_journal_is_refused(rack: Path, text: str, words: str) -> None:
    (rack / JOURNAL_NAME).write_text(text)
    for act in (lambda: undo_cut(rack, "x"), lambda: book(rack, a="used")):
        with pytest.raises(InputError, match=words) as caught:
            act()
        assert caught.value.mend
    assert contents(rack) == {"a.hide.json": OLD.encode()}
