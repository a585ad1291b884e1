"""The backlight's grid on the card: two products of small matrices, and quintics between points.

What each kernel does is what its namesake in `_kernels.fused` does (physics §5.3).
"""

# mypy: disable-error-code="no-untyped-def"

from __future__ import annotations

from functools import lru_cache
from types import SimpleNamespace

from numba import cuda

from emulate._kernels.row import TAPS
from emulate.cuda.compiling import kernel
from emulate.cuda.pixel import F, I, U

ACROSS, DOWN = 64, 2  # points a block takes


@lru_cache(maxsize=1)
def kernels() -> SimpleNamespace:
    """lit_columns, lit_rows, refined: one thread a point."""

    @kernel
    def lit_columns(drive, zones, shares, wide, weight, out):
        """out (rows·wide,): weight · drive (rows, columns) times shares (columns, wide)."""
        x = I(cuda.blockIdx.x * cuda.blockDim.x + cuda.threadIdx.x)
        r = I(cuda.blockIdx.y * cuda.blockDim.y + cuda.threadIdx.y)
        if x >= wide or r >= zones[0]:
            return
        total, c = F(0.0), I(0)
        while c < zones[1]:
            total += drive[U(r * zones[1] + c)] * shares[U(c * wide + x)]
            c = I(c + 1)
        out[U(r * wide + x)] = weight * total

    @kernel
    def lit_rows(banded, rows, shares, size, adding, out):
        """out (high·wide,): shares (rows, high) turned, times banded (rows, wide)."""
        x = I(cuda.blockIdx.x * cuda.blockDim.x + cuda.threadIdx.x)
        y = I(cuda.blockIdx.y * cuda.blockDim.y + cuda.threadIdx.y)
        high, wide = size
        if x >= wide or y >= high:
            return
        at = U(y * wide + x)
        total, r = out[at] if adding else F(0.0), I(0)
        while r < rows:
            total += shares[U(r * high + y)] * banded[U(r * wide + x)]
            r = I(r + 1)
        out[at] = total

    @kernel
    def refined(coarse, coarse_wide, ratio, ahead, weights, size, out):
        """out (high·wide,) gains a grid `ratio` times coarser; weights (ratio·6,).

        ahead: points of `out` from the coarse grid's first to its own first.
        """
        x = I(cuda.blockIdx.x * cuda.blockDim.x + cuda.threadIdx.x)
        y = I(cuda.blockIdx.y * cuda.blockDim.y + cuda.threadIdx.y)
        high, wide = size
        if x >= wide or y >= high:
            return
        down, over = I(y + ahead), I(x + ahead)
        i, j = I(down // ratio - 2), I(over // ratio - 2)
        phase_y, phase_x = I((down % ratio) * TAPS), I((over % ratio) * TAPS)
        total = F(0.0)
        for k in range(TAPS):
            line = F(0.0)
            for n in range(TAPS):
                at = U(I(i + k) * coarse_wide + I(j + n))
                line += weights[U(phase_x + n)] * coarse[at]
            total += weights[U(phase_y + k)] * line
        out[U(y * wide + x)] += total

    return SimpleNamespace(lit_columns=lit_columns, lit_rows=lit_rows, refined=refined)
