"""Kills cuts, undos and savings of a rack at random moments, and checks the rack after each: a long run by a command.

    python -m tests.tasks.random_kills --kills 1000 --seed 1

One rack is worked on all the time, so that what one kill leaves is what the next one meets.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import tempfile
import time
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path

from nestplan.errors import InputError
from nestplan.model.files import read_hide
from nestplan.tasks.cutting import cut_plan, find_cut, take_back_cut
from nestplan.tasks.rack import list_rack
from tests.tasks.rack_invariant import (
    every_file_is_whole,
    leather_is_counted_once,
    nothing_is_left_behind,
    plan_rye,
)
from tests.tasks.small_rack import small_rack

__all__ = ["kill_at_random"]

LONGEST = 0.4
"""Seconds after which the last process is killed; a cut takes about a tenth of that."""


def kill_at_random(kills: int, seed: int, folder: Path) -> int:
    """How many of so many processes were killed before they came to their end; the rack is checked after each.

    Raises AssertionError if leather is lost or doubled or a file is not whole.
    """
    chance = random.Random(seed)
    small_rack(folder)
    plan_rye(folder)
    killed = 0
    for number in range(kills):
        if _run_and_kill(_some_work(folder, chance), chance.expovariate(20.0)):
            killed += 1
        every_file_is_whole(folder)
        if number % 2:
            leather_is_counted_once(folder)
    leather_is_counted_once(folder)
    nothing_is_left_behind(folder)
    return killed


def _some_work(folder: Path, chance: random.Random) -> Callable[[], object]:
    plan = folder / "out" / chance.choice(["plan.json", "rye.json"])
    hide = folder / ("barley.hide.json" if plan.name == "plan.json" else "rye.hide.json")
    if chance.random() < 0.2:
        # Whoever reads a rack puts it right, and may be killed at that too.
        return lambda: list_rack(folder)
    if read_hide(hide).used:
        files = find_cut(plan)
        return lambda: take_back_cut(files.rack, files.cut_id)
    return lambda: cut_plan(find_cut(plan))


def _run_and_kill(work: Callable[[], object], seconds: float) -> bool:
    """Whether the work, in a process of its own, was killed before its end."""
    child = os.fork()
    if child == 0:
        code = 1
        try:
            work()
            code = 0
        except InputError:
            code = 0
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(code)
    end = time.monotonic() + min(seconds, LONGEST)
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            assert status == 0, "the work ended with an error of its own"
            return False
        time.sleep(0.0005)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status)


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args(arguments)
    start = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        killed = kill_at_random(given.kills, given.seed, Path(folder))
    took = time.monotonic() - start
    print(f"{given.kills} processes, {killed} of them killed: nothing lost, doubled or half ({took:.0f} s)")


if __name__ == "__main__":
    main()
