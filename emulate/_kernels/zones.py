"""What each zone sees of the picture above it, in one pass over the pixels (physics §5.2)."""

from typing import Any

import numpy as np
from numba import njit, prange


@njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def zone_statistics(
    light: Any,
    open_cdm2: float,
    row_edges: Any,
    column_edges: Any,
    grain: int,
    peak: Any,
    mean: Any,
) -> None:
    """Fills peak and mean (rows, columns) of g = max(light)/open_cdm2, light (h, w, 3).

    Edges (rows + 1,) and (columns + 1,) in pixels. Peak: the largest mean of a grain×grain cell,
    counted from the zone's own corner; cells cut by the far edge average what they have.
    """
    for r in prange(row_edges.size - 1):
        for c in range(column_edges.size - 1):
            top, bottom = row_edges[r], row_edges[r + 1]
            left, right = column_edges[c], column_edges[c + 1]
            largest = 0.0
            total = 0.0
            for cell_top in range(top, bottom, grain):
                cell_bottom = min(cell_top + grain, bottom)
                for cell_left in range(left, right, grain):
                    cell_right = min(cell_left + grain, right)
                    cell = 0.0
                    for y in range(cell_top, cell_bottom):
                        for x in range(cell_left, cell_right):
                            cell += max(light[y, x, 0], light[y, x, 1], light[y, x, 2])
                    total += cell
                    pixels = (cell_bottom - cell_top) * (cell_right - cell_left)
                    largest = max(largest, cell / pixels)
            peak[r, c] = largest / open_cdm2
            mean[r, c] = total / (open_cdm2 * ((bottom - top) * (right - left)))


@njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def row_sums(light: Any, sums: Any) -> None:
    """Fills sums (h,) with each row's sum over pixels and channels of light (h, w, 3)."""
    for y in prange(light.shape[0]):
        total = 0.0
        for x in range(light.shape[1]):
            total += np.float64(light[y, x, 0]) + light[y, x, 1] + light[y, x, 2]
        sums[y] = total
