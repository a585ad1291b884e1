"""Parts of kernels compiled with as little work as numba can be brought to; private to numba 0.68.

numba optimises every function by itself, emits it, and does both again where a kernel takes it in.
It has no option for less, so this reaches into it: `compiling` opens this room for the numba that
it was written for alone, and lets others go their own, longer way to the same code.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from numba.core.codegen import JITCodeLibrary
from numba.core.compiler import CompilerBase, DefaultPassBuilder, Flags


class _Loose(JITCodeLibrary):
    """The code of a part, for kernels to take in: neither optimised nor made to run by itself."""

    codegen = SimpleNamespace(set_env=lambda *_: None)

    def get_pointer_to_function(self, _name: str) -> int:
        return 0

    def _optimize_final_module(self) -> None:
        pass

    def _finalize_final_module(self) -> None:
        self._finalized = True


class Parts(CompilerBase):
    """numba's own compiler, but for where it puts what it made."""

    def define_pipelines(self) -> list[Any]:
        """As numba's own."""
        state = self.state
        library = _Loose(state.targetctx.codegen(), state.func_id.func_qualname)  # type: ignore[no-untyped-call]
        state.library = library
        return [DefaultPassBuilder.define_nopython_pipeline(state)]  # type: ignore[no-untyped-call]


def flags_at_hand() -> None:
    """numba's flags from a table: the same, in a tenth of the time; `question_pass` asks 170 000
    times. For a process of our own: it changes numba for all who use it there."""
    defaults = {name: option.default for name, option in Flags.options.items()}
    Flags.values = lambda self: {**defaults, **self._values}  # type: ignore[method-assign]
