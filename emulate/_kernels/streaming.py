"""Writing past the caches what is not read again soon: a line of memory is then not fetched first.

LLVM's `!nontemporal` is a hint that every processor may take or leave.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call"

from __future__ import annotations

from llvmlite import ir
from numba import types
from numba.extending import intrinsic

from .compiling import inner

LINE = 64  # bytes of a cache line
NUMBERS = LINE // 4  # float32 in one

_NUMBERS = ir.VectorType(ir.FloatType(), NUMBERS)


def _place(context, builder, kind, array, at):
    data = context.make_array(kind)(context, builder, array).data
    return builder.bitcast(builder.gep(data, [at]), _NUMBERS.as_pointer())


@intrinsic
def _send(_context, out, at, values, source):
    """A line of out (float32) from `at` on becomes values[source …], past the caches."""

    def build(context, builder, signature, arguments):
        kinds = signature.args
        line = builder.load(_place(context, builder, kinds[2], *arguments[2:]))
        line.align = 4
        store = builder.store(line, _place(context, builder, kinds[0], *arguments[:2]))
        store.align = LINE
        mark = builder.module.add_metadata([ir.Constant(ir.IntType(32), 1)])
        store.set_metadata("nontemporal", mark)
        return context.get_dummy_value()

    return types.void(out, types.intp, values, types.intp), build


@intrinsic
def _begins_line(_context, out):
    """Whether an array of float32 begins where a cache line does."""

    def build(context, builder, signature, arguments):
        data = context.make_array(signature.args[0])(context, builder, arguments[0]).data
        place = builder.ptrtoint(data, ir.IntType(64))
        over = builder.and_(place, ir.Constant(ir.IntType(64), LINE - 1))
        return builder.icmp_unsigned("==", over, ir.Constant(ir.IntType(64), 0))

    return types.boolean(out), build


@intrinsic
def settle(_context):
    """What this thread has sent is seen by all others from here on."""

    def build(context, builder, _signature, _arguments):
        builder.fence("seq_cst")
        return context.get_dummy_value()

    return types.void(), build


@inner
def send(values, out):
    """out (n,) float32 becomes values (n,); call `settle` before another thread reads it."""
    whole = values.shape[0] // NUMBERS if _begins_line(out) else 0
    for i in range(whole):
        _send(out, NUMBERS * i, values, NUMBERS * i)
    rest, last = values[NUMBERS * whole :], out[NUMBERS * whole :]
    for x in range(rest.shape[0]):
        last[x] = rest[x]
