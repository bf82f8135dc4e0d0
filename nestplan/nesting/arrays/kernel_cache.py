"""The mark of a kernel, and the cache it is loaded from without making numba's compiler ready first."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from numba import njit
from numba.core.caching import FunctionCache
from numba.core.runtime import rtsys

from nestplan.nesting.arrays.numba_start import load_without_algebra

__all__ = ["kernel"]


def kernel(**options: Any) -> Callable[[Callable[..., Any]], Any]:
    """Compiles a function when it is first called, or takes it from the cache; `options` are those of numba's `njit`,
    see `compile_options`."""

    def compiled(function: Callable[..., Any]) -> Any:
        made = njit(**options)(function)
        # As `cache=True` does, but nothing is looked for on the disk before the kernel is called.
        made._cache = _KernelCache(function)
        return made

    return compiled


class _KernelCache:
    """What `numba.core.caching.FunctionCache` is to a kernel, opened when it is first asked for something."""

    def __init__(self, function: Callable[..., Any]) -> None:
        self._function = function

    def __getattr__(self, name: str) -> Any:
        # Asked for what is not here: all that numba's own cache can do.
        if name == "_opened":
            self._opened = FunctionCache(self._function)
            return self._opened
        return getattr(self._opened, name)

    def load_overload(self, signature: Any, target: Any) -> Any:
        """The compiled kernel for a signature, None if the cache has none.

        numba would load and enter all it can compile beforehand, which takes half as long as loading numba itself.
        What is in the cache needs the runtime for arrays alone; where a kernel must be compiled, numba makes itself
        ready afterwards.
        """
        rtsys.initialize(target)
        with self._opened._guard_against_spurious_io_errors():
            found = self._opened._load_overload(signature, target)
        if found is None:
            load_without_algebra()
        return found
