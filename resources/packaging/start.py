"""What the packaged program runs: the window when it is opened without words or on files, else the command line."""

from __future__ import annotations

import multiprocessing
import os
import sys
from pathlib import Path

# The kernels in the package were compiled for any processor of this kind, not for one machine.
os.environ.setdefault("NUMBA_CPU_NAME", "generic")
os.environ.setdefault("NUMBA_CPU_FEATURES", "")


def main() -> int:
    """Run what was asked for; gives the exit code."""
    words = sys.argv[1:]
    if words[:2] == ["-P", "-c"]:
        # The package is its own Python: a process that compiles kernels is started as `python -P -c CODE`.
        exec(words[2], {"__name__": "__main__"})
        return 0
    if all(Path(word).exists() for word in words):
        sys.argv[1:] = ["desk", *words]
    from nestplan.cli import main as command_line

    return command_line() or 0


if __name__ == "__main__":
    multiprocessing.freeze_support()
    sys.exit(main())
