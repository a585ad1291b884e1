"""How the kernels are compiled, and how their cache learns of an edit to what they share.

numba keys its cache on a kernel's own file and name, so it does not see an edit to a function that
the kernel calls from another file. Here the name of every kernel carries a digest of `SHARED`: an
edit there gives every kernel another name, and so another place in the cache. A kernel may call
functions of its own file and of these; what else it calls it names (`kernel_using`).
"""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from types import FunctionType, ModuleType, SimpleNamespace
from typing import Any

from numba import __version__, njit

from . import scalars, slices

Compiled = Callable[..., Any]  # how type checkers see a kernel: what it takes, its docstring says


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


_BARE: dict[str, Any] = {"no_cfunc_wrapper": True}

physics = compiled(njit(nogil=True, error_model="numpy", **_BARE))
"""The scalar physics as kernels on the CPU call it."""

DIGEST = digest_of(*SHARED)

FUSED = {"contract"}
"""a·b + c rounded once, where the processor can: the one liberty that leaves NaN and order be."""


KNOWN = __version__.startswith("0.68.")
"""Whether this is the numba that `parts` was written for."""


def _by_parts() -> dict[str, Any]:
    if not KNOWN:
        return {}
    from .parts import Parts

    return {"pipeline_class": Parts}


def inner(function: Compiled) -> Compiled:
    """A part of kernels, compiled into each of them: only they can call it. It owns no array."""
    return _made(function, no_cpython_wrapper=True, **_by_parts())


def woven(function: Compiled) -> Compiled:
    """A part whose lines become lines of its callers before anything is compiled.

    For one that is little but calls of others: there is nothing of its own to be compiled once.
    """
    return _made(function, no_cpython_wrapper=True, inline="always")


def kernel(function: Compiled) -> Compiled:
    """A kernel on one thread, without Python's lock, kept in numba's cache. It owns no array."""
    return _made(_named(function), cache=True)


def kernel_over_rows(function: Compiled) -> Compiled:
    """A kernel whose `prange` runs over rows, on as many threads as numba is set to."""
    options: dict[str, Any] = {"cache": True, "parallel": True}
    made: Compiled = njit(nogil=True, error_model="numpy", **options)(_named(function))
    return made


def _made(function: Compiled, **options: Any) -> Compiled:
    """Without counts of who holds an array, nor a door for C: both cost time when compiling."""
    options |= {"_nrt": False, "no_cfunc_wrapper": True, "fastmath": FUSED}
    made: Compiled = njit(nogil=True, error_model="numpy", **options)(function)
    return made


def kernel_using(*modules: ModuleType) -> Callable[[Compiled], Compiled]:
    """As `kernel`, for one that calls functions of these modules too."""
    return lambda function: kernel(_named(function, digest_of(*modules)))


def _named(function: Compiled, digest: str = DIGEST) -> Compiled:
    function.__qualname__ = f"{function.__qualname__}_{digest}"
    return function
