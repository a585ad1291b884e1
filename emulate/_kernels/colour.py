"""Colour: 3×3 matrices, clipping to what a panel can make, tracking, shading, the room's light."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import prange

from .compiling import kernel, kernel_over_rows, physics
from .slices import COUNT, EXACT, between, slice_of

_share = physics.tracking_share


@kernel_over_rows
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


@kernel_over_rows
def matrix_applied(light: Any, matrix: Any, out: Any) -> None:
    """out = matrix·light; `out` may be `light`."""
    rows, columns = light.shape[0], light.shape[1]
    for y in prange(rows):
        for x in range(columns):
            r, g, b = light[y, x, 0], light[y, x, 1], light[y, x, 2]
            for c in range(3):
                out[y, x, c] = matrix[c, 0] * r + matrix[c, 1] * g + matrix[c, 2] * b


@kernel
def shares_of(
    bounds: Any,
    levels: Any,
    signals: Any,
    shares: Any,
    pq: Any,
    tolerance: float,
    out: Any,
    kinds: Any,
) -> None:
    """q_c at the bounds (n + 1,) of slices: out (3, n + 1); kinds (3, n): EXACT or 0."""
    for c in range(3):
        for i in range(bounds.shape[0]):
            light = np.float64(bounds[i])
            out[c, i] = _share(light, levels, signals, shares[c], pq)
        for i in range(bounds.shape[0] - 1):
            middle = 0.5 * (np.float64(bounds[i]) + bounds[i + 1])
            true = _share(middle, levels, signals, shares[c], pq)
            if abs(0.5 * (out[c, i] + out[c, i + 1]) - true) > tolerance * true:
                kinds[c, i] = EXACT


@kernel_over_rows
def tracked(
    light: Any, table: Any, kinds: Any, levels: Any, signals: Any, shares: Any, pq: Any, out: Any
) -> None:
    """out_c = light_c · q_c(light_c); table and kinds of `shares_of`; `out` may be `light`."""
    rows, columns = light.shape[0], light.shape[1]
    for y in prange(rows):
        for x in range(columns):
            for c in range(3):
                value = light[y, x, c]
                at = slice_of(max(value, np.float32(0.0)))
                if 0 <= at < COUNT and kinds[c, at] != EXACT:
                    out[y, x, c] = value * between(value, at, table[c])
                else:
                    out[y, x, c] = value * _share(np.float64(value), levels, signals, shares[c], pq)


@kernel_over_rows
def shaded(light: Any, shares: Any, out: Any) -> None:
    """out = light (h, w, 3) · shares (h, w); `out` may be `light`."""
    rows, columns = light.shape[0], light.shape[1]
    for y in prange(rows):
        for x in range(columns):
            for c in range(3):
                out[y, x, c] = light[y, x, c] * shares[y, x]


@kernel_over_rows
def raised(light: Any, added: float, out: Any) -> None:
    """out = light + added in every channel; `out` may be `light`."""
    rows, columns = light.shape[0], light.shape[1]
    for y in prange(rows):
        for x in range(columns):
            for c in range(3):
                out[y, x, c] = light[y, x, c] + added
