"""Types command lines that nobody should, each in a process of its own, and judges how they end: a run by a command.

    python -m tests.fuzz.typed --lines 5000 --seed 1 [--command "fit lace"] [--minutes 5]

Whatever is typed, a command is done, or says in words what is wrong and leaves with 2. A finding is: a fault of its
own, a traceback, a death, words of a library or of Python, signs that would steer the terminal, more processor time or
memory than allowed, silence with 2, and a file of the user changed by a command that refused to work. Ends with 1 where
there were any.
"""

from __future__ import annotations

import argparse
import contextlib
import math
import os
import random
import re
import resource
import shlex
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from nestplan.cli.app import main as nestplan
from tests.fuzz.command_lines import commands, mutated_line, write_workshop
from tests.fuzz.run import memory_folder

__all__ = ["Ending", "contents_of", "faults_of", "prepare_to_fork", "run_line", "typed_lines"]

_SECONDS, _MEGABYTES = 30, 3000
"""Processor time and address space of one command; the libraries alone take more than a gigabyte of the latter."""
_PATIENCE = 600.0
"""Seconds of the clock after which a command that does no work is ended."""
_DONE = (0, 2, 3)
_FOREIGN_WORDS = re.compile(
    r"Traceback|fault of its own|fault in nestplan|Warning:|\.py[:\"]|Errno|<class|object at 0x|\bNone\b|NoneType"
)
_STEERING = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


@dataclass(frozen=True)
class Ending:
    """How a command line ended: its exit code, or minus the signal that ended it, and all that it said."""

    line: tuple[str, ...]
    code: int
    output: str
    errors: str
    seconds: float
    changed: tuple[str, ...]
    """Files of the user that are other than before."""

    @property
    def words(self) -> str:
        return shlex.join(self.line)


def faults_of(ending: Ending) -> list[str]:
    """What is wrong with the way a command ended."""
    found = []
    if ending.code not in _DONE:
        found.append(f"left with {ending.code} after {ending.seconds:.0f} s")
    typed = " ".join(ending.line)
    for said in (ending.output, ending.errors):
        foreign = _FOREIGN_WORDS.search(said)
        if foreign and foreign[0] not in typed:
            found.append(f"says '{said[max(0, foreign.start() - 60) : foreign.end() + 100].strip()}'")
        if _STEERING.search(said):
            found.append("steers the terminal")
    if ending.code == 2:
        if not ending.errors.strip():
            found.append("silent")
        if ending.changed:
            found.append(f"refused, and yet changed {', '.join(ending.changed)}")
    if len(ending.errors) > 5000 + 3 * len(typed):
        found.append(f"says {len(ending.errors)} letters")
    return found


def typed_lines(lines: int, seed: int, *, only: str = "") -> Iterator[Ending]:
    """So many nasty command lines and how each ended, command after command."""
    known = {name: given for name, given in commands().items() if not only or name == only}
    with tempfile.TemporaryDirectory(dir=memory_folder()) as home:
        workshop = Path(home) / "workshop"
        write_workshop(workshop)
        before = contents_of(workshop)
        for number in range(lines):
            name = list(known)[number % len(known)]
            line = mutated_line(name, known[name], random.Random(f"{name} {seed} {number}"))
            folder = Path(home) / "typed"
            shutil.rmtree(folder, ignore_errors=True)
            shutil.copytree(workshop, folder, symlinks=True)
            os.mkfifo(folder / "pipe")
            yield run_line(tuple(line), folder, Path(home), before)


def contents_of(folder: Path) -> dict[str, bytes]:
    """The bytes of each file in a folder and below, by its path in it; files with a dot first are left out."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and not path.name.startswith(".")
    }


def run_line(line: tuple[str, ...], folder: Path, home: Path, before: dict[str, bytes]) -> Ending:
    """Run a command line in a process of its own in `folder`; `home` takes what it says, `before` is what was there."""
    sys.stdout.flush()
    sys.stderr.flush()
    child = os.fork()
    if child == 0:
        _become(line, folder, home)
    end = time.monotonic() + _PATIENCE
    while True:
        done, status, used = os.wait4(child, os.WNOHANG)
        if done:
            break
        if time.monotonic() > end:
            os.kill(child, signal.SIGKILL)
        time.sleep(0.005)
    # Processes that it may have left behind.
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(child, signal.SIGKILL)
    code = os.waitstatus_to_exitcode(status)
    said = [(home / name).read_bytes().decode(errors="replace") for name in ("output", "errors")]
    after = contents_of(folder)
    changed = tuple(sorted(name for name, content in before.items() if after.get(name) != content))
    return Ending(line, code, *said, used.ru_utime + used.ru_stime, changed)


def _become(line: tuple[str, ...], folder: Path, home: Path) -> None:
    """Run the command in this process, which is a fork, and end it."""
    code = 70
    try:
        os.setsid()
        os.chdir(folder)
        for number, name, flags in ((0, os.devnull, os.O_RDONLY), (1, home / "output", os.O_WRONLY)):
            os.dup2(os.open(name, flags | (os.O_CREAT | os.O_TRUNC if number else 0)), number)
        os.dup2(os.open(home / "errors", os.O_WRONLY | os.O_CREAT | os.O_TRUNC), 2)
        # As Python opens them; whoever forked may have put others in their place.
        sys.stdout = os.fdopen(1, "w", encoding="utf-8", closefd=False)
        sys.stderr = os.fdopen(2, "w", encoding="utf-8", errors="backslashreplace", closefd=False)
        resource.setrlimit(resource.RLIMIT_CPU, (_SECONDS, _SECONDS + 1))
        resource.setrlimit(resource.RLIMIT_DATA, (_MEGABYTES << 20,) * 2)
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_FSIZE, (200 << 20,) * 2)
        os.environ |= {"HOME": str(home), "COLUMNS": "100", "PYTHONWARNINGS": "always"}
        # As Python makes arguments of bytes that are no letters.
        sys.argv = ["nestplan", *line]
        nestplan()
        code = 0
    except SystemExit as left:
        code = left.code if isinstance(left.code, int) else 0 if left.code is None else 1
    except BaseException as error:
        sys.stderr.write(f"Traceback: {error!r}\n")
        code = 70
    finally:
        for stream in (sys.stdout, sys.stderr):
            with contextlib.suppress(OSError, ValueError):
                stream.flush()
        os._exit(code)


def prepare_to_fork() -> None:
    """Load what every command would load, so that each fork has it."""
    import nestplan.intake.photo.reading as reading
    from nestplan.nesting.precompile import is_prepared, prepare

    for name in reading.LIBRARIES_NEEDED_NEXT:
        __import__(name)
    if not is_prepared():
        prepare()


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--lines", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--command", default="", choices=list(commands()))
    parser.add_argument("--minutes", type=float, default=math.inf)
    given = parser.parse_args(arguments)
    prepare_to_fork()
    began, typed, refused, wrong, slowest = time.monotonic(), 0, 0, 0, 0.0
    for ending in typed_lines(given.lines, given.seed, only=given.command):
        typed, refused, slowest = typed + 1, refused + (ending.code == 2), max(slowest, ending.seconds)
        for fault in faults_of(ending):
            wrong += 1
            print(f"nestplan {ending.words[:300]!r}: {fault}", flush=True)
        if time.monotonic() - began > 60.0 * given.minutes:
            break
    took = time.monotonic() - began
    print(
        f"{typed} lines, {refused} refused, {wrong} findings, slowest {slowest:.1f} s of processor, {took:.0f} s"
    )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
