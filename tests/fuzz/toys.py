"""Formats whose readers do what no reader may: the harness must notice each."""

from __future__ import annotations

import ctypes
import os
import time
from pathlib import Path

from tests.fuzz.byte_mutations import damaged_bytes
from tests.fuzz.formats import Format

__all__ = ["TOYS"]


def _raises(path: Path) -> None:
    raise KeyError(path.name)


def _prints(path: Path) -> None:
    """As a library in C does, past Python's own streams."""
    ctypes.CDLL(None).puts(b"odd file")
    ctypes.CDLL(None).fflush(None)


def _is_slow(path: Path) -> None:
    end = time.process_time() + 1.5
    while time.process_time() < end:
        pass


def _hangs(path: Path) -> None:
    time.sleep(600)


def _takes_memory(path: Path) -> None:
    held = bytearray(300 * 1024 * 1024)
    held[::4096] = b"x" * len(held[::4096])


def _takes_all_memory(path: Path) -> None:
    held = [bytearray(100 * 1024 * 1024) for _ in range(1000)]
    assert held


def _dies(path: Path) -> None:
    os.abort()


TOYS = {
    what: Format(what, "toy", damaged_bytes, read)
    for what, read in {
        "exception": _raises,
        "printed": _prints,
        "slow": _is_slow,
        "hung": _hangs,
        "memory": _takes_memory,
        "all memory": _takes_all_memory,
        "died": _dies,
    }.items()
}
"""By the outcome that each must have."""
