"""Reads mutated files of every format, in a process with caps on time and memory: a long run by a command.

    python -m tests.fuzz.run --files 100000 --seed 1 --seconds-cap 10 --memory-cap 1GiB [--minutes 5] [--format dxf]
        [--keep DIR]

Each file is read well, or refused by an error that nestplan raises on purpose. Anything else is a finding: another
exception, a death, more time or memory than allowed, words that a library prints. Findings are told once for each
place in the code; `--keep` writes the files that led to them. Ends with 1 where there were any.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import re
import select
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.fuzz.formats import FORMATS, mutated
from tests.fuzz.judge import Verdict

__all__ = ["Finding", "Report", "Server", "fuzz", "memory_folder"]

ROOT = Path(__file__).resolve().parents[2]
_LOADING_SECONDS, _BARE_LOADING_SECONDS = 120.0, 5.0
"""A process may take so long to load its libraries on a busy machine before it answers for the first time."""
_PATIENCE = 10.0
"""How many times what is allowed a process that does not work is waited for, in time of the clock. What is allowed is
processor time: on a busy machine a process that would work may hardly get to it."""


_A_LOOK = 0.5
"""Seconds between two looks at a process that is silent."""


@dataclass(frozen=True)
class Finding:
    """What was wrong with one file: made by `mutated(FORMATS[format], seed, number)`."""

    format: str
    seed: int
    number: int
    verdict: Verdict


@dataclass
class Report:
    """What came of a run: per format how many were read and refused, and the findings by their place."""

    read: Counter[str] = field(default_factory=Counter)
    refused: Counter[str] = field(default_factory=Counter)
    slowest: dict[str, float] = field(default_factory=dict)
    largest: dict[str, float] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)

    @property
    def files(self) -> int:
        return self.read.total() + self.refused.total() + len(self.findings)

    def add(self, name: str, seed: int, number: int, verdict: Verdict) -> None:
        self.slowest[name] = max(self.slowest.get(name, 0.0), verdict.seconds)
        self.largest[name] = max(self.largest.get(name, 0.0), verdict.megabytes)
        if verdict.outcome == "read":
            self.read[name] += 1
        elif verdict.outcome == "refused":
            self.refused[name] += 1
        else:
            self.findings.append(Finding(name, seed, number, verdict))

    def by_place(self) -> dict[str, list[Finding]]:
        """The findings that are one fault of the code, by what tells them apart."""
        found: dict[str, list[Finding]] = {}
        for finding in self.findings:
            place = re.sub(r"\d+(\.\d+)?", "#", finding.verdict.where.split(" at ")[0])[:60]
            line = (
                finding.verdict.where.rpartition(" at ")[2] if finding.verdict.outcome == "exception" else ""
            )
            found.setdefault(f"{finding.format}: {finding.verdict.outcome}: {place} at {line}", []).append(
                finding
            )
        return found

    def table(self) -> str:
        rows = ["format      files     read   refused  findings  slowest s  most MB"]
        wrong = Counter(finding.format for finding in self.findings)
        for name in FORMATS:
            files = self.read[name] + self.refused[name] + wrong[name]
            if files:
                rows.append(
                    f"{name:<10} {files:>6} {self.read[name]:>8} {self.refused[name]:>9} {wrong[name]:>9} "
                    f"{self.slowest[name]:>10.2f} {self.largest[name]:>8.0f}"
                )
        rows.append(f"{self.files} files, {len(self.findings)} findings")
        return "\n".join(rows)


class Server:
    """The process that reads; started when first asked, and anew after it died or hung."""

    def __init__(
        self,
        folder: Path,
        *,
        seconds: float,
        megabytes: float,
        loading: bool = True,
        patience: float = _PATIENCE,
    ) -> None:
        """With `loading` all libraries are loaded first, so that no file is charged for them."""
        self._loading = loading
        self._patience = patience
        self._folder = folder
        self._seconds = seconds
        self._megabytes = megabytes
        self._process: subprocess.Popen[bytes] | None = None
        self._answered = 0

    def judge(self, name: str, seed: int | str, number: int | None) -> Verdict:
        """What comes of a mutated file, or of the file at the path `seed` where there is no number."""
        process = self._process or self._start()
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            process.stdin.write((json.dumps([name, seed, number]) + "\n").encode())
            process.stdin.flush()
        except BrokenPipeError:
            return self._died(name)
        if not self._is_answered(process):
            self.close()
            return Verdict("hung", name, self._seconds)
        line = process.stdout.readline()
        if not line:
            return self._died(name)
        self._answered += 1
        return Verdict(**json.loads(line))

    def _is_answered(self, process: subprocess.Popen[bytes]) -> bool:
        """Whether it answers before it has worked twice as long as allowed, or stood still for very much longer."""
        loading = _LOADING_SECONDS if self._loading else _BARE_LOADING_SECONDS
        allowed = 2.0 * self._seconds + (0.0 if self._answered else loading)
        start, stood_still = _worked(process.pid)[0], 0.0
        while not select.select([process.stdout], [], [], _A_LOOK)[0]:
            worked, would_work = _worked(process.pid)
            stood_still += 0.0 if would_work else _A_LOOK
            if worked - start > allowed or stood_still > allowed * self._patience:
                return False
        return True

    def close(self) -> None:
        """End the process."""
        if self._process is not None:
            self._process.kill()
            self._process.communicate()
            self._process = None
            self._answered = 0

    def _died(self, name: str) -> Verdict:
        assert self._process is not None
        self._process.wait()
        code = self._process.returncode
        words = (self._folder / "output").read_bytes()[-600:].decode(errors="replace").strip().splitlines()
        self.close()
        return Verdict("died", f"{name}: code {code} {words[-1] if words else ''}")

    def _start(self) -> subprocess.Popen[bytes]:
        self._folder.mkdir(parents=True, exist_ok=True)
        words = [str(self._folder), str(self._seconds), str(self._megabytes)]
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", "tests.fuzz.server", *words, *([] if self._loading else ["bare"])],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": str(ROOT), "QT_QPA_PLATFORM": "offscreen"},
            bufsize=0,
        )
        return self._process


def _worked(process: int) -> tuple[float, bool]:
    """Processor time of a process, s, and whether it works or waits for its turn; 0 and no once it is gone."""
    try:
        fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0, False
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK"), fields[0] == "R"


def memory_folder() -> str | None:
    """A folder that no disk is behind, where there is one: making and deleting a file on a disk that others write to
    takes longer than reading it. None: wherever temporary files go."""
    return "/dev/shm" if os.access("/dev/shm", os.W_OK) else None


def turns(names: Sequence[str]) -> Iterator[tuple[str, int]]:
    """Formats and numbers of files without end, each format as often as its share asks."""
    order = [name for name in names for _ in range(FORMATS[name].share)]
    for number in range(sys.maxsize):
        yield order[number % len(order)], number


def fuzz(
    files: int, seed: int, *, seconds: float, megabytes: float, names: Sequence[str] = ()
) -> Iterator[tuple[str, int, Verdict]]:
    """Format, number and verdict of so many mutated files."""
    with tempfile.TemporaryDirectory(dir=memory_folder()) as folder:
        server = Server(Path(folder), seconds=seconds, megabytes=megabytes)
        try:
            for count, (name, number) in enumerate(turns(names or tuple(FORMATS))):
                if count >= files:
                    break
                yield name, number, server.judge(name, seed, number)
        finally:
            server.close()


def _megabytes(text: str) -> float:
    found = re.fullmatch(r"([\d.]+)\s*([GM])(?:iB|B)?", text.strip())
    if found is None:
        raise argparse.ArgumentTypeError("say it as 1GiB or 512MiB")
    return float(found[1]) * (1024.0 if found[2] == "G" else 1.0)


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--files", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds-cap", type=float, default=10.0)
    parser.add_argument("--memory-cap", type=_megabytes, default=1024.0)
    parser.add_argument("--format", action="append", default=[], choices=list(FORMATS))
    parser.add_argument("--minutes", type=float, default=math.inf)
    parser.add_argument("--keep", type=Path, default=None)
    given = parser.parse_args(arguments)
    report, told = Report(), set[str]()
    start = time.monotonic()
    limits: dict[str, Any] = {"seconds": given.seconds_cap, "megabytes": given.memory_cap}
    for name, number, verdict in fuzz(given.files, given.seed, names=given.format, **limits):
        report.add(name, given.seed, number, verdict)
        if report.findings:
            _tell(report, told, given.keep)
        if time.monotonic() - start > 60.0 * given.minutes:
            break
        if report.files % 10_000 == 0:
            print(
                f"… {report.files} files, {len(report.findings)} findings, {time.monotonic() - start:.0f} s",
                flush=True,
            )
    print(report.table())
    for place, findings in report.by_place().items():
        print(f"{len(findings)} × {place}")
    took = time.monotonic() - start
    print(f"{took:.0f} s, {report.files / took:.0f} files a second")
    return 1 if report.findings else 0


def _tell(report: Report, told: set[str], keep: Path | None) -> None:
    """Print each new finding once, and keep its file."""
    last = report.findings[-1]
    place = next(place for place, findings in report.by_place().items() if last in findings)
    if place in told:
        return
    told.add(place)
    print(f"{last.format} {last.seed} {last.number}: {last.verdict}", flush=True)
    if keep is not None:
        form = FORMATS[last.format]
        keep.mkdir(parents=True, exist_ok=True)
        (keep / f"{last.format}-{last.seed}-{last.number}-{form.ending}").write_bytes(
            mutated(form, last.seed, last.number)
        )


if __name__ == "__main__":
    sys.exit(main())
