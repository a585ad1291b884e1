"""Mosaic: what each zone sees of a stimulus, exact at full resolution, no picture painted.

A stimulus is rectangles, so its light is constant on a few bands of rows by a few bands of columns.
Means over zones and over grains are then products with how much of each band they cover.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from emulate.panel.zones import Statistics, Zones, zone_edges
from emulate.readings.stimulus import Patch, Stimulus
from emulate.transfer import light_from_pq
from emulate.values import Numbers, Value

Edges = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Mosaic(Value):
    """rows (m + 1,) and columns (k + 1,): edges of bands in pixels; light (m, k, 3) [cd/m²]."""

    rows: Edges
    columns: Edges
    light: Numbers

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns in pixels."""
        return int(self.rows[-1]), int(self.columns[-1])

    def mean(self, open_cdm2: float) -> float:
        """Mean over pixels of (R + G + B)/(3·L_open), each channel cut at L_open."""
        cut = np.minimum(self.light, open_cdm2).mean(axis=-1) / open_cdm2
        return float(np.diff(self.rows) @ cut @ np.diff(self.columns)) / np.prod(self.shape)


def mosaic_of(stimulus: Stimulus, patches: Sequence[Patch] | None = None) -> Mosaic:
    """The stimulus as bands; `patches`: what is lit, None = as in a still."""
    lit = stimulus.patches if patches is None else patches
    rows = _bands([(p.top, p.top + p.height) for p in lit], stimulus.shape[0])
    columns = _bands([(p.left, p.left + p.width) for p in lit], stimulus.shape[1])
    signal = np.empty((len(rows) - 1, len(columns) - 1, 3))
    signal[:] = stimulus.background
    for patch in lit:
        down = np.searchsorted(rows, [patch.top, patch.top + patch.height])
        across = np.searchsorted(columns, [patch.left, patch.left + patch.width])
        signal[down[0] : down[1], across[0] : across[1]] = patch.signal
    return Mosaic(rows, columns, light_from_pq(signal))


def seen_by(mosaic: Mosaic, zones: Zones, open_cdm2: float) -> Statistics:
    """What each zone sees (rows, columns) of a mosaic asked for as it is, cut at open_cdm2."""
    share = np.minimum(mosaic.light.max(axis=-1), open_cdm2) / open_cdm2
    height, width = mosaic.shape
    down, across = zone_edges(zones.rows, height), zone_edges(zones.columns, width)
    means = _cover(down[:-1], down[1:], mosaic.rows) @ share
    means = means @ _cover(across[:-1], across[1:], mosaic.columns).T
    row_grains, row_firsts = _grains(down, zones.grain_px, mosaic.rows)
    column_grains, column_firsts = _grains(across, zones.grain_px, mosaic.columns)
    grains = row_grains @ share @ column_grains.T
    peaks = np.maximum.reduceat(grains, row_firsts, axis=0)
    return Statistics(np.maximum.reduceat(peaks, column_firsts, axis=1), means)


def _bands(intervals: Sequence[tuple[int, int]], extent: int) -> Edges:
    """Edges of the bands that intervals, cut to the picture, part it into."""
    edges = {0, extent} | {min(max(edge, 0), extent) for pair in intervals for edge in pair}
    return np.array(sorted(edges), dtype=np.int64)


def _cover(starts: Edges, ends: Edges, bands: Edges) -> Numbers:
    """Share of each interval (n,) that each band covers: (n, bands)."""
    low = np.maximum(starts[:, None], bands[:-1])
    high = np.minimum(ends[:, None], bands[1:])
    return np.asarray(np.maximum(high - low, 0) / (ends - starts)[:, None])


def _grains(zone: Edges, size: int, bands: Edges) -> tuple[Numbers, NDArray[np.intp]]:
    """Cover of each zone's grains that differ from the one before, and each zone's first."""
    starts = np.concatenate([np.arange(a, b, size) for a, b in pairwise(zone)])
    of_zone = np.searchsorted(zone, starts, side="right") - 1
    cover = _cover(starts, np.minimum(starts + size, zone[of_zone + 1]), bands)
    fresh = np.ones(len(starts), dtype=bool)
    fresh[1:] = (np.diff(of_zone) > 0) | (cover[1:] != cover[:-1]).any(axis=1)
    return cover[fresh], np.searchsorted(of_zone[fresh], np.arange(len(zone) - 1))
