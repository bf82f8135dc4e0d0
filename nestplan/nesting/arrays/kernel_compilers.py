"""How numba compiles a kernel for Python to call, and one for kernels that call it: without work that nothing needs.

numba compiles each function to machine code of its own, although its callers hold copies of it, and optimizes it
three times: its functions, then all that it calls in two rounds, of which the first only prepares the pruning of
reference counts. Kernels count no references; one round gives code as quick.
"""

from __future__ import annotations

from typing import Any

from numba.core.codegen import JITCodeLibrary
from numba.core.compiler import Compiler

__all__ = ["InnerCompiler", "OuterCompiler"]


class OuterCompiler(Compiler):  # type: ignore[misc]
    """Compiles a kernel that Python calls, with all that it calls, to machine code that can be kept in the cache."""

    def define_pipelines(self) -> Any:
        """The steps of compiling, of numba; the code comes into a library of ours."""
        self.state.library = _OuterLibrary(self.state.targetctx.codegen(), self.state.func_id.func_qualname)
        self.state.library.enable_object_caching()
        return super().define_pipelines()


class InnerCompiler(Compiler):  # type: ignore[misc]
    """Compiles a kernel that kernels call to what LLVM copies into them, no further."""

    def define_pipelines(self) -> Any:
        """The steps of compiling, of numba; the code comes into a library of ours."""
        self.state.library = _InnerLibrary(self.state.targetctx.codegen(), self.state.func_id.func_qualname)
        return super().define_pipelines()


class _OuterLibrary(JITCodeLibrary):  # type: ignore[misc]
    def _optimize_functions(self, ll_module: Any) -> None:
        ll_module.data_layout = self._codegen._data_layout

    def _optimize_final_module(self) -> None:
        made = self._codegen._module_pass_manager()
        # Since numba 0.62 with its builder, which the passes want beside the module.
        passes, *builder = made if isinstance(made, tuple) else (made,)
        passes.run(self._final_module, *builder)


class _InnerLibrary(_OuterLibrary):
    @property
    def codegen(self) -> Any:
        return _NoEnvironment

    def get_pointer_to_function(self, name: str) -> int:
        return 0

    def _finalize_final_module(self) -> None:
        self._finalize_dynamic_globals()
        self._verify_declare_only_symbols()
        self._finalized = True


class _NoEnvironment:
    """Takes the place of a code generator for what numba does with finished machine code, of which there is none."""

    @staticmethod
    def set_env(name: str, environment: object) -> None:
        """Nothing: a kernel's environment belongs to the caller's machine code."""
