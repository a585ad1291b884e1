"""Writing past the caches what is not read again soon: a line of memory is then not fetched first.

LLVM's `!nontemporal` is a hint that every processor may take or leave.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call"

from __future__ import annotations

from llvmlite import ir
from numba import types

from .compiling import inner
from .registers import F32, I32, I64, LINE, in_llvm, place, read, write

NUMBERS = LINE // 4  # float32 in one

_LINE = ir.VectorType(F32, NUMBERS)


@in_llvm
def _send(_context, out, _at, values, _source):
    """A line of out (float32) becomes as many values, past the caches, each from a place on."""

    def build(context, builder, signature, arguments):
        out, at, values, source = arguments
        line = read(builder, place(context, builder, signature.args[2], values, source, _LINE), 4)
        address = place(context, builder, signature.args[0], out, at, _LINE)
        mark = builder.module.add_metadata([ir.Constant(I32, 1)])
        write(builder, line, address, LINE).set_metadata("nontemporal", mark)
        return context.get_dummy_value()

    return types.void(out, types.intp, values, types.intp), build


@in_llvm
def _begins_line(_context, out):
    """Whether an array begins where a cache line does."""

    def build(context, builder, signature, arguments):
        data = context.make_array(signature.args[0])(context, builder, arguments[0]).data
        over = builder.and_(builder.ptrtoint(data, I64), ir.Constant(I64, LINE - 1))
        return builder.icmp_unsigned("==", over, ir.Constant(I64, 0))

    return types.boolean(out), build


@in_llvm
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
