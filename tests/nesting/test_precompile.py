"""Preparing compiles what a first plan needs, and says so by what lies in the cache."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import nestplan
from nestplan.nesting import precompile as prepare
from nestplan.nesting.precompile import compile_share, forget_stale


def test_a_tree_without_a_cache_is_not_prepared(tmp_path: Path) -> None:
    package = Path(nestplan.__file__).parent
    shutil.copytree(package, tmp_path / "nestplan", ignore=shutil.ignore_patterns("__pycache__"))
    code = "from nestplan.nesting.precompile import is_prepared; print(is_prepared())"
    done = subprocess.run(
        [sys.executable, "-B", "-c", code],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(tmp_path)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "False"


def test_each_share_is_a_plan_that_passes_its_audit() -> None:
    for share in (0, 1, 2):
        compile_share(share)


def test_what_was_compiled_before_a_source_changed_is_forgotten(tmp_path: Path) -> None:
    cache = tmp_path / "__pycache__"
    cache.mkdir()
    source = tmp_path / "some_kernels.py"
    stale, fresh, other = (
        cache / name for name in ("a_kernels.f-1.py311.nbi", "a_kernels.g-1.py311.1.nbc", "a.cpython-311.pyc")
    )
    for path, when in ((source, 2000), (stale, 1000), (fresh, 3000), (other, 1000)):
        path.touch()
        os.utime(path, (when, when))
    forget_stale(tmp_path)
    assert not stale.exists()
    assert fresh.exists()
    assert other.exists()


def test_a_share_that_compiles_behind_holds_no_output_open(monkeypatch) -> None:
    begun = {}
    monkeypatch.setattr(subprocess, "Popen", lambda command, **where: begun.update(where))
    prepare._begin(prepare.SEARCH)
    assert begun == dict.fromkeys(("stdin", "stdout", "stderr"), subprocess.DEVNULL)


@pytest.mark.security
def test_compiling_runs_no_module_that_lies_in_the_current_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("nestplan", "numpy", "numba"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit('this is not what was asked for')\n")
    asked: list[list[str]] = []
    monkeypatch.setattr(subprocess, "Popen", lambda words, **_: asked.append(words))
    prepare._begin(prepare.PIECES)
    monkeypatch.undo()
    (words,) = asked
    imports, called, _ = words[-1].rpartition("; compile_share(")
    assert called
    shown = f"{imports}; import nestplan; print(nestplan.__file__)"
    done = subprocess.run([*words[:-1], shown], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert Path(done.stdout.strip()) == Path(nestplan.__file__), done.stderr
