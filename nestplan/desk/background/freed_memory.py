"""Memory that finished work has freed, given back to the system.

The C library keeps what a thread freed for that thread's next work; a window that starts hundreds of searches in a day
would hold hundreds of megabytes that nobody uses. So there are few heaps, large arrays get pages of their own, which go
back when they are freed, and the rest is given back after work.
"""

from __future__ import annotations

import ctypes
import sys
import threading
import time

__all__ = ["give_back_memory", "hold_little_memory"]

_EVERY_SECONDS = 5.0
"""Small pieces of work end many times a second while somebody drags; looking through the heap takes milliseconds."""

_MMAP_THRESHOLD, _ARENA_MAX = -3, -8
"""Settings of `mallopt`, as malloc.h of the GNU C library numbers them."""
_LARGE, _HEAPS = 1 << 20, 2
"""Bytes of an array that gets pages of its own (left alone, the library raises this up to 32 MiB as it goes); and how
many heaps all threads share (left alone, eight for each core)."""

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


def hold_little_memory() -> bool:
    """Let the C library keep less of what is freed; before any thread is begun. Whether it could be asked."""
    few = _asked_of_the_library("mallopt", _ARENA_MAX, _HEAPS)
    return few and _asked_of_the_library("mallopt", _MMAP_THRESHOLD, _LARGE)


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
