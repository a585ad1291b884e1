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
from emulate.cuda.pixel import F, U, Z

ACROSS, DOWN = 64, 2  # points a block takes


@lru_cache(maxsize=1)
def kernels() -> SimpleNamespace:
    """lit_columns, lit_rows, refined: one thread a point."""

    @kernel
    def lit_columns(drive, zones, shares, wide, weight, out):
        """out (rows·wide,): weight · drive (rows, columns) times shares (columns, wide)."""
        x = Z(cuda.blockIdx.x * cuda.blockDim.x + cuda.threadIdx.x)
        r = Z(cuda.blockIdx.y * cuda.blockDim.y + cuda.threadIdx.y)
        if x >= wide or r >= zones[0]:
            return
        total, c = F(0.0), Z(0)
        while c < zones[1]:
            total += drive[U(r * zones[1] + c)] * shares[U(c * wide + x)]
            c = Z(c + 1)
        out[U(r * wide + x)] = weight * total

    @kernel
    def lit_rows(banded, rows, shares, size, adding, out):
        """out (high·wide,): shares (rows, high) turned, times banded (rows, wide)."""
        x = Z(cuda.blockIdx.x * cuda.blockDim.x + cuda.threadIdx.x)
        y = Z(cuda.blockIdx.y * cuda.blockDim.y + cuda.threadIdx.y)
        high, wide = size
        if x >= wide or y >= high:
            return
        at = U(y * wide + x)
        total, r = out[at] if adding else F(0.0), Z(0)
        while r < rows:
            total += shares[U(r * high + y)] * banded[U(r * wide + x)]
            r = Z(r + 1)
        out[at] = total

    @kernel
    def refined(coarse, coarse_wide, ratio, ahead, weights, size, out):
        """out (high·wide,) gains a grid `ratio` times coarser; weights (ratio·6,).

        ahead: points of `out` from the coarse grid's first to its own first.
        """
        x = Z(cuda.blockIdx.x * cuda.blockDim.x + cuda.threadIdx.x)
        y = Z(cuda.blockIdx.y * cuda.blockDim.y + cuda.threadIdx.y)
        high, wide = size
        if x >= wide or y >= high:
            return
        down, over = Z(y + ahead), Z(x + ahead)
        i, j = Z(down // ratio - 2), Z(over // ratio - 2)
        phase_y, phase_x = Z((down % ratio) * TAPS), Z((over % ratio) * TAPS)
        total = F(0.0)
        for k in range(TAPS):
            line = F(0.0)
            for n in range(TAPS):
                at = U(Z(i + k) * coarse_wide + Z(j + n))
                line += weights[U(phase_x + n)] * coarse[at]
            total += weights[U(phase_y + k)] * line
        out[U(y * wide + x)] += total

    return SimpleNamespace(lit_columns=lit_columns, lit_rows=lit_rows, refined=refined)
