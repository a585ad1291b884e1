"""First pass on the card: what zones see of the light asked of the panel (physics §5.2)."""

# mypy: disable-error-code="no-untyped-def"

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numba import cuda

from emulate.cuda.compiling import kernel
from emulate.cuda.pixel import F, Kind, U, Z, pixel_of

ACROSS, DOWN = 32, 4  # cells a block takes
ZONE_THREADS = 64

MAXIMUM, SUM = 0, 1  # what of a pixel is added up: its largest channel, or all three


@lru_cache(maxsize=16)
def cell_sums(kind: Kind, adding: int) -> Any:
    """A kernel: sums (n·m,) float32 over each cell of what `adding` says of the light asked.

    rows (n + 1,), columns (m + 1,) int32: edges of the cells. One thread a cell.
    """
    pixel = pixel_of(kind)
    fetched, reference, asked = pixel.fetched, pixel.reference, pixel.asked

    @kernel
    def over_cells(planes, reading, rows, columns, count, sums):
        c = Z(cuda.blockIdx.x * cuda.blockDim.x + cuda.threadIdx.x)
        r = Z(cuda.blockIdx.y * cuda.blockDim.y + cuda.threadIdx.y)
        if r >= count[0] or c >= count[1]:
            return
        total = F(0.0)
        y, bottom = Z(rows[r]), Z(rows[r + 1])
        left, right = Z(columns[c]), Z(columns[c + 1])
        while y < bottom:
            x = left
            while x < right:
                i, j, k = fetched(y, x, planes, reading)
                red, green, blue, code = reference(i, j, k, reading)
                p, q, s, _, _ = asked(red, green, blue, code, reading)
                if adding == SUM:
                    total += p + q + s
                else:
                    total += max(max(p, q), s)
                x = Z(x + 1)
            y = Z(y + 1)
        sums[U(r * count[1] + c)] = total

    return over_cells


@lru_cache(maxsize=1)
def zone_statistics() -> Any:
    """A kernel: out (2, rows·columns): largest mean of a cell, and mean, of each zone; one block a
    zone. row_firsts, column_firsts: first cell of each zone, and the end. Fixed order of adding."""

    @kernel
    def over_zones(sums, rows, columns, row_firsts, column_firsts, count, out):
        t = Z(cuda.threadIdx.x)
        r, c = Z(cuda.blockIdx.y), Z(cuda.blockIdx.x)
        peaks = cuda.shared.array(ZONE_THREADS, np.float32)
        totals = cuda.shared.array(ZONE_THREADS, np.float32)
        top, bottom = Z(row_firsts[r]), Z(row_firsts[r + 1])
        left, right = Z(column_firsts[c]), Z(column_firsts[c + 1])
        wide = Z(right - left)
        peak, total = F(0.0), F(0.0)
        k = t
        while k < Z(wide * Z(bottom - top)):
            i, j = Z(top + k // wide), Z(left + k % wide)
            area = F(Z(rows[i + 1] - rows[i])) * F(Z(columns[j + 1] - columns[j]))
            here = sums[U(i * count[1] + j)]
            peak = max(peak, here / area)
            total += here
            k = Z(k + ZONE_THREADS)
        peaks[t], totals[t] = peak, total
        cuda.syncthreads()
        half = Z(ZONE_THREADS // 2)
        while half > 0:
            if t < half:
                peaks[t] = max(peaks[t], peaks[t + half])
                totals[t] += totals[t + half]
            cuda.syncthreads()
            half = Z(half >> 1)
        if t == 0:
            high = F(Z(rows[bottom] - rows[top]))
            whole = high * F(Z(columns[right] - columns[left]))
            zone = U(r * Z(cuda.gridDim.x) + c)
            zones = U(Z(cuda.gridDim.x) * Z(cuda.gridDim.y))
            out[zone] = peaks[0]
            out[U(zones + zone)] = totals[0] / whole

    return over_zones
