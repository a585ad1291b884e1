"""Tone: one curve over every pixel.

A curve is piecewise: segment i spans signals edges[i]..edges[i+1] (as light: lights) and adds the
cubic offsets[i] in (E − edges[i]) to the signal. A pixel on a segment's upper edge belongs to it.
Offsets of zero pass light through untouched. `pq` holds m1, m2, c1, c2, c3 and the peak.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit, prange

MAX_RGB, PER_CHANNEL, LUMINANCE = 0, 1, 2


@njit(cache=True, nogil=True)
def signal_of(light: float, pq: Any) -> float:
    """Inverse PQ EOTF of light within 0..peak."""
    power = (light / pq[5]) ** pq[0]
    return ((pq[2] + pq[3] * power) / (1.0 + pq[4] * power)) ** pq[1]  # type: ignore[no-any-return]


@njit(cache=True, nogil=True)
def light_of(signal: float, pq: Any) -> float:
    """PQ EOTF; signals outside 0..1 count as 0 and 1."""
    root = min(max(signal, 0.0), 1.0) ** (1.0 / pq[1])
    ratio = max(root - pq[2], 0.0) / (pq[3] - pq[4] * root)
    return pq[5] * ratio ** (1.0 / pq[0])  # type: ignore[no-any-return]


@njit(cache=True, nogil=True)
def segment_of(light: float, lights: Any) -> int:
    """The i for which lights[i] < light ≤ lights[i+1], ends held."""
    low, high = 0, lights.shape[0] - 2
    while low < high:
        middle = (low + high) // 2
        if light > lights[middle + 1]:
            low = middle + 1
        else:
            high = middle
    return low


@njit(cache=True, nogil=True)
def toned_of(
    light: float, edges: Any, lights: Any, offsets: Any, pq: Any, sides: Any
) -> tuple[float, int]:
    """T(light), and 1 or 2 where the curve is flat there on the upper or the lower side.

    sides: the slope below which it is flat, the signal where the upper side starts, and the bits.
    """
    if light <= 0.0:
        return 0.0, 0
    beyond = light > pq[5] * (1.0 + 1e-6)  # a signal ends at the peak: flat from there, noise aside
    i = segment_of(light, lights)
    c0, c1, c2, c3 = offsets[i, 0], offsets[i, 1], offsets[i, 2], offsets[i, 3]
    if c0 == 0.0 and c1 == 0.0 and c2 == 0.0 and c3 == 0.0 and not beyond:
        return light, 0
    signal = signal_of(min(light, pq[5]), pq)
    d = signal - edges[i]
    toned = signal + (c0 + d * (c1 + d * (c2 + d * c3)))
    slope = 0.0 if beyond else 1.0 + c1 + d * (2.0 * c2 + 3.0 * d * c3)
    flag = 0
    if slope < sides[0]:
        flag = int(sides[2]) if toned >= sides[1] else int(sides[3])
    return light_of(toned, pq), flag


@njit(cache=True, nogil=True, parallel=True)
def tone_by_maximum(
    light: Any, edges: Any, lights: Any, offsets: Any, pq: Any, sides: Any, out: Any, why: Any
) -> None:
    """out = rgb·T(M)/M, M = max(rgb), 0 where M = 0; why gains the flag of T at M."""
    rows, columns = light.shape[0], light.shape[1]
    for y in prange(rows):
        for x in range(columns):
            r, g, b = light[y, x, 0], light[y, x, 1], light[y, x, 2]
            m = np.float64(max(r, g, b))
            toned, flag = toned_of(m, edges, lights, offsets, pq, sides)
            scale = toned / m if m > 0.0 else 0.0
            out[y, x, 0], out[y, x, 1], out[y, x, 2] = r * scale, g * scale, b * scale
            why[y, x] |= np.uint8(flag)


@njit(cache=True, nogil=True, parallel=True)
def tone_by_luminance(
    light: Any,
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
            luminance = weights[0] * r + weights[1] * g + weights[2] * b
            toned, flag = toned_of(luminance, edges, lights, offsets, pq, sides)
            scale = toned / luminance if luminance > 0.0 else 0.0
            out[y, x, 0], out[y, x, 1], out[y, x, 2] = r * scale, g * scale, b * scale
            why[y, x] |= np.uint8(flag)


@njit(cache=True, nogil=True, parallel=True)
def tone_by_channel(
    light: Any, edges: Any, lights: Any, offsets: Any, pq: Any, sides: Any, out: Any, why: Any
) -> None:
    """out_c = T(c), 0 where c = 0; why gains the flags of every channel."""
    rows, columns = light.shape[0], light.shape[1]
    for y in prange(rows):
        for x in range(columns):
            flags = 0
            for c in range(3):
                value = np.float64(light[y, x, c])
                toned, flag = toned_of(value, edges, lights, offsets, pq, sides)
                out[y, x, c] = toned
                flags |= flag
            why[y, x] |= np.uint8(flags)
