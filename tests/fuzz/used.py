"""Files that can be read though they are odd, then used by the commands that take them: a long run by a command.

    python -m tests.fuzz.used --files 1000 --seed 1 [--minutes 20] [--keep DIR]

Hides, jobs and plans are mutated; those that are still read take the place of good ones in a small workshop, at times a
hide and a job together, and good command lines are run on it. A finding is what `tests.fuzz.typed` calls one; `--keep`
writes the files that led to it. Ends with 1 where there were any.
"""

from __future__ import annotations

import argparse
import contextlib
import math
import random
import shlex
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from nestplan.errors import NestplanError
from nestplan.model.files import read_hide, read_job, read_plan
from tests.fuzz.command_lines import GOOD, write_workshop
from tests.fuzz.formats import FORMATS, mutated
from tests.fuzz.run import memory_folder
from tests.fuzz.typed import Ending, contents_of, faults_of, prepare_to_fork, run_line

__all__ = ["Used", "odd_files", "used_files"]

_READ: Mapping[str, Callable[[Path], object]] = {"hide": read_hide, "job": read_job, "plan": read_plan}

_PLACES = {
    "hide": ("barley.hide.json", "."),
    "job": ("small.job.json", "laced.job.json"),
    "plan": ("out/plan.json",),
}
"""What stands in a command line for a file of each kind: the files of the workshop that odd ones take the place of, and
the folder of its hides."""

_KINDS = (("hide",), ("job",), ("hide", "job"), ("plan",))

_LINES_A_FILE = 2


@dataclass(frozen=True)
class Used:
    """The odd files that a command line was run on, by their kind, and how it ended."""

    files: Mapping[str, bytes]
    ending: Ending


def odd_files(kind: str, seed: int) -> Iterator[bytes]:
    """Mutated files of a kind that are read all the same, without end."""
    with tempfile.TemporaryDirectory(dir=memory_folder()) as folder:
        file, number = Path(folder) / FORMATS[kind].ending, 0
        while True:
            content = mutated(FORMATS[kind], seed, number)
            number += 1
            file.write_bytes(content)
            with contextlib.suppress(NestplanError):
                _READ[kind](file)
                yield content


def used_files(count: int, seed: int) -> Iterator[Used]:
    """So many times odd files in a workshop, and how each command line run on it ended."""
    odd = {kind: odd_files(kind, seed) for kind in _READ}
    with tempfile.TemporaryDirectory(dir=memory_folder()) as home:
        workshop, folder = Path(home) / "workshop", Path(home) / "used"
        write_workshop(workshop)
        for number in range(count):
            files = {kind: next(odd[kind]) for kind in _KINDS[number % len(_KINDS)]}
            for line in random.Random(f"{seed} {number}").sample(_lines_for(tuple(files)), _LINES_A_FILE):
                shutil.rmtree(folder, ignore_errors=True)
                shutil.copytree(workshop, folder, symlinks=True)
                _put(files, folder)
                yield Used(files, run_line(line, folder, Path(home), contents_of(folder)))


def _put(files: Mapping[str, bytes], folder: Path) -> None:
    for kind, content in files.items():
        for place in _PLACES[kind]:
            if (folder / place).is_file():
                (folder / place).write_bytes(content)


def _lines_for(kinds: Sequence[str]) -> list[tuple[str, ...]]:
    """Good lines that take a file of each of these kinds."""
    lines = [tuple(shlex.split(line)) for good in GOOD.values() for line in good]
    return [line for line in lines if all(any(place in line for place in _PLACES[kind]) for kind in kinds)]


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--files", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=math.inf)
    parser.add_argument("--keep", type=Path)
    given = parser.parse_args(arguments)
    prepare_to_fork()
    began, lines, wrong, slowest = time.monotonic(), 0, 0, 0.0
    for used in used_files(given.files, given.seed):
        lines, slowest = lines + 1, max(slowest, used.ending.seconds)
        for fault in faults_of(used.ending):
            wrong += 1
            print(f"{wrong}: nestplan {used.ending.words}: {fault}", flush=True)
            if given.keep is not None:
                given.keep.mkdir(parents=True, exist_ok=True)
                for kind, content in used.files.items():
                    (given.keep / f"{given.seed}_{wrong}.{kind}.json").write_bytes(content)
        if time.monotonic() - began > 60.0 * given.minutes:
            break
    took = time.monotonic() - began
    print(f"{lines} lines on odd files, {wrong} findings, slowest {slowest:.1f} s of processor, {took:.0f} s")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
