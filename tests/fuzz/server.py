"""A process that reads mutated files as it is told, one a line, and answers with a verdict each.

Started by `tests.fuzz.run`; it dies of what a file does to it, not the one who asked.
"""

from __future__ import annotations

import json
import os
import resource
import sys
import warnings
from dataclasses import asdict
from pathlib import Path

from tests.fuzz.formats import FORMATS, mutated
from tests.fuzz.judge import Judge
from tests.fuzz.toys import TOYS

_MB = 1024 * 1024
_ALLOWANCE = 512
"""MB of address space that libraries may take besides, while they are loaded."""


def _limit_memory(megabytes: float) -> None:
    words = Path("/proc/self/status").read_text()
    held = next(int(line.split()[1]) / 1024.0 for line in words.splitlines() if line.startswith("VmData:"))
    most = int((held + megabytes + _ALLOWANCE) * _MB)
    resource.setrlimit(resource.RLIMIT_DATA, (most, most))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _load_all() -> None:
    """What readers load when first used is no file's doing."""
    for form in FORMATS.values():
        mutated(form, 0, 0)
    import nestplan.intake.photo.reading as reading

    for name in reading.LIBRARIES_NEEDED_NEXT:
        __import__(name)


def main() -> None:
    folder, seconds, megabytes = Path(sys.argv[1]), float(sys.argv[2]), float(sys.argv[3])
    asked, answered = os.fdopen(os.dup(0)), os.fdopen(os.dup(1), "w")
    output = folder / "output"
    # Whatever is printed from now on, by Python or by a library in C, is kept.
    handle = os.open(output, os.O_CREAT | os.O_WRONLY | os.O_APPEND, 0o600)
    for number in (1, 2):
        os.dup2(handle, number)
    if len(sys.argv) < 5:
        _load_all()
    warnings.simplefilter("always")
    _limit_memory(megabytes)
    judge = Judge(folder / "file", output, seconds=seconds, megabytes=megabytes)
    for line in asked:
        name, seed, number = json.loads(line)
        form = FORMATS.get(name) or TOYS[name]
        content = Path(seed).read_bytes() if number is None else mutated(form, seed, number)
        answered.write(json.dumps(asdict(judge.judge(form, content))) + "\n")
        answered.flush()
        if output.stat().st_size > 10 * _MB:
            os.truncate(output, 0)


if __name__ == "__main__":
    main()
