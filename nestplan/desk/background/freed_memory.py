"""Memory that finished work has freed, given back to the system.

The C library keeps what a thread freed for that thread's next work; a window that starts hundreds of searches in a day
would hold hundreds of megabytes that nobody uses.
"""

from __future__ import annotations

import ctypes
import sys
import threading
import time

__all__ = ["give_back_memory"]

_EVERY_SECONDS = 5.0
"""Small pieces of work end many times a second while somebody drags; looking through the heap takes milliseconds."""

_lock = threading.Lock()
_last = [-_EVERY_SECONDS]


def give_back_memory() -> bool:
    """Give back what was freed, unless that was done a moment ago or the system's library has no way to. Whether it was
    done. May be called in any thread."""
    with _lock:
        if time.monotonic() - _last[0] < _EVERY_SECONDS:
            return False
        _last[0] = time.monotonic()
    if not sys.platform.startswith("linux"):
        return False
    try:
        trim = ctypes.CDLL(None).malloc_trim
    except (OSError, AttributeError):
        return False
    trim(ctypes.c_size_t(0))
    return True
