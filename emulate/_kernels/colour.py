"""Colour: 3×3 matrices, clipping to what a panel can make, tracking, shading, the room's light."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit, prange


@njit(cache=True, nogil=True, parallel=True)
def matrix_clipped(
    light: Any, matrix: Any, ceiling: float, tolerance: float, bit: int, out: Any, why: Any
) -> None:
    """out = matrix·light held to 0..ceiling; why gains `bit` where more than noise was cut.

    tolerance: the share of the pixel's largest channel, and of the ceiling, that counts as noise.
    """
    rows, columns = light.shape[0], light.shape[1]
    for y in prange(rows):
        for x in range(columns):
            r, g, b = light[y, x, 0], light[y, x, 1], light[y, x, 2]
            lowest = -tolerance * max(abs(r), abs(g), abs(b))
            highest = ceiling * (1.0 + tolerance)
            for c in range(3):
                value = matrix[c, 0] * r + matrix[c, 1] * g + matrix[c, 2] * b
                if value < lowest or value > highest:
                    why[y, x] |= np.uint8(bit)
                out[y, x, c] = min(max(value, 0.0), ceiling)


@njit(cache=True, nogil=True, parallel=True)
def matrix_applied(light: Any, matrix: Any, out: Any) -> None:
    """out = matrix·light; `out` may be `light`."""
    rows, columns = light.shape[0], light.shape[1]
    for y in prange(rows):
        for x in range(columns):
            r, g, b = light[y, x, 0], light[y, x, 1], light[y, x, 2]
            for c in range(3):
                out[y, x, c] = matrix[c, 0] * r + matrix[c, 1] * g + matrix[c, 2] * b


@njit(cache=True, nogil=True)
def share_at(light: float, levels: Any, signals: Any, shares: Any, pq: Any) -> float:
    """`shares` at `light`, linear in PQ⁻¹ between levels (n,), held outside."""
    last = levels.shape[0] - 1
    if light <= levels[0]:
        return shares[0]  # type: ignore[no-any-return]
    if light >= levels[last]:
        return shares[last]  # type: ignore[no-any-return]
    i = 0
    while light > levels[i + 1]:
        i += 1
    if shares[i] == shares[i + 1]:
        return shares[i]  # type: ignore[no-any-return]
    power = (light / pq[5]) ** pq[0]
    signal = ((pq[2] + pq[3] * power) / (1.0 + pq[4] * power)) ** pq[1]
    along = (signal - signals[i]) / (signals[i + 1] - signals[i])
    return shares[i] + along * (shares[i + 1] - shares[i])  # type: ignore[no-any-return]


@njit(cache=True, nogil=True, parallel=True)
def tracked(light: Any, levels: Any, signals: Any, shares: Any, pq: Any, out: Any) -> None:
    """out_c = light_c · q_c(light_c); shares (3, n) at levels (n,); `out` may be `light`."""
    rows, columns = light.shape[0], light.shape[1]
    for y in prange(rows):
        for x in range(columns):
            for c in range(3):
                value = np.float64(light[y, x, c])
                out[y, x, c] = value * share_at(value, levels, signals, shares[c], pq)


@njit(cache=True, nogil=True, parallel=True)
def shaded(light: Any, shares: Any, out: Any) -> None:
    """out = light (h, w, 3) · shares (h, w); `out` may be `light`."""
    rows, columns = light.shape[0], light.shape[1]
    for y in prange(rows):
        for x in range(columns):
            for c in range(3):
                out[y, x, c] = light[y, x, c] * shares[y, x]


@njit(cache=True, nogil=True, parallel=True)
def raised(light: Any, added: float, out: Any) -> None:
    """out = light + added in every channel; `out` may be `light`."""
    rows, columns = light.shape[0], light.shape[1]
    for y in prange(rows):
        for x in range(columns):
            for c in range(3):
                out[y, x, c] = light[y, x, c] + added
