"""The mark of a kernel, and the cache it is loaded from without making numba's compiler ready first."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property, update_wrapper
from typing import Any

from numba import njit
from numba.core.caching import FunctionCache
from numba.core.runtime import rtsys

from nestplan.nesting.arrays.kernel_compilers import InnerCompiler, OuterCompiler
from nestplan.nesting.arrays.numba_start import load_without_algebra

__all__ = ["Kernel", "kernel"]


def kernel(**options: Any) -> Callable[[Callable[..., Any]], Kernel]:
    """Makes a kernel of a function; `options` are those of numba's `njit`, see `compile_options`."""
    return lambda function: Kernel(function, options)


class Kernel:
    """A function that is compiled when it is first called, from Python or from another kernel.

    Called from Python it is taken from the cache where that has it. What only kernels call is kept within them.
    """

    def __init__(self, function: Callable[..., Any], options: dict[str, Any]) -> None:
        update_wrapper(self, function)
        self.py_func = function
        self.options = options

    def __call__(self, *arguments: Any) -> Any:
        return self._outer(*arguments)

    @property
    def signatures(self) -> list[Any]:
        """The types of arguments for which the kernel was compiled, or loaded, to be called from Python."""
        signatures: list[Any] = self._outer.signatures
        return signatures

    @cached_property
    def _outer(self) -> Any:
        made = njit(pipeline_class=OuterCompiler, no_cfunc_wrapper=True, **self.options)(self.py_func)
        # As `cache=True` does, but nothing is looked for on the disk before the kernel is called.
        made._cache = _KernelCache(self.py_func)
        return made

    @cached_property
    def _inner(self) -> Any:
        wrappers = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
        return njit(pipeline_class=InnerCompiler, **wrappers, **self.options)(self.py_func)

    @property
    def _numba_type_(self) -> Any:
        # What numba takes the name of a kernel for where another kernel calls it.
        return self._inner._numba_type_


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
