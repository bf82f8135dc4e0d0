"""One nestplan at a time changes a rack, and one that is gone never holds up the next."""

from __future__ import annotations

import json
import os
import signal
import threading
import time
from pathlib import Path

import pytest

from nestplan.errors import InputError
from nestplan.model.rack_lock import LOCK_NAME, rack_lock
from nestplan.storage import this_host


def test_the_lock_says_who_has_it_and_is_gone_afterwards(tmp_path: Path) -> None:
    with rack_lock(tmp_path):
        words = json.loads((tmp_path / LOCK_NAME).read_text())
        assert words == {"process": os.getpid(), "host": this_host()}
        with pytest.raises(InputError, match=f"process {os.getpid()} on"), rack_lock(tmp_path):
            pass
    assert os.listdir(tmp_path) == []


@pytest.mark.skipif(not hasattr(os, "fork"), reason="processes cannot be forked here")
def test_the_lock_of_a_killed_process_is_free_at_once(tmp_path: Path) -> None:
    child = os.fork()
    if child == 0:
        with rack_lock(tmp_path):
            time.sleep(60.0)
        os._exit(0)
    while not (tmp_path / LOCK_NAME).exists() or not (tmp_path / LOCK_NAME).read_bytes():
        time.sleep(0.01)
    with pytest.raises(InputError, match="Another nestplan"), rack_lock(tmp_path):
        pass
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    assert (tmp_path / LOCK_NAME).exists()
    with rack_lock(tmp_path):
        pass
    assert os.listdir(tmp_path) == []


def test_the_lock_is_waited_for_with_patience(tmp_path: Path) -> None:
    held, let_go = threading.Event(), threading.Event()

    def hold() -> None:
        with rack_lock(tmp_path):
            held.set()
            let_go.wait(10.0)

    holder = threading.Thread(target=hold)
    holder.start()
    held.wait(10.0)
    threading.Timer(0.2, let_go.set).start()
    with rack_lock(tmp_path, patience=10.0):
        pass
    holder.join()


def test_a_lock_of_another_machine_counts_while_it_is_young(tmp_path: Path) -> None:
    path = tmp_path / LOCK_NAME
    path.write_text(json.dumps({"process": 1, "host": "another machine"}))
    with pytest.raises(InputError, match="on another machine"), rack_lock(tmp_path):
        pass
    os.utime(path, (0, 0))
    with rack_lock(tmp_path):
        pass


@pytest.mark.parametrize("text", ["", "{", "[1]", '{"process": "x", "host": 3}', "\x00\xff"])
@pytest.mark.security
def test_a_lock_that_says_nothing_of_use_holds_nobody_up(tmp_path: Path, text: str) -> None:
    (tmp_path / LOCK_NAME).write_bytes(text.encode("latin-1"))
    with rack_lock(tmp_path):
        pass


@pytest.mark.security
def test_a_dangling_link_in_place_of_the_lock_does_not_block_and_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / LOCK_NAME).symlink_to(tmp_path / "nowhere")
    with rack_lock(tmp_path):
        assert not (tmp_path / "nowhere").exists()
    assert os.listdir(tmp_path) == []


@pytest.mark.security
def test_a_link_to_a_file_is_not_written_through(tmp_path: Path) -> None:
    mine = tmp_path / "mine"
    mine.write_text("mine")
    (tmp_path / LOCK_NAME).symlink_to(mine)
    with rack_lock(tmp_path):
        pass
    assert mine.read_text() == "mine"


@pytest.mark.security
def test_a_lock_that_another_users_dead_process_left_is_taken_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / LOCK_NAME
    path.write_text("{}")
    theirs, opened = path.stat().st_ino, os.open

    def refusing(name: object, flags: int, *mode: int) -> int:
        if flags & os.O_RDWR and path.exists() and path.stat().st_ino == theirs:
            raise PermissionError(13, "Permission denied")
        return opened(name, flags, *mode)  # type: ignore[arg-type]

    monkeypatch.setattr(os, "open", refusing)
    with rack_lock(tmp_path):
        assert json.loads(path.read_text())["process"] == os.getpid()
    assert not path.exists()


def test_a_lock_that_was_taken_away_meanwhile_is_not_deleted_for_another(tmp_path: Path) -> None:
    path = tmp_path / LOCK_NAME
    with rack_lock(tmp_path):
        path.unlink()
        path.write_text("another's")
    assert path.read_text() == "another's"
