"""Light of many zones added up under the diffuser: two small matrix products (physics §5.3).

Sums run in one fixed order, whatever the number of threads; a library's matrix product gives no
such promise.
"""

from typing import Any

import numpy as np
from numba import njit, prange

ROWS = 16  # rows a thread takes at once: they share what they read
COLUMNS = 512  # pixels added at once: 4 KiB, inside the first cache


@njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def spread_over_columns(drive: Any, over_columns: Any, banded: Any) -> None:
    """Fills banded (rows, w) with drive (rows, columns) times over_columns (columns, w)."""
    for r in prange(drive.shape[0]):
        banded[r, :] = 0.0
        for c in range(drive.shape[1]):
            share = drive[r, c]
            if share > 0.0:
                for x in range(over_columns.shape[1]):
                    banded[r, x] += share * over_columns[c, x]


@njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def spread_over_rows(banded: Any, over_rows: Any, out: Any) -> None:
    """Fills out (h, w) float32 with over_rows (h, n) times banded (n, w), zero shares skipped."""
    height, width = out.shape
    for block in prange((height + ROWS - 1) // ROWS):
        light = np.empty(COLUMNS)
        for left in range(0, width, COLUMNS):
            count = min(COLUMNS, width - left)
            for y in range(block * ROWS, min(block * ROWS + ROWS, height)):
                light[:count] = 0.0
                for r in range(over_rows.shape[1]):
                    share = over_rows[y, r]
                    if share > 0.0:
                        for x in range(count):
                            light[x] += share * banded[r, left + x]
                for x in range(count):
                    out[y, left + x] = light[x]
