"""Tasks on local processes: answers in order, a dead worker costs a try, cancelling stops the rest."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

import nestplan
from nestplan.errors import Cancelled, InputError
from nestplan.estimate.workers import LocalWorkers, SerialWorkers, WorkersLostError, open_workers
from tests.estimate import chores


@pytest.mark.parametrize("count", [1, 2])
def test_answers_come_in_the_order_of_the_tasks(count: int) -> None:
    with open_workers(count) as workers:
        done: list[tuple[int, int]] = []
        answers = workers.map(
            chores.square, range(20), on_done=lambda number, answer: done.append((number, answer))
        )
    assert answers == [number * number for number in range(20)]
    assert sorted(done) == list(enumerate(answers))


def test_the_error_of_a_task_is_the_error_of_the_run() -> None:
    for count in (1, 2):
        with open_workers(count) as workers, pytest.raises(ValueError, match="three is refused"):
            workers.map(chores.refuse_three, range(6))


def test_a_killed_process_costs_a_try_and_not_the_run(tmp_path: Path) -> None:
    with open_workers(2) as workers:
        answers = workers.map(chores.die_once, [(number, str(tmp_path)) for number in range(8)])
    assert (tmp_path / "died").exists()
    assert answers == [number + 100 for number in range(8)]


def test_a_task_that_kills_every_worker_ends_the_run_with_a_reason() -> None:
    with open_workers(2) as workers, pytest.raises(WorkersLostError, match="died 3 times"):
        workers.map(chores.die_always, range(4))


@pytest.mark.parametrize("count", [1, 2])
def test_cancelling_keeps_the_answers_so_far(count: int) -> None:
    seen: list[int] = []
    with open_workers(count) as workers, pytest.raises(Cancelled) as stopped:
        workers.map(
            chores.slow_square,
            range(40),
            on_done=lambda number, answer: seen.append(answer),
            cancelled=lambda: len(seen) >= 4,
        )
    assert 4 <= len(stopped.value.best) < 40


def test_fewer_than_one_worker_is_refused() -> None:
    with pytest.raises(InputError):
        LocalWorkers(0)


def test_one_worker_works_in_this_process() -> None:
    with open_workers(1) as workers:
        assert isinstance(workers, SerialWorkers)


def test_stopping_does_not_wait_for_what_is_being_worked_on() -> None:
    start = time.monotonic()
    with pytest.raises(Cancelled), open_workers(2) as workers:
        workers.map(chores.sleep_long, range(4), cancelled=lambda: time.monotonic() > start + 1.5)
    assert time.monotonic() - start < chores.LONG / 2


@pytest.mark.security
def test_worker_processes_run_no_module_that_lies_in_the_current_folder(tmp_path: Path) -> None:
    here, home = tmp_path / "here", tmp_path / "home"
    here.mkdir()
    home.mkdir()
    for name in ("pickle", "socket", "nestplan", "numpy", "signal", "multiprocessing", "threading"):
        (here / f"{name}.py").write_text(f"open({str(tmp_path / 'ran')!r}, 'a').write({name!r})\n")
    (home / "count.py").write_text(
        "import os\n"
        "from nestplan.estimate.workers import open_workers\n"
        "if __name__ == '__main__':\n"
        "    with open_workers(2) as workers:\n"
        # What holds for our processes does not change how others are started.
        "        print(workers.map(abs, [-1, -2]), os.environ.get('PYTHONSAFEPATH'))\n"
    )
    root = str(Path(nestplan.__file__).parent.parent)
    done = subprocess.run(
        [sys.executable, str(home / "count.py")],
        cwd=here,
        env={**os.environ, "PYTHONPATH": root},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout == "[1, 2] None\n", done.stderr
    assert not (tmp_path / "ran").exists()
