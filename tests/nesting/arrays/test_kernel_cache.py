"""Kernels come from the cache without numba's compiler being made ready, and are compiled where it has none."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

_TOY = """
from nestplan.nesting.arrays.compile_options import ALLOCATING, FLAT
from nestplan.nesting.arrays.kernel_cache import kernel

@kernel(**FLAT)
def twice(x):
    return x + x

@kernel(**FLAT)
def fourfold(x):
    return twice(twice(x))

@kernel(**ALLOCATING)
def doubled(values):
    return values + values

if __name__ == "__main__":
    import numpy as np
    import toy
    from numba.core.registry import cpu_target
    made = toy.doubled(np.arange(3.0))
    print(toy.fourfold(2.5), made.tolist(), bool(cpu_target.target_context._registries))
"""


# The last word that these programs print: whether numba has loaded what it can compile.


def run(folder: Path, *words: str) -> str:
    done = subprocess.run([sys.executable, *words], cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_what_is_in_the_cache_is_called_without_loading_the_compiler(tmp_path: Path) -> None:
    file = tmp_path / "toy.py"
    file.write_text(_TOY)
    assert run(tmp_path, str(file)) == "10.0 [0.0, 2.0, 4.0] True"
    assert run(tmp_path, str(file)) == "10.0 [0.0, 2.0, 4.0] False"


def test_a_kernel_that_changed_is_compiled_anew(tmp_path: Path) -> None:
    file = tmp_path / "toy.py"
    file.write_text(_TOY)
    run(tmp_path, str(file))
    file.write_text(_TOY.replace("values + values", "values * 3.0"))
    assert run(tmp_path, str(file)) == "10.0 [0.0, 3.0, 6.0] True"


def test_a_kernel_from_the_cache_is_called_by_one_that_is_compiled(tmp_path: Path) -> None:
    (tmp_path / "toy.py").write_text(_TOY)
    (tmp_path / "caller.py").write_text(
        "import numpy as np, toy; from nestplan.nesting.arrays.compile_options import FLAT\n"
        "from nestplan.nesting.arrays.kernel_cache import kernel\n"
        "ready = toy.fourfold(1.5), toy.doubled(np.ones(2)).sum()\n"
        "@kernel(**FLAT)\ndef more(x):\n    return toy.fourfold(x) + toy.twice(x)\n"
        "print(*ready, more(1.0))\n"
    )
    for _ in range(2):
        assert run(tmp_path, str(tmp_path / "caller.py")) == "6.0 4.0 6.0"


def test_only_what_python_calls_becomes_machine_code_that_is_kept(tmp_path: Path) -> None:
    file = tmp_path / "toy.py"
    file.write_text(_TOY)
    run(tmp_path, str(file))
    kept = {path.name.split("-")[0] for path in (tmp_path / "__pycache__").glob("*.nbi")}
    assert kept == {"toy.fourfold", "toy.doubled"}


@pytest.mark.parametrize("share", [0, 1, 2])
def test_all_kernels_of_a_plan_come_from_the_cache(share: int) -> None:
    program = (
        "from nestplan.nesting.precompile import compile_share; from numba.core.registry import cpu_target;"
        f"compile_share({share}); print(bool(cpu_target.target_context._registries))"
    )
    run(Path(__file__).parent, "-c", program)
    assert run(Path(__file__).parent, "-c", program) == "False"
