"""Every kernel is cached and lets other threads run; those that allocate nothing count no references."""

from __future__ import annotations

import importlib
import pkgutil

import pytest

from nestplan.nesting import arrays
from nestplan.nesting.arrays.kernel_cache import Kernel

MODULES = [found.name for found in pkgutil.iter_modules(arrays.__path__) if found.name.endswith("kernels")]


@pytest.mark.parametrize("name", MODULES)
def test_kernels_are_compiled_with_the_shared_options(name: str) -> None:
    module = importlib.import_module(f"nestplan.nesting.arrays.{name}")
    kernels = [
        each
        for each in vars(module).values()
        if isinstance(each, Kernel) and each.__module__ == module.__name__
    ]
    assert kernels
    for kernel in kernels:
        assert kernel.options["nogil"], kernel
        assert type(kernel._outer._cache).__name__ == "_KernelCache", kernel
