"""One file read under watch: what came of it, how long it took, how much memory, and whether a library spoke up."""

from __future__ import annotations

import os
import shutil
import sys
import time
import traceback
from dataclasses import dataclass
from pathlib import Path

from nestplan.errors import NestplanError
from tests.fuzz.formats import Format

__all__ = ["Judge", "Verdict"]

_STATUS = Path("/proc/self/status")
_CLEAR = Path("/proc/self/clear_refs")


@dataclass(frozen=True)
class Verdict:
    """What came of one file. `outcome` is `read`, `refused`, or what was wrong; `where` tells two faults apart."""

    outcome: str
    where: str = ""
    seconds: float = 0.0
    megabytes: float = 0.0


class Judge:
    """Reads files one after another in a folder of its own, with the process's own output kept in a file."""

    def __init__(self, folder: Path, output: Path, *, seconds: float, megabytes: float) -> None:
        self._folder = folder
        self._output = output
        self._seconds = seconds
        self._megabytes = megabytes

    def judge(self, form: Format, content: bytes) -> Verdict:
        """Read the content as a file of the format."""
        shutil.rmtree(self._folder, ignore_errors=True)
        self._folder.mkdir(parents=True)
        path = self._folder / form.ending
        path.write_bytes(content)
        spoken = self._spoken()
        before = _peak(forget=True)
        start = time.process_time()
        outcome, where = _outcome(form, path)
        seconds = time.process_time() - start
        megabytes = _peak() - before
        if outcome in ("read", "refused"):
            if seconds > self._seconds:
                outcome, where = "slow", form.name
            elif megabytes > self._megabytes:
                outcome, where = "memory", form.name
            elif self._spoken() > spoken:
                outcome, where = "printed", self._last_words(spoken)
        return Verdict(outcome, where, round(seconds, 3), round(megabytes, 1))

    def _spoken(self) -> int:
        sys.stdout.flush()
        sys.stderr.flush()
        return os.path.getsize(self._output)

    def _last_words(self, since: int) -> str:
        with open(self._output, "rb") as stream:
            stream.seek(since)
            return " ".join(stream.read(300).decode(errors="replace").split())


def _outcome(form: Format, path: Path) -> tuple[str, str]:
    try:
        form.read(path)
    except NestplanError as error:
        if isinstance(error.__cause__, MemoryError):
            return "memory", _where(error.__cause__)
        # The words are made too: they may fail on what is in the file.
        return ("refused", "") if str(error) else ("no words", _where(error))
    except BaseException as error:
        return ("memory" if isinstance(error, MemoryError) else "exception"), _where(error)
    return "read", ""


def _where(error: BaseException) -> str:
    """The error and the innermost of our own lines on its way."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if f"{os.sep}nestplan{os.sep}" in frame.filename] or frames
    inner = frames[-1]
    words = f"{type(error).__name__}: {str(error)[:160]}"
    return f"{words} at {Path(ours[-1].filename).name}:{ours[-1].lineno} ({Path(inner.filename).name}:{inner.lineno})"


def _peak(*, forget: bool = False) -> float:
    """The most memory this process has held, MB; with `forget` counted from now on. 0 where it cannot be known."""
    try:
        if forget:
            _CLEAR.write_text("5")
        words = _STATUS.read_text()
    except OSError:
        return 0.0
    key = "VmRSS:" if forget else "VmHWM:"
    return next((int(line.split()[1]) / 1024.0 for line in words.splitlines() if line.startswith(key)), 0.0)
