"""How kernels are compiled: the options of numba that they share."""

from __future__ import annotations

from typing import Any

__all__ = ["ALLOCATING", "FLAT"]

ALLOCATING: dict[str, Any] = {"nogil": True}
"""Options of kernels that make arrays of their own."""

FLAT: dict[str, Any] = {**ALLOCATING, "_nrt": False}
"""Options of all others. Without reference counts, which kernels that allocate nothing do not need, they run five
times as fast: a named tuple of arrays would have each of its arrays counted at every call."""
