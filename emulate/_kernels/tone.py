"""Tone: one curve over every pixel (physics §3).

A curve is (edges, lights, offsets), as `scalars.toned` takes it. Pixels look T(L)/L up in a table
of slices that `scales_of` makes once a curve; where the table says EXACT the curve itself is asked.
`pq` holds m1, m2, c1, c2, c3 and the peak; `sides` as in `scalars.toned`.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit, prange

from .compiling import kernel, kernel_over_rows, physics
from .slices import COUNT, EXACT, between, slice_of

_toned = physics.toned


@kernel
def scales_of(
    bounds: Any,
    edges: Any,
    lights: Any,
    offsets: Any,
    pq: Any,
    sides: Any,
    tolerance: float,
    scales: Any,
    kinds: Any,
) -> None:
    """T(L)/L at the bounds (n + 1,) of slices, and each slice's flag of T, or EXACT: kinds (n,).

    A slice is EXACT where its middle is off by more than `tolerance`, or its flag changes within.
    """
    after, flag_after = 0.0, 0
    for i in range(bounds.shape[0]):
        light = np.float64(bounds[i])
        value, flag = _toned(light, edges, lights, offsets, pq, sides)
        scales[i] = value / light
        if i > 0:
            low = np.float64(bounds[i - 1])
            middle = 0.5 * (low + light)
            value, flag_middle = _toned(middle, edges, lights, offsets, pq, sides)
            true = value / middle
            smooth = abs(0.5 * (after + scales[i]) - true) <= tolerance * true
            steady = flag_after == flag_middle and flag_middle == flag
            kinds[i - 1] = flag if smooth and steady else EXACT
        after, flag_after = scales[i], flag


@njit(nogil=True)
def _scale(
    light: Any, scales: Any, kinds: Any, edges: Any, lights: Any, offsets: Any, pq: Any, sides: Any
) -> Any:
    """T(light)/light, 0 at no light, and the flag of T."""
    if light <= 0.0:
        return np.float32(0.0), 0
    at = slice_of(light)
    if 0 <= at < COUNT and kinds[at] != EXACT:
        return between(light, at, scales), int(kinds[at])
    value, flag = _toned(np.float64(light), edges, lights, offsets, pq, sides)
    return np.float32(value / light), flag


@kernel_over_rows
def tone_by_maximum(
    light: Any,
    scales: Any,
    kinds: Any,
    edges: Any,
    lights: Any,
    offsets: Any,
    pq: Any,
    sides: Any,
    out: Any,
    why: Any,
) -> None:
    """out = rgb·T(M)/M, M = max(rgb), 0 where M = 0; why gains the flag of T at M."""
    rows, columns = light.shape[0], light.shape[1]
    for y in prange(rows):
        for x in range(columns):
            r, g, b = light[y, x, 0], light[y, x, 1], light[y, x, 2]
            m = max(r, g, b)
            scale, flag = _scale(m, scales, kinds, edges, lights, offsets, pq, sides)
            out[y, x, 0], out[y, x, 1], out[y, x, 2] = r * scale, g * scale, b * scale
            why[y, x] |= np.uint8(flag)


@kernel_over_rows
def tone_by_luminance(
    light: Any,
    scales: Any,
    kinds: Any,
    edges: Any,
    lights: Any,
    offsets: Any,
    pq: Any,
    sides: Any,
    weights: Any,
    out: Any,
    why: Any,
) -> None:
    """out = rgb·T(Y)/Y, Y = weights·rgb, 0 where Y = 0; a channel may come out above T's peak."""
    rows, columns = light.shape[0], light.shape[1]
    for y in prange(rows):
        for x in range(columns):
            r, g, b = light[y, x, 0], light[y, x, 1], light[y, x, 2]
            luminance = np.float32(weights[0] * r + weights[1] * g + weights[2] * b)
            scale, flag = _scale(luminance, scales, kinds, edges, lights, offsets, pq, sides)
            out[y, x, 0], out[y, x, 1], out[y, x, 2] = r * scale, g * scale, b * scale
            why[y, x] |= np.uint8(flag)


@kernel_over_rows
def tone_by_channel(
    light: Any,
    scales: Any,
    kinds: Any,
    edges: Any,
    lights: Any,
    offsets: Any,
    pq: Any,
    sides: Any,
    out: Any,
    why: Any,
) -> None:
    """out_c = T(c), 0 where c = 0; why gains the flags of every channel."""
    rows, columns = light.shape[0], light.shape[1]
    for y in prange(rows):
        for x in range(columns):
            flags = 0
            for c in range(3):
                value = light[y, x, c]
                scale, flag = _scale(value, scales, kinds, edges, lights, offsets, pq, sides)
                out[y, x, c] = value * scale
                flags |= flag
            why[y, x] |= np.uint8(flags)
