"""Names for files, and files written whole or not at all."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

import pytest

from nestplan import storage
from nestplan.errors import InputError
from nestplan.storage import (
    delete_file,
    file_stem,
    move_into_place,
    process_is_gone,
    staging_folder,
    sweep_parts,
    write_atomically,
)


@pytest.fixture
def gone() -> int:
    """The number of a process that has ended."""
    child = os.fork()
    if child == 0:
        os._exit(0)
    os.waitpid(child, 0)
    return child


@pytest.mark.parametrize(
    ("name", "stem"),
    [
        ("Cow side: A/B", "cow-side-a-b"),
        ("  – –  ", "unnamed"),
        ("Kuhhälfte 3", "kuhhälfte-3"),
        ("left_over", "left-over"),
        ("../../up", "up"),
    ],
)
@pytest.mark.security
def test_a_stem_is_letters_digits_and_single_dashes(name: str, stem: str) -> None:
    assert file_stem(name) == stem


def test_a_stem_keeps_what_is_allowed_besides_and_has_a_word_for_nothing() -> None:
    assert file_stem("left_over", also="_") == "left_over"
    assert file_stem("…", unnamed="hide") == "hide"


def test_a_stem_of_a_long_name_is_cut_off() -> None:
    assert file_stem("x" * 300) == "x" * 80


def test_a_file_is_replaced_and_nothing_else_is_left(tmp_path: Path) -> None:
    target = tmp_path / "a.json"
    target.write_bytes(b"old")
    write_atomically(target, b"new")
    assert target.read_bytes() == b"new"
    assert os.listdir(tmp_path) == ["a.json"]


def test_a_file_in_a_folder_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be written"):
        write_atomically(tmp_path / "none" / "a.json", b"new")


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o444])
@pytest.mark.security
def test_a_file_that_is_replaced_keeps_its_rights(tmp_path: Path, mode: int) -> None:
    target = tmp_path / "a.json"
    target.write_bytes(b"old")
    target.chmod(mode)
    write_atomically(target, b"new")
    assert stat.S_IMODE(target.stat().st_mode) == mode


@pytest.mark.security
def test_a_new_file_has_the_usual_rights(tmp_path: Path) -> None:
    write_atomically(tmp_path / "a.json", b"new")
    (tmp_path / "b.json").write_bytes(b"new")
    modes = {stat.S_IMODE((tmp_path / name).stat().st_mode) for name in ("a.json", "b.json")}
    assert len(modes) == 1


@pytest.mark.security
def test_a_link_is_followed_and_stays_a_link_also_where_it_dangles(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    for name, old in (("a", b"old"), ("b", None)):
        target = tmp_path / "elsewhere" / f"{name}.json"
        if old is not None:
            target.write_bytes(old)
        link = tmp_path / f"{name}.json"
        link.symlink_to(target)
        write_atomically(link, b"new")
        assert link.is_symlink()
        assert target.read_bytes() == b"new"


def test_file_and_folder_are_synced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    synced: list[bool] = []
    sync = os.fsync

    def noting(handle: int) -> None:
        synced.append(stat.S_ISDIR(os.fstat(handle).st_mode))
        sync(handle)

    monkeypatch.setattr(os, "fsync", noting)
    write_atomically(tmp_path / "a.json", b"new")
    delete_file(tmp_path / "a.json")
    assert synced == [False, True, True]


def test_parts_of_processes_that_are_gone_are_swept_and_others_stay(tmp_path: Path, gone: int) -> None:
    host = storage._host_mark()
    names = {
        f".a.json.{gone}-{host}-abc.part": False,
        f".a.json.{os.getppid()}-{host}-abc.part": True,
        ".a.json.17-00000000-abc.part": True,
        ".a.json.abcd1234.part": True,
        "mine.part": True,
        ".mine.part": True,
    }
    for name in names:
        (tmp_path / name).write_text("half")
    (tmp_path / f".files.{gone}-{host}-folder.part").mkdir()
    sweep_parts(tmp_path)
    assert {name: (tmp_path / name).exists() for name in names} == names
    assert not (tmp_path / f".files.{gone}-{host}-folder.part").exists()
    for path in tmp_path.iterdir():
        os.utime(path, (0, 0))
    write_atomically(tmp_path / "a.json", b"new")
    assert sorted(os.listdir(tmp_path)) == [".mine.part", "a.json", "mine.part"]


def test_a_process_is_gone_once_it_has_ended(gone: int) -> None:
    assert process_is_gone(gone)
    assert not process_is_gone(os.getppid())
    assert not process_is_gone(os.getpid())
    assert not process_is_gone(10**30)


def test_a_file_that_cannot_be_deleted_is_told_and_one_that_is_not_there_is_gone(tmp_path: Path) -> None:
    delete_file(tmp_path / "none")
    (tmp_path / "folder").mkdir()
    with pytest.raises(InputError, match="cannot be deleted"):
        delete_file(tmp_path / "folder")


def test_files_take_their_places_together(tmp_path: Path) -> None:
    names = ("a.json", "a.svg")
    for name in names:
        (tmp_path / name).write_text("old")
    (tmp_path / "a.svg").chmod(0o600)
    with staging_folder(tmp_path) as stage:
        for name in names:
            (stage / name).write_text("new")
        move_into_place(stage, tmp_path, names)
    assert sorted(os.listdir(tmp_path)) == sorted(names)
    assert [(tmp_path / name).read_text() for name in names] == ["new", "new"]
    assert stat.S_IMODE((tmp_path / "a.svg").stat().st_mode) == 0o600


@pytest.mark.parametrize("letter", ["w", "Ж", "皮", "𐍈"])
@pytest.mark.security
def test_a_long_name_in_any_script_becomes_a_file(tmp_path: Path, letter: str) -> None:
    stem = file_stem(letter * 200)
    write_atomically(tmp_path / f"{stem}-12345.hide.json", b"new")
    assert set(stem) == {letter.lower()}


@pytest.mark.parametrize("name", ["CON", "aux", "nul", "Lpt1", "com9"])
@pytest.mark.security
def test_a_name_that_systems_keep_for_devices_is_changed(name: str) -> None:
    assert file_stem(name) == f"{name.lower()}-"
    assert file_stem(f"{name} 2") == f"{name.lower()}-2"


def test_a_place_on_another_disk_is_written_through_its_link(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = tmp_path / "other disk"
    other.mkdir()
    (other / "a.svg").write_text("old")
    (tmp_path / "a.svg").symlink_to(other / "a.svg")
    move = os.replace

    def refusing(source: object, target: object) -> None:
        if Path(str(source)).parent != Path(str(target)).parent and Path(str(target)).parent == other:
            raise OSError(errno.EXDEV, "Invalid cross-device link")
        move(source, target)  # type: ignore[arg-type]

    monkeypatch.setattr(os, "replace", refusing)
    with staging_folder(tmp_path) as stage:
        for name in ("a.json", "a.svg"):
            (stage / name).write_text("new")
        move_into_place(stage, tmp_path, ["a.json", "a.svg"])
    assert (other / "a.svg").read_text() == "new"
    assert (tmp_path / "a.svg").is_symlink()
