"""Preparing compiles what a first plan needs, and says so by what lies in the cache."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import nestplan
from nestplan.nesting.prepare import compile_share


def test_a_tree_without_a_cache_is_not_prepared(tmp_path: Path) -> None:
    package = Path(nestplan.__file__).parent
    shutil.copytree(package, tmp_path / "nestplan", ignore=shutil.ignore_patterns("__pycache__"))
    code = "from nestplan.nesting.prepare import is_prepared; print(is_prepared())"
    done = subprocess.run(
        [sys.executable, "-B", "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "False"


def test_each_share_is_a_plan_that_passes_its_audit() -> None:
    for share in (0, 1):
        compile_share(share)
