"""How the kernels are compiled, and how their cache learns of an edit to what they share.

numba keys its cache on a kernel's own file and name, so it does not see an edit to a function that
the kernel calls from another file. Here the name of every kernel carries a digest of `SHARED`: an
edit there gives every kernel another name, and so another place in the cache. Kernels may call
functions of their own file and of these, and no others.
"""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from types import FunctionType, ModuleType, SimpleNamespace
from typing import Any, TypeVar

from numba import njit

from . import scalars, slices

F = TypeVar("F", bound=Callable[..., Any])


SHARED = (scalars, slices)


def digest_of(*modules: ModuleType) -> str:
    """Eight hexadecimal digits that change with the text of modules."""
    text = b"".join(Path(str(module.__file__)).read_bytes() for module in modules)
    return sha256(text).hexdigest()[:8]


def compiled(jit: Callable[[Any], Any]) -> SimpleNamespace:
    """Every function of `scalars` as `jit` makes it; they call each other's compiled twins."""
    scope = dict(vars(scalars))
    functions = {name: f for name, f in scope.items() if isinstance(f, FunctionType)}
    for name, function in functions.items():
        twin = FunctionType(function.__code__, scope, name)
        twin.__module__ = scalars.__name__
        scope[name] = jit(twin)
    return SimpleNamespace(**{name: scope[name] for name in functions})


physics = compiled(njit(nogil=True, error_model="numpy"))
"""The scalar physics as kernels on the CPU call it."""

DIGEST = digest_of(*SHARED)


def kernel(function: F) -> F:
    """A kernel on one thread, without Python's lock, kept in numba's cache."""
    return njit(cache=True, nogil=True, error_model="numpy")(_named(function))  # type: ignore[return-value]


def kernel_over_rows(function: F) -> F:
    """A kernel whose `prange` runs over rows, on as many threads as numba is set to."""
    return njit(cache=True, nogil=True, parallel=True, error_model="numpy")(_named(function))  # type: ignore[return-value]


def _named(function: F) -> F:
    function.__qualname__ = f"{function.__qualname__}_{DIGEST}"
    return function
