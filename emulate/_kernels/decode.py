"""Code values to light, pixel by pixel."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

Array = NDArray[Any]


@njit(cache=True, nogil=True)
def _tap(index: int, step: int, offset: float, last: int) -> tuple[int, int, float]:
    """The two samples around a luma position, and the weight of the second."""
    at = (index - offset) / step
    low = math.floor(at)
    weight = at - low
    first = min(max(int(low), 0), last)
    second = min(max(int(low) + 1, 0), last)
    return first, second, weight


@njit(cache=True, nogil=True)
def _taps(
    count: int, every: int, step: int, offset: float, last: int
) -> tuple[Array, Array, Array]:
    """The same for every `every`th position, `count` of them: first, second (count,), weights."""
    first, second = np.empty(count, np.int64), np.empty(count, np.int64)
    weights = np.empty(count)
    for k in range(count):
        first[k], second[k], weights[k] = _tap(k * every, step, offset, last)
    return first, second, weights


@njit(cache=True, nogil=True)
def _between_rows(
    plane: Array, top: int, low: int, down: float, lefts: Array, rights: Array, every: int
) -> Array:
    """A row between two of a plane; where some columns alone are looked at, no more than those."""
    if every == 1:
        whole: Array = (1.0 - down) * plane[top] + down * plane[low]
        return whole
    out = np.empty(plane.shape[1])
    for k in range(lefts.shape[0]):
        left, right = lefts[k], rights[k]
        out[left] = (1.0 - down) * plane[top, left] + down * plane[low, left]
        out[right] = (1.0 - down) * plane[top, right] + down * plane[low, right]
    return out


@njit(cache=True, nogil=True)
def _read(table: Array, at: float) -> float:
    """`table` at a fractional index, held at both ends; the entry itself at a whole one."""
    last = table.shape[0] - 1
    if at <= 0.0:
        return float(table[0])
    if at >= last:
        return float(table[last])
    low = int(at)
    start = float(table[low])
    return start + (at - low) * (float(table[low + 1]) - start)


@njit(cache=True, nogil=True, parallel=True)
def light_from_codes(
    first: Array,
    second: Array,
    third: Array,
    table: Array,
    mix: Array,
    base: Array,
    gamut: Array,
    offsets: Array,
    every: int,
    out: Array,
) -> None:
    """Planes (h, w) and two perhaps subsampled ones to linear light out (h, w, 3) float32.

    Index into `table` of channel c: mix[c] @ (codes − base); bilinear between chroma samples whose
    first lies offsets (rows, columns) from the first luma sample; then gamut (3, 3), negative to 0.
    out may be of every `every`th row and column alone.
    """
    height, width = first.shape
    step_y = 1 if second.shape[0] == height else 2
    step_x = 1 if second.shape[1] == width else 2
    off_y = offsets[0] if step_y == 2 else 0.0
    off_x = offsets[1] if step_x == 2 else 0.0
    lefts, rights, overs = _taps(out.shape[1], every, step_x, off_x, second.shape[1] - 1)
    for row in prange(out.shape[0]):
        y = row * every
        top, low, down = _tap(y, step_y, off_y, second.shape[0] - 1)
        blue = _between_rows(second, top, low, down, lefts, rights, every)
        red = _between_rows(third, top, low, down, lefts, rights, every)
        for column in range(out.shape[1]):
            left, right, over = lefts[column], rights[column], overs[column]
            a = float(first[y, column * every]) - base[0]
            b = (1.0 - over) * blue[left] + over * blue[right] - base[1]
            c = (1.0 - over) * red[left] + over * red[right] - base[2]
            r = _read(table, mix[0, 0] * a + mix[0, 1] * b + mix[0, 2] * c)
            g = _read(table, mix[1, 0] * a + mix[1, 1] * b + mix[1, 2] * c)
            v = _read(table, mix[2, 0] * a + mix[2, 1] * b + mix[2, 2] * c)
            for k in range(3):
                out[row, column, k] = max(gamut[k, 0] * r + gamut[k, 1] * g + gamut[k, 2] * v, 0.0)


@njit(cache=True, nogil=True, parallel=True)
def hlg_ootf(weights: Array, exponent: float, peak: float, out: Array) -> None:
    """HLG scene light 0..1 to display light [cd/m²], in place: out (h, w, 3) float32."""
    for y in prange(out.shape[0]):
        for x in range(out.shape[1]):
            luminance = (
                weights[0] * out[y, x, 0] + weights[1] * out[y, x, 1] + weights[2] * out[y, x, 2]
            )
            gain = peak * luminance**exponent if luminance > 0.0 else 0.0
            for k in range(3):
                out[y, x, k] = gain * out[y, x, k]


@njit(cache=True, nogil=True, parallel=True)
def light_from_linear(values: Array, mix: Array, negative: Array, worst: Array, out: Array) -> None:
    """Linear values (h, w, 3) to light: out = mix (3, 3) @ values, negative light to 0.

    negative (h,) int64: pixels of the row where light was below 0; worst (h,): its lowest light.
    A NaN or an infinity stays in `out` (a NaN as one, −∞ as one too) to be found by the caller.
    """
    for y in prange(out.shape[0]):
        count = 0
        lowest = 0.0
        for x in range(out.shape[1]):
            r, g, b = float(values[y, x, 0]), float(values[y, x, 1]), float(values[y, x, 2])
            below = False
            for k in range(3):
                light = mix[k, 0] * r + mix[k, 1] * g + mix[k, 2] * b
                if light < 0.0:
                    below = True
                    lowest = min(lowest, light)
                    light = 0.0 if light > -math.inf else math.nan
                out[y, x, k] = light
            count += below
        negative[y] = count
        worst[y] = lowest


@njit(cache=True, nogil=True, parallel=True)
def light_from_signals(signals: Array, table: Array, gamut: Array, out: Array) -> None:
    """R′G′B′ signals 0..1 (h, w, 3) through a table of light over 0..1, then gamut (3, 3)."""
    last = table.shape[0] - 1
    for y in prange(out.shape[0]):
        for x in range(out.shape[1]):
            r = _read(table, signals[y, x, 0] * last)
            g = _read(table, signals[y, x, 1] * last)
            v = _read(table, signals[y, x, 2] * last)
            for k in range(3):
                out[y, x, k] = max(gamut[k, 0] * r + gamut[k, 1] * g + gamut[k, 2] * v, 0.0)
