"""Small tasks for worker tests, in a module of their own so that worker processes can import them."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path


def square(number: int) -> int:
    return number * number


def slow_square(number: int) -> int:
    time.sleep(0.05)
    return number * number


def refuse_three(number: int) -> int:
    if number == 3:
        raise ValueError("three is refused")
    return number


def die_once(task: tuple[int, str]) -> int:
    """Kills its own process the first time number 2 is asked for; `task` is (number, folder to remember it in)."""
    number, folder = task
    memory = Path(folder) / "died"
    if number == 2 and not memory.exists():
        memory.write_text("once")
        os.kill(os.getpid(), signal.SIGKILL)
    time.sleep(0.02)
    return number + 100


def die_always(number: int) -> int:
    if number == 2:
        os.kill(os.getpid(), signal.SIGKILL)
    return number


LONG = 60.0


def sleep_long(number: int) -> int:
    time.sleep(LONG)
    return number
