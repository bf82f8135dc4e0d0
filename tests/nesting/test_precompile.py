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


_TOLD = """
import importlib, pkgutil
from nestplan.nesting import arrays
from nestplan.nesting.arrays.kernel_cache import Kernel
from nestplan.nesting.nest import nest
from nestplan.nesting.precompile import compile_share
from tests.generated_hides import generated_hide, generated_job

def called():
    names = [m.name for m in pkgutil.iter_modules(arrays.__path__) if m.name.endswith("kernels")]
    kernels = [
        (name, each)
        for module in map(importlib.import_module, (f"{arrays.__name__}.{name}" for name in names))
        for name, each in vars(module).items()
        if isinstance(each, Kernel) and each.__module__ == module.__name__
    ]
    return {(name, str(signature)) for name, each in kernels for signature in each.signatures}

for share in (0, 1, 2):
    compile_share(share)
prepared = called()
assert prepared
hides = [generated_hide(seed, kind) for seed, kind in enumerate(("cow-side", "goat"))]
for goal in ("complete", "gather", "fill"):
    nest(generated_job(1, pieces=12, size=400.0), hides, goal=goal, passes=2, workers=1)
print("besides:", sorted({name for name, _ in called() - prepared}))
"""


def test_plans_of_irregular_hides_need_no_kernel_that_was_not_prepared() -> None:
    """Else a first search would compile within its seconds, and end with little searched."""
    done = subprocess.run(
        [sys.executable, "-c", _TOLD],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parents[2],
    )
    assert done.stdout.strip().endswith("besides: []"), done.stdout + done.stderr


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
