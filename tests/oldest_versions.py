"""Installs the oldest versions that pyproject.toml allows of all we depend on, and runs tests with them: a command.

    python -m tests.oldest_versions --folder DIR [--newest] [TESTS…]

With `--newest` the newest that it allows. DIR becomes an environment of its own; it is kept, so that a second run is
quick. Ends with the exit code of the tests.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import tomllib
import venv
from collections.abc import Sequence
from pathlib import Path
from typing import Any

__all__ = ["oldest_allowed", "requirements"]

ROOT = Path(__file__).resolve().parent.parent
TESTS = (
    "tests/geometry",
    "tests/model",
    "tests/nesting",
    "tests/yields",
    "tests/estimate",
    "tests/intake/drawings",
    "tests/tasks/test_cutting.py",
)
_REQUIREMENT = re.compile(r"([A-Za-z0-9_.-]+)(\[[^\]]*\])?\s*>=\s*([0-9][^,;\s]*)([^;]*)(;.*)?")


def requirements() -> list[str]:
    """What pyproject.toml asks for, with the test extra."""
    project: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return [*project["dependencies"], *project["optional-dependencies"]["test"]]


def oldest_allowed(requirement: str) -> str:
    """The requirement with its lower bound as the only version, in its last correction.

    Raises ValueError if it has none.
    """
    found = _REQUIREMENT.fullmatch(requirement.strip())
    if found is None:
        raise ValueError(f"'{requirement}' has no lower bound")
    return f"{found[1]}{found[2] or ''}=={found[3]}.*{found[5] or ''}"


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--folder", type=Path, required=True)
    parser.add_argument("--newest", action="store_true")
    parser.add_argument("tests", nargs="*", default=list(TESTS))
    given = parser.parse_args(arguments)
    python = given.folder / "bin" / "python"
    if not python.exists():
        venv.create(given.folder, with_pip=True)
    wanted = requirements() if given.newest else [oldest_allowed(each) for each in requirements()]
    install = [str(python), "-m", "pip", "install", "-q", *(["-U"] if given.newest else []), *wanted]
    subprocess.run(install, check=True, cwd=given.folder)
    command = [str(python), "-m", "pytest", "-q", "-p", "no:cacheprovider", *given.tests]
    return subprocess.run(
        command,
        check=False,
        cwd=ROOT,
        env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin", "HOME": str(given.folder)},
    ).returncode


if __name__ == "__main__":
    sys.exit(main())
