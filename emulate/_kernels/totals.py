"""Running totals of integers, a register at a time.

One after another, each addition waits for the last one. Here the numbers of a register are added
up in as many steps as its count has bits, and nothing but their sum is waited for. Integers may
wrap: differences of totals do not, and no order of additions shows.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call"

from __future__ import annotations

from llvmlite import ir
from numba import types

from .compiling import inner
from .registers import LINE, alike, in_llvm, index, lanes, place, read, spread, write


@in_llvm
def _together(_context, values, _at, totals, _out, _before):
    """totals from `out` on become the running totals of a register of values, on top of `before`.

    Returns the last one. Both arrays are of one kind of integer.
    """
    kind = values.dtype

    def build(context, builder, signature, arguments):
        values, at, totals, out, before = arguments
        number, size = ir.IntType(kind.bitwidth), kind.bitwidth // 8
        register = ir.VectorType(number, LINE // size)
        source = place(context, builder, signature.args[0], values, at, register)
        total = _scanned(builder, read(builder, source, size))
        own = builder.extract_element(total, index(register.count - 1))
        first = spread(builder, register, before)
        address = place(context, builder, signature.args[2], totals, out, register)
        write(builder, builder.add(total, first), address, size)
        return builder.add(before, own)

    return kind(values, types.intp, totals, types.intp, kind), build


def _scanned(builder, total):
    """Each number of a register with all before it added: by doubling distances."""
    count, step = total.type.count, 1
    while step < count:
        before = lanes(range(count - step, 2 * count - step))
        moved = builder.shuffle_vector(alike(total.type, 0), total, before)
        total, step = builder.add(total, moved), 2 * step
    return total


@inner
def totals_of(values, count, before, totals):
    """totals (count + 1,): `before`, and `before` with the first 1, 2, … values added."""
    totals[0] = before
    together = LINE // values.itemsize
    whole = count // together
    for i in range(whole):
        before = _together(values, together * i, totals, together * i + 1, before)
    for x in range(together * whole, count):
        totals[x + 1] = totals[x] + values[x]
