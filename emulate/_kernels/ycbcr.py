"""Light or signal to Y′CbCr code values, pixel by pixel."""

from __future__ import annotations

import math
from typing import Any

from numba import njit, prange


@njit(cache=True, nogil=True, parallel=True)
def pq_signals(light: Any, pq: Any, out: Any) -> None:
    """PQ signal out (h, w, 3) float64 of light (h, w, 3); pq: m1, m2, c1, c2, c3, peak."""
    for y in prange(light.shape[0]):
        for x in range(light.shape[1]):
            for k in range(3):
                share = min(max(float(light[y, x, k]), 0.0), pq[5]) / pq[5]
                power = share ** pq[0]
                out[y, x, k] = ((pq[2] + pq[3] * power) / (1.0 + pq[4] * power)) ** pq[1]


@njit(cache=True, nogil=True, parallel=True)
def luma_codes(signals: Any, weights: Any, steps: float, black: float, out: Any) -> None:
    """Luma codes out (h, w) of signals (h, w, 3); rounded half up, which for codes is away from 0.

    weights: of red, green, blue in luma. steps: codes from black to white.
    """
    for y in prange(signals.shape[0]):
        for x in range(signals.shape[1]):
            luma = (
                weights[0] * signals[y, x, 0]
                + weights[1] * signals[y, x, 1]
                + weights[2] * signals[y, x, 2]
            )
            out[y, x] = math.floor(steps * luma + black + 0.5)


@njit(cache=True, nogil=True)
def _difference(signals: Any, weights: Any, y: int, x: int, channel: int) -> float:
    """Blue or red less luma, over its range so that it lies in −½…½, edges held."""
    row = min(max(y, 0), signals.shape[0] - 1)
    column = min(max(x, 0), signals.shape[1] - 1)
    luma = (
        weights[0] * signals[row, column, 0]
        + weights[1] * signals[row, column, 1]
        + weights[2] * signals[row, column, 2]
    )
    return float((signals[row, column, channel] - luma) / (2.0 * (1.0 - weights[channel])))


@njit(cache=True, nogil=True, parallel=True)
def chroma_codes(
    signals: Any,
    weights: Any,
    channel: int,
    down: Any,
    across: Any,
    steps: float,
    neutral: float,
    out: Any,
) -> None:
    """Chroma codes out (rows, columns) of signals (h, w, 3).

    channel: 2 for Cb, 0 for Cr. down, across: weights of the samples −1, 0 and 1 from the first of
    each block; a block's size follows from the shapes.
    """
    step_y = -(-signals.shape[0] // out.shape[0])
    step_x = -(-signals.shape[1] // out.shape[1])
    for y in prange(out.shape[0]):
        for x in range(out.shape[1]):
            mean = 0.0
            for i in range(3):
                for j in range(3):
                    weight = down[i] * across[j]
                    if weight > 0.0:
                        mean += weight * _difference(
                            signals, weights, step_y * y + i - 1, step_x * x + j - 1, channel
                        )
            out[y, x] = math.floor(steps * mean + neutral + 0.5)
