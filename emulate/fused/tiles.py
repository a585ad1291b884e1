"""How a picture is cut: cells, tiles of columns that a scratch holds, bands of rows for threads."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from emulate._kernels import row
from emulate.panel.zones import Zones, zone_edges
from emulate.values import locked

Edges = NDArray[np.int64]

BANDS = 16  # of rows: enough for threads that others keep busy. Nothing is summed by band
ALIGNED = 16  # a tile's first pixel is a multiple: of chroma pairs, and of the backlight's grid


@lru_cache(maxsize=16)
def grain_edges(zones: int, extent: int, grain: int) -> tuple[Edges, Edges]:
    """Edges (n + 1,) of the grain cells of all zones along a direction, and each zone's first."""
    starts = zone_edges(zones, extent)
    cells = [np.arange(a, b, grain) for a, b in pairwise(starts)]
    firsts = np.concatenate([[0], np.cumsum([len(each) for each in cells])])[:-1]
    return locked(np.concatenate([*cells, [extent]])), locked(firsts)


@lru_cache(maxsize=16)
def plain_edges(extent: int, every: int) -> Edges:
    """Edges (n + 1,) of cells of `every` pixels, the last cut by the picture's edge."""
    return locked(np.append(np.arange(0, extent, every, dtype=np.int64), extent))


def tiles(edges: Edges, reach: int = 0) -> NDArray[np.int64]:
    """Tiles (k, 4) of whole cells: first cell, end cell, first pixel and end pixel with margins.

    Raises ValueError where a cell alone is wider than a scratch holds.
    """
    return _tiles(edges.tobytes(), reach)


@lru_cache(maxsize=16)
def _tiles(edges_bytes: bytes, reach: int) -> NDArray[np.int64]:
    edges = np.frombuffer(edges_bytes, np.int64)
    width, found, first = int(edges[-1]), [], 0
    widest = row.LONGEST - 2 * reach - ALIGNED
    even = -(-width // -(-width // widest))  # as many tiles as it takes, all about as wide
    while first < len(edges) - 1:
        start = max(int(edges[first]) - reach, 0) // ALIGNED * ALIGNED
        end = int(np.searchsorted(edges, edges[first] + even, side="left"))
        last = int(np.searchsorted(edges, start + row.LONGEST - reach, side="right")) - 1
        end = min(end, last, len(edges) - 1)
        if end <= first:
            raise ValueError(f"a cell of {edges[first + 1] - edges[first]} pixels in one tile")
        found.append((first, end, start, min(int(edges[end]) + reach, width)))
        first = end
    return locked(np.array(found, dtype=np.int64))


def bands(cells: int, pieces: int = BANDS) -> list[tuple[int, int, int]]:
    """(number, first, end) of about so many bands of whole rows of cells."""
    edges = np.unique(np.arange(pieces + 1) * cells // pieces).tolist()
    return [(i, a, b) for i, (a, b) in enumerate(pairwise(edges))]


def grain_of(zones: Zones, shape: tuple[int, int]) -> tuple[Edges, Edges, Edges, Edges]:
    """Row edges, column edges, and the first cell row and cell column of each zone."""
    rows, row_firsts = grain_edges(zones.rows, shape[0], zones.grain_px)
    columns, column_firsts = grain_edges(zones.columns, shape[1], zones.grain_px)
    return rows, columns, row_firsts, column_firsts
