"""The backlight along a stretch of a row, from a grid of points, and how cells open before it.

Light is quintic between points, six each way (`fused.lamps`): six rows of points are weighted to
one, and that row is brought to pixels.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call"

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from llvmlite import ir
from numba import types

from .compiling import inner
from .registers import F32, I64, ONCE, in_llvm, place, read, spread, write
from .row import (
    A0,
    BEHIND,
    GAIN,
    LATER,
    MARGIN,
    POINTS,
    ROOM,
    SLOT,
    TAPS,
    by_light,
)  # fmt: skip

SHUT = np.float32(1e-20)  # B/B̂ where there is no light: no product of it with light is 0
WIDEST = 16  # pixels between points at the most: the numbers of one register
_SIXTEEN = ir.VectorType(F32, WIDEST)


class Lamps(NamedTuple):
    """B on every `step`th pixel and MARGIN such before the first: grid; B/B̂ there: gains, where it
    is `bending`; weights (step, TAPS) of points around, and the same pixel by pixel: across (TAPS,
    SLOT)."""

    step: int
    grid: Any
    bending: int
    gains: Any
    weights: Any
    across: Any


@in_llvm
def _sixteen(_context, s, _points, _out, weights, least):
    """s[out … out + 15] from the six points at s[points …], WIDEST pixels apart.

    The weights are marked as never written, so that they stay in registers from call to call.
    """

    def build(context, builder, signature, arguments):
        array, points, out, weights, least = arguments
        kinds, never = signature.args, builder.module.add_metadata([])
        total = None
        for k in range(TAPS):
            row = ir.Constant(I64, k * SLOT)
            weight = read(builder, place(context, builder, kinds[3], weights, row, _SIXTEEN), 4)
            weight.set_metadata("invariant.load", never)
            at = builder.add(points, ir.Constant(I64, k))
            address = place(context, builder, kinds[0], array, at, F32)
            point = spread(builder, _SIXTEEN, read(builder, address, 4))
            part = builder.fmul(weight, point, flags=ONCE)
            total = part if total is None else builder.fadd(total, part, flags=ONCE)
        least = spread(builder, _SIXTEEN, least)
        light = builder.select(builder.fcmp_ordered(">", total, least), total, least)
        write(builder, light, place(context, builder, kinds[0], array, out, _SIXTEEN), 4)
        return context.get_dummy_value()

    return types.void(s, types.intp, types.intp, weights, least), build


@inner
def _down(s, y, x0, n, lamps, grid):
    """Slot ROOM: the points of a grid along row y of the picture. Returns how many."""
    first, i = x0 // lamps.step + MARGIN - 2, y // lamps.step + MARGIN - 2
    end = (x0 + n - 1) // lamps.step + MARGIN + TAPS - 2
    w = lamps.weights[y % lamps.step]
    w0, w1, w2, w3, w4, w5 = w[0], w[1], w[2], w[3], w[4], w[5]
    r0, r1, r2 = grid[i, first:end], grid[i + 1, first:end], grid[i + 2, first:end]
    r3, r4, r5 = grid[i + 3, first:end], grid[i + 4, first:end], grid[i + 5, first:end]
    here = s[ROOM : ROOM + r0.shape[0]]
    for x in range(here.shape[0]):
        light = w0 * r0[x] + w1 * r1[x] + w2 * r2[x]
        here[x] = light + w3 * r3[x] + w4 * r4[x] + w5 * r5[x]
    return r0.shape[0]


@inner
def _across(s, n, out, count, step, weights, least):
    """A slot: `count` points in slot ROOM brought to n pixels, at least `least`; uses POINTS."""
    points, here = s[ROOM : ROOM + count], s[out : out + SLOT]
    w0, w1, w2, w3, w4, w5 = (weights[0], weights[1], weights[2], weights[3], weights[4],
                              weights[5])  # fmt: skip
    if step == WIDEST:
        for j in range(count - TAPS + 1):
            _sixteen(s, ROOM + j, out + WIDEST * j, weights, least)
    else:
        for j in range(count):
            several = s[POINTS + j * step : POINTS + (j + 1) * step]
            for x in range(step):
                several[x] = points[j]
        each = s[POINTS : POINTS + SLOT + TAPS * step]
        p1, p2, p3 = each[step:], each[2 * step :], each[3 * step :]
        p4, p5 = each[4 * step :], each[5 * step :]
        for x in range(n):
            light = w0[x] * each[x] + w1[x] * p1[x] + w2[x] * p2[x]
            light += w3[x] * p3[x] + w4[x] * p4[x] + w5[x] * p5[x]
            here[x] = max(light, least)


@inner
def _brought(s, n, y, x0, lamps, grid, out, least):
    """A slot: row y of what a grid holds, from column x0 on."""
    if lamps.step == 1:
        row = grid[y, x0 : x0 + n]
        for x in range(n):
            s[out + x] = row[x]
    else:
        count = _down(s, y, x0, n, lamps, grid)
        _across(s, n, out, count, lamps.step, lamps.across, least)


@inner
def behind(s, n, y, x0, lamps, guessing, powers, share):
    """Slots BEHIND and GAIN: B, and B/B̂ by which the cell opens, quintic between the points of a
    grid; uses A0. guessing, powers, share: of `Cell`."""
    _brought(s, n, y, x0, lamps, lamps.grid, BEHIND, np.float32(0.0))
    if lamps.bending:
        _brought(s, n, y, x0, lamps, lamps.gains, GAIN, SHUT)
    else:
        _gains(s, n, guessing, powers, share)


@inner
def later(s, n, y, x0, lamps):
    """Slot LATER: B of other lamps."""
    _brought(s, n, y, x0, lamps, lamps.grid, LATER, np.float32(0.0))


@inner
def _gains(s, n, guessing, powers, share):
    """Slot GAIN pixel by pixel; uses A0."""
    if guessing:
        by_light(s, BEHIND, A0, n, powers)
        for x in range(n):
            s[GAIN + x] = np.float32(1.0) / s[A0 + x]
    else:
        gain = np.float32(1.0) / share
        for x in range(n):
            s[GAIN + x] = gain
