"""The command line as a whole: what it settles before the first library is loaded."""

from __future__ import annotations

import json
import os
import subprocess
import sys

_SCRIPT = """
import json, os, sys
import nestplan.cli.app as app
early = "numpy" in sys.modules
app.multiply_in_one_thread()
print(json.dumps([early, os.environ["OPENBLAS_NUM_THREADS"], os.environ["MKL_NUM_THREADS"]]))
"""


def settled(**said: str) -> list[object]:
    """Whether NumPy was there too early, and the threads of the two libraries, in a process of its own."""
    environment = {name: value for name, value in os.environ.items() if "NUM_THREADS" not in name} | said
    done = subprocess.run(
        [sys.executable, "-c", _SCRIPT], capture_output=True, text=True, check=True, env=environment
    )
    answer: list[object] = json.loads(done.stdout)
    return answer


def test_products_are_done_by_one_thread_and_it_is_said_before_numpy_is_loaded() -> None:
    assert settled() == [False, "1", "1"]


def test_what_the_user_said_of_threads_stays() -> None:
    assert settled(OPENBLAS_NUM_THREADS="4") == [False, "4", "1"]
