"""Lists the checks of what strangers' files, folders and names must not do: the tests marked `security`. A command.

    python -m tests.security_checks [--count]

Run them with `pytest -m security`.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

__all__ = ["security_checks"]

ROOT = Path(__file__).resolve().parent.parent


def security_checks() -> list[str]:
    """The ids of the tests that are marked; each set of its parameters is one check.

    Raises RuntimeError if they cannot be collected.
    """
    marked = [
        path
        for path in sorted((ROOT / "tests").rglob("test_*.py"))
        if "mark.security" in path.read_text("utf-8")
    ]
    command = [sys.executable, "-m", "pytest", "--collect-only", "-q", "-m", "security", *map(str, marked)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(done.stdout[-1000:] + done.stderr[-1000:])
    return [line for line in done.stdout.splitlines() if "::" in line]


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", action="store_true")
    given = parser.parse_args(arguments)
    checks = security_checks()
    if not given.count:
        by_test = Counter(re.sub(r"\[.*\]$", "", check) for check in checks)
        for test, count in by_test.items():
            file, _, name = test.partition("::")
            words = name.removeprefix("test_").replace("_", " ")
            sys.stdout.write(f"{file}: {words}{f' ({count})' if count > 1 else ''}\n")
    sys.stdout.write(f"{len(checks)} checks\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
