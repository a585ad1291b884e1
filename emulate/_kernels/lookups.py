"""Functions from tables, by the bits of a float32, eight numbers at a time.

A table holds a function at the bounds of equal slices of every octave of float32 from 2^low on;
between two bounds it is linear, before the first and after the last it is held. A NaN at a bound
says that on both sides of it the function must be asked itself.

LLVM makes such a loop one number at a time: an address is no vector. Here the slices and the places
in them are found for eight at once, both bounds come by one load of 64 bits, and the rest is done
for eight again: two thirds of the time, to the same bits.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call"

from __future__ import annotations

import sys
from functools import cache
from typing import Any, NamedTuple

import numpy as np
from llvmlite import ir
from numba import types

from .compiling import inner
from .registers import F32, I32, I64, ONCE, alike, in_llvm, index, lanes, place, read, write

EIGHT = 8
_NUMBERS, _BITS = ir.VectorType(F32, EIGHT), ir.VectorType(I32, EIGHT)
_HALF = ir.VectorType(I64, EIGHT // 2)
_LITTLE = sys.byteorder == "little"


class Slices(NamedTuple):
    """How float32 is cut: 2^split slices in each of so many octaves from 2^low on.

    most: the largest number that is looked up, where the octaves hold larger ones; 0 for none.
    """

    low: int
    split: int
    octaves: int
    most: float = 0.0

    @property
    def below(self) -> int:
        """Bits of 2^low, IEEE 754 binary32."""
        return (127 + self.low) << 23

    @property
    def rest(self) -> int:
        """Bits of a number that tell where in its slice it is."""
        return 23 - self.split

    @property
    def last(self) -> int:
        """Bits of the largest number that is looked up; what is not negative is in their order."""
        if self.most:
            return int(np.float32(self.most).view(np.int32))
        return self.below + (self.octaves << 23) - 1


@cache
def lookup(slices: Slices) -> Any:
    """A loop (s, source, out, n, table): s[out …] from a table at s[source …], n numbers."""
    eight, one = _eight_of(slices), one_of(slices)

    @inner
    def loop(s, source, out, n, table):
        whole = n // EIGHT
        for i in range(whole):
            eight(s, source + EIGHT * i, out + EIGHT * i, table)
        for x in range(EIGHT * whole, n):
            s[out + x] = one(s[source + x], table)

    return loop


@cache
def one_of(slices: Slices) -> Any:
    """A function (number, table) of the same for one number."""
    below, last, rest = np.int32(slices.below), np.int32(slices.last), np.uint32(slices.rest)
    mask, share = np.int32((1 << slices.rest) - 1), np.float32(2.0**-slices.rest)

    @inner
    def one(number, table):
        bits = np.int32(min(max(np.float32(number).view(np.int32), below), last) - below)
        at = np.uint32(bits) >> rest
        start, end = table[at], table[at + np.uint32(1)]
        return start + np.float32(np.int32(bits & mask)) * share * (end - start)

    return one


def _eight_of(slices: Slices) -> Any:
    """A function (s, source, out, table): s[out … out + 7] from the table at s[source …]."""

    @in_llvm
    def eight(_context, s, _source, _out, table):
        def build(context, builder, signature, arguments):
            array, source, out, bounds = arguments
            kind = signature.args[0]
            numbers = read(builder, place(context, builder, kind, array, source, _NUMBERS), 4)
            bounds = context.make_array(signature.args[3])(context, builder, bounds).data
            found = _eight(builder, slices, numbers, bounds)
            write(builder, found, place(context, builder, kind, array, out, _NUMBERS), 4)
            return context.get_dummy_value()

        return types.void(s, types.intp, types.intp, table), build

    return eight


def _eight(builder, slices, numbers, bounds):
    """The table's answer for eight numbers."""
    bits = builder.bitcast(numbers, _BITS)
    for order, bound in ((">", slices.below), ("<", slices.last)):
        held = alike(_BITS, bound)
        bits = builder.select(builder.icmp_signed(order, bits, held), bits, held)
    bits = builder.sub(bits, alike(_BITS, slices.below))
    along = builder.sitofp(builder.and_(bits, alike(_BITS, (1 << slices.rest) - 1)), _NUMBERS)
    along = builder.fmul(along, alike(_NUMBERS, 2.0**-slices.rest))
    first, second = _bounds_of(builder, builder.lshr(bits, alike(_BITS, slices.rest)), bounds)
    start, end = (
        builder.shuffle_vector(first, second, lanes(range(side, 2 * EIGHT, 2))) for side in range(2)
    )
    risen = builder.fmul(along, builder.fsub(end, start), flags=ONCE)
    return builder.fadd(start, risen, flags=ONCE)


def _bounds_of(builder, at, bounds):
    """Two registers of both bounds of each slice, side by side, each pair by one load."""
    doubled = builder.bitcast(at, _HALF)  # indices two by two: quicker to take out of a register
    loaded = []
    for i in range(EIGHT):
        both = builder.extract_element(doubled, index(i // 2))
        first = (i % 2 == 0) == _LITTLE
        low = builder.and_(both, ir.Constant(I64, 0xFFFFFFFF))
        one = low if first else builder.lshr(both, ir.Constant(I64, 32))
        address = builder.bitcast(builder.gep(bounds, [one]), I64.as_pointer())
        loaded.append(read(builder, address, 4))
    halves = []
    for some in (loaded[: EIGHT // 2], loaded[EIGHT // 2 :]):
        half = ir.Constant(_HALF, ir.Undefined)
        for i, pair in enumerate(some):
            half = builder.insert_element(half, pair, index(i))
        halves.append(builder.bitcast(half, _NUMBERS))
    return halves
