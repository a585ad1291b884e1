"""Parts of kernels written in LLVM's own terms, where its optimiser does not find the way itself.

A register here is a vector of LLVM's: a processor that has none of that width takes several.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call"

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from llvmlite import ir
from numba.extending import intrinsic

from .compiling import FUSED, Compiled

I32, I64, F32 = ir.IntType(32), ir.IntType(64), ir.FloatType()
LINE = 64  # bytes of a cache line, and of the widest register
ONCE = tuple(FUSED)  # how a product and its sum may be rounded, as everywhere in kernels


def in_llvm(function: Compiled) -> Any:
    """A function of kernels whose body is built by LLVM's builder: as `numba.extending.intrinsic`.

    It returns a signature and what builds the body; arguments that only the body needs begin with
    an underscore.
    """
    return intrinsic(function)


def place(context, builder, kind, array, at, register):
    """Where a register of an array (numba's type `kind`) lies from an index on."""
    data = context.make_array(kind)(context, builder, array).data
    return builder.bitcast(builder.gep(data, [at]), register.as_pointer())


def read(builder, address, aligned):
    """What lies at an address that is a multiple of so many bytes."""
    loaded = builder.load(address)
    loaded.align = aligned
    return loaded


def write(builder, value, address, aligned):
    """Puts a value at an address that is a multiple of so many bytes."""
    stored = builder.store(value, address)
    stored.align = aligned
    return stored


def alike(register, value):
    """A register of one number, over and over."""
    return ir.Constant(register, [value] * register.count)


def spread(builder, register, value):
    """A register of one number that is known at run time."""
    first = builder.insert_element(ir.Constant(register, ir.Undefined), value, index(0))
    return builder.shuffle_vector(first, first, lanes([0] * register.count))


def lanes(order: Iterable[int]) -> Any:
    """Which numbers of two registers, side by side, a shuffle takes."""
    places = list(order)
    return ir.Constant(ir.VectorType(I32, len(places)), places)


def index(value: int) -> Any:
    """A place in a register."""
    return ir.Constant(I32, value)
