"""How kernels for the card are compiled, and whether there is a card."""

from __future__ import annotations

from functools import cache
from types import FunctionType, SimpleNamespace
from typing import Any

import numpy as np

from emulate._kernels import scalars
from emulate.errors import RequestError
from emulate.transfer import PQ_CONSTANTS

NEAR = tuple(np.float32(each) for each in scalars.near_constants(PQ_CONSTANTS))
"""What `scalars` takes of PQ in single precision."""

_CLOSER = {"pq_signal": "pq_signal_near", "pq_light": "pq_light_near"}  # see `physics`


def require_card() -> None:
    """Raises RequestError where numba-cuda is missing or finds no card."""
    try:
        from numba import cuda
    except ImportError as missing:  # pragma: no cover - numba itself is always installed
        raise RequestError(no_compiler()) from missing
    try:
        found = bool(cuda.is_available())
    except Exception as broken:  # whatever a driver that is half installed throws
        raise RequestError(_no_card(str(broken))) from broken
    if not found:
        raise RequestError(_no_card() if _has_compiler() else no_compiler())
    _expect_small_grids()


def _expect_small_grids() -> None:
    """numba-cuda warns of launches that leave a card idle; sums over zones are as small as that."""
    from numba import config

    vars(config)["CUDA_LOW_OCCUPANCY_WARNINGS"] = 0


def _has_compiler() -> bool:
    from importlib.util import find_spec

    return find_spec("numba_cuda") is not None


def no_compiler() -> str:
    """What to say where numba-cuda is missing."""
    return (
        'device = "cuda": numba-cuda is not installed; accepted is "cpu", or install emulate[gpu] '
        "on a machine with an NVIDIA card"
    )


def _no_card(why: str = "") -> str:
    tail = f" ({why.strip().splitlines()[0]})" if why.strip() else ""
    return (
        'device = "cuda": no NVIDIA card with a working driver is found on this machine'
        f'{tail}; accepted is "cpu"'
    )


@cache
def physics() -> SimpleNamespace:
    """The functions of `scalars` in single precision for the card.

    What calls PQ gets it in the form that is good in single precision.
    """
    scope = {name: _narrow(value) for name, value in vars(scalars).items()}
    names = [name for name, value in scope.items() if isinstance(value, FunctionType)]
    for name in names:
        function = scope[name]
        twin = FunctionType(function.__code__, scope, name)
        twin.__module__ = scalars.__name__
        scope[name] = device(twin)
    for name, other in _CLOSER.items():
        scope[name] = scope[other]
    return SimpleNamespace(**{name: scope[name] for name in names})


def device(function: Any) -> Any:
    """A function that kernels call."""
    from numba import cuda

    return cuda.jit(device=True, fastmath=True)(_narrowed(function))


def kernel(function: Any, registers: int | None = None) -> Any:
    """A kernel: powers, logarithms and divisions by the card's own units, to 2⁻²² or so.

    registers: of a thread at most; None leaves it to the compiler.
    """
    from numba import config, cuda

    simulated = bool(config.ENABLE_CUDASIM)  # type: ignore[attr-defined]
    options = {} if registers is None or simulated else {"max_registers": registers}
    return cuda.jit(fastmath=True, **options)(_narrowed(function))


def _narrowed(function: Any) -> Any:
    """The same function with its constants in single precision, so that nothing widens."""
    constants = tuple(map(_narrow, function.__code__.co_consts))
    code = function.__code__.replace(co_consts=constants)
    twin = FunctionType(code, function.__globals__, function.__name__, None, function.__closure__)
    twin.__module__ = function.__module__
    return twin


def _narrow(value: Any) -> Any:
    return np.float32(value) if isinstance(value, float) else value
