"""Makes numba's compiler ready without SciPy's linear algebra, which no kernel uses and whose loading takes long."""

from __future__ import annotations

import importlib

__all__ = ["load_without_algebra"]


def load_without_algebra() -> None:
    """Import what numba needs to compile kernels; SciPy stays unloaded unless something else asks for it.

    `numba.np.arraymath` looks once, when it is first loaded, whether SciPy's BLAS is there, for products of whole
    arrays such as `np.inner`, and thereby loads SciPy's linear algebra. It is told that there is none: such products
    would be plain loops then, and results are the same.
    """
    algebra = importlib.import_module("numba.np.linalg")
    ensure_blas = getattr(algebra, "ensure_blas", None)
    if ensure_blas is None:
        return
    algebra.__dict__["ensure_blas"] = _no_blas
    try:
        importlib.import_module("numba.np.arraymath")
    finally:
        algebra.__dict__["ensure_blas"] = ensure_blas


def _no_blas() -> None:
    raise ImportError("The kernels of nestplan multiply no arrays.")
