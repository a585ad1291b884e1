"""Running totals of integers, a register at a time.

One after another, each addition waits for the last one. Here the numbers of a register are added
up in as many steps as its count has bits, and nothing but their sum is waited for. Integers
may wrap: differences of totals do not, and no order of additions shows.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call"

from __future__ import annotations

from llvmlite import ir
from numba import types
from numba.extending import intrinsic

from .compiling import inner

LINE = 64  # bytes of a register, where the processor has such; others take several


@intrinsic
def _together(_context, values, at, totals, out, before):
    """totals[out …] become the running totals of a register of values[at …] on top of `before`.

    Returns the last one. Both arrays are of one kind of integer.
    """
    kind = values.dtype
    count = LINE * 8 // kind.bitwidth

    def build(context, builder, signature, arguments):
        number = ir.IntType(kind.bitwidth)
        several = ir.VectorType(number, count)

        def place(which, array, index):
            data = context.make_array(signature.args[which])(context, builder, array).data
            return builder.bitcast(builder.gep(data, [index]), several.as_pointer())

        def lanes(order):
            return ir.Constant(ir.VectorType(ir.IntType(32), count), list(order))

        none = ir.Constant(several, [0] * count)
        total = builder.load(place(0, *arguments[:2]))
        total.align = kind.bitwidth // 8
        step = 1
        while step < count:
            moved = builder.shuffle_vector(none, total, lanes(range(count - step, 2 * count - step)))
            total, step = builder.add(total, moved), 2 * step
        own = builder.extract_element(total, ir.Constant(ir.IntType(32), count - 1))
        first = builder.insert_element(none, arguments[4], ir.Constant(ir.IntType(32), 0))
        total = builder.add(total, builder.shuffle_vector(first, none, lanes([0] * count)))
        builder.store(total, place(2, *arguments[2:4])).align = kind.bitwidth // 8
        return builder.add(arguments[4], own)

    return kind(values, types.intp, totals, types.intp, kind), build


@inner
def totals_of(values, count, before, totals):
    """totals (count + 1,): `before`, and `before` with the first 1, 2, … values added."""
    totals[0] = before
    together = LINE // values.itemsize
    whole = count // together
    for i in range(whole):
        at = together * i
        before = _together(values, at, totals, at + 1, before)
    for x in range(together * whole, count):
        totals[x + 1] = totals[x] + values[x]
