"""Light to code values, pixel by pixel."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

Array = NDArray[Any]


@njit(cache=True, nogil=True, parallel=True)
def pq_codes(light: Array, constants: Array, top: float, out: Array) -> None:
    """Full-range PQ codes 0..top of light (h, w, 3) cd/m², rounded half up: out uint16.

    constants: m1, m2, c1, c2, c3, peak of the transfer function.
    """
    m1, m2, c1, c2, c3, peak = constants
    for y in prange(out.shape[0]):
        for x in range(out.shape[1]):
            for k in range(3):
                share = min(max(float(light[y, x, k]), 0.0), peak) / peak
                power = share**m1
                signal = ((c1 + c2 * power) / (1.0 + c3 * power)) ** m2
                out[y, x, k] = np.uint16(signal * top + 0.5)


@njit(cache=True, nogil=True, parallel=True)
def steps_passed(light: Array, mix: Array, steps: Array, first: Array, out: Array) -> None:
    """How many ascending `steps` in 0..1 mix (3, 3) @ light (h, w, 3) reaches: out uint8.

    first (n + 1,): how many steps are at or below i/n, from where the count goes on.
    """
    cells = first.shape[0] - 1
    for y in prange(out.shape[0]):
        for x in range(out.shape[1]):
            r, g, b = float(light[y, x, 0]), float(light[y, x, 1]), float(light[y, x, 2])
            for k in range(3):
                share = mix[k, 0] * r + mix[k, 1] * g + mix[k, 2] * b
                share = min(max(share, 0.0), 1.0)
                count = first[int(share * cells)]
                while count < steps.shape[0] and steps[count] <= share:
                    count += 1
                out[y, x, k] = count
