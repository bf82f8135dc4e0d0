"""Loading numba: quick, without what the kernels never use, and without harm to those who use it."""

from __future__ import annotations

import subprocess
import sys


def run(program: str) -> str:
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_a_plan_is_made_without_loading_linear_algebra() -> None:
    program = (
        "import sys, nestplan; from tests.small_jobs import one_piece_job, plain_hide;"
        "plan = nestplan.plan(one_piece_job(sets=2), [plain_hide()], passes=1);"
        "print(len(plan.placements), 'scipy.linalg' in sys.modules)"
    )
    assert run(program) == "2 False"


def test_products_of_arrays_are_still_compiled_by_whoever_needs_them() -> None:
    program = (
        "import nestplan.nesting.arrays, numba, numpy as np;"
        "f = numba.njit(lambda a, b: np.dot(a, b));"
        "print(f(np.array([1.0, 2.0]), np.array([3.0, 4.0])), np.linalg.norm([3.0, 4.0]))"
    )
    assert run(program) == "11.0 5.0"
