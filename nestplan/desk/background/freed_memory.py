"""Memory that finished work has freed, given back to the system.

The C library keeps what a thread freed for that thread's next work; a window that starts hundreds of searches in a day
would hold hundreds of megabytes that nobody uses. So there are few heaps for all threads, and what is free in them is
given back after work. Not while it goes on: to give back each large array as it is freed costs a photograph a third
more of the processor's time, since the system clears every page that it hands out again.
"""

from __future__ import annotations

import ctypes
import sys
import threading
import time

__all__ = ["give_back_memory", "share_heaps"]

_EVERY_SECONDS = 5.0
"""Small pieces of work end many times a second while somebody drags; looking through the heap takes milliseconds."""

_ARENA_MAX = -8
"""The setting of `mallopt` for the number of heaps, as malloc.h of the GNU C library numbers it."""
_HEAPS = 2
"""How many heaps all threads share; left alone, the library makes eight for each core."""

_lock = threading.Lock()
_last = [-_EVERY_SECONDS]


def give_back_memory() -> bool:
    """Give back what was freed, unless that was done a moment ago or the system's library has no way to. Whether it was
    done. May be called in any thread."""
    with _lock:
        if time.monotonic() - _last[0] < _EVERY_SECONDS:
            return False
        _last[0] = time.monotonic()
    return _asked_of_the_library("malloc_trim", ctypes.c_size_t(0))


def share_heaps() -> bool:
    """Let all threads share few heaps; before any thread is begun. Whether the C library could be asked."""
    return _asked_of_the_library("mallopt", _ARENA_MAX, _HEAPS)


def _asked_of_the_library(name: str, *values: object) -> bool:
    """Whether the C library has this function, which is called."""
    if not sys.platform.startswith("linux"):
        return False
    try:
        function = getattr(ctypes.CDLL(None), name)
    except (OSError, AttributeError):
        return False
    function(*values)
    return True
