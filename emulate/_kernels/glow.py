"""The backlight along a stretch of a row, from a grid of points, and how cells open before it.

Light is quintic between points, six each way (`fused.lamps`). A row of points is brought to pixels
once and kept while rows of the picture lie around it; down the picture six such rows are weighted.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call"

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from .compiling import inner
from .row import (
    A0,
    BEHIND,
    BRIGHTEST,
    DIMMEST,
    GAIN,
    LATER,
    MARGIN,
    POINTS,
    SLOT,
    TAPS,
    by_light,
)  # fmt: skip

KEPT = 8  # rows of a grid: TAPS of them are wanted, and a power of two is told by its bits
SHUT = np.float32(1e-20)  # B/B̂ where there is no light: no product of it with light is 0


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


class Glow(NamedTuple):
    """The backlight's grid along one stretch, its rows brought to pixels, as they are asked for.

    rows (2, KEPT, SLOT): B at the points down that lie around the last row, and B/B̂ there; of row
    i of the grid it is row i modulo KEPT. at (KEPT,): which row of the grid it is, −1 for none.
    """

    rows: Any
    at: Any


@inner
def dark(glow):
    """Another stretch: nothing of the last one holds."""
    for i in range(KEPT):
        glow.at[i] = -1


@inner
def _across(s, n, points, lamps, out):
    """A row of points brought to pixels, quintic between points; uses the rest of `s`."""
    step, count = lamps.step, (n + lamps.step - 1) // lamps.step + TAPS - 1
    for j in range(count):
        point = points[j]
        here = s[POINTS + j * step : POINTS + (j + 1) * step]
        for x in range(step):
            here[x] = point
    points = s[POINTS : POINTS + SLOT + TAPS * step]
    p1, p2, p3 = points[step:], points[2 * step :], points[3 * step :]
    p4, p5, w = points[4 * step :], points[5 * step :], lamps.across
    w0, w1, w2, w3, w4, w5 = w[0], w[1], w[2], w[3], w[4], w[5]
    for x in range(n):
        here = w0[x] * points[x] + w1[x] * p1[x] + w2[x] * p2[x]
        out[x] = here + w3[x] * p3[x] + w4[x] * p4[x] + w5[x] * p5[x]


@inner
def _down(s, out, n, rows, i, w, least):
    """A slot: six rows of points brought to pixels from the i-th on, weighted; at least `least`."""
    w0, w1, w2, w3, w4, w5 = w[0], w[1], w[2], w[3], w[4], w[5]
    r0, r1, r2 = rows[i % KEPT], rows[(i + 1) % KEPT], rows[(i + 2) % KEPT]
    r3, r4, r5 = rows[(i + 3) % KEPT], rows[(i + 4) % KEPT], rows[(i + 5) % KEPT]
    here = s[out : out + n]
    for x in range(n):
        light = w0 * r0[x] + w1 * r1[x] + w2 * r2[x]
        light += w3 * r3[x] + w4 * r4[x] + w5 * r5[x]
        here[x] = max(light, least)


@inner
def _brought(s, n, i, x0, lamps, glow):
    """Rows i … of the grid, brought to pixels where they are not yet."""
    first, end = x0 // lamps.step + MARGIN - 2, (x0 + n - 1) // lamps.step + MARGIN + TAPS - 2
    for j in range(i, i + TAPS):
        at = j % KEPT
        if glow.at[at] != j:
            glow.at[at] = j
            _across(s, n, lamps.grid[j, first:end], lamps, glow.rows[0, at])
            if lamps.bending:
                _across(s, n, lamps.gains[j, first:end], lamps, glow.rows[1, at])


@inner
def behind(s, n, y, x0, lamps, guessing, powers, share, glow):
    """Slots BEHIND and GAIN: B, and B/B̂ by which the cell opens, quintic between the points of a
    grid; uses A0. guessing, powers, share: of `Cell`."""
    if lamps.step == 1:
        _row_of(s, BEHIND, n, lamps.grid[y, x0 : x0 + n])
    else:
        i, w = y // lamps.step + MARGIN - 2, lamps.weights[y % lamps.step]
        _brought(s, n, i, x0, lamps, glow)
        _down(s, BEHIND, n, glow.rows[0], i, w, np.float32(0.0))
        if lamps.bending:
            _down(s, GAIN, n, glow.rows[1], i, w, SHUT)
    if not lamps.bending:
        _gains(s, n, guessing, powers, share)


@inner
def later(s, n, y, x0, lamps, glow):
    """Slot LATER: B of other lamps."""
    if lamps.step == 1:
        _row_of(s, LATER, n, lamps.grid[y, x0 : x0 + n])
    else:
        i, w = y // lamps.step + MARGIN - 2, lamps.weights[y % lamps.step]
        _brought(s, n, i, x0, lamps, glow)
        _down(s, LATER, n, glow.rows[0], i, w, np.float32(0.0))


@inner
def _row_of(s, out, n, row):
    for x in range(n):
        s[out + x] = row[x]


@inner
def _gains(s, n, guessing, powers, share):
    """Slot GAIN pixel by pixel; uses A0."""
    if guessing:
        for x in range(n):
            s[A0 + x] = min(max(s[BEHIND + x], DIMMEST), BRIGHTEST)
        by_light(s, n, powers)
        for x in range(n):
            s[GAIN + x] = np.float32(1.0) / s[A0 + x]
    else:
        gain = np.float32(1.0) / share
        for x in range(n):
            s[GAIN + x] = gain
