"""Tables that the fused kernels look up by the bits of a float: start and rise of each slice."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from emulate._kernels import row
from emulate._kernels.lookups import Slices
from emulate._kernels.slices import EXACT
from emulate._kernels.tone import scales_of
from emulate.panel.cause import Cause
from emulate.panel.curves import FLAT, Curve
from emulate.panel.tracking import Tracking
from emulate.sight import steps_from_light
from emulate.transfer import PQ_CONSTANTS, light_from_pq, pq_from_light
from emulate.values import Numbers, Pixels, locked, numbers

OFF = 2.5e-5  # share of light a table may miss its function by, half-way: a quarter of the bound
HIGHEST = 2.0 ** (row.LIGHT.low + row.LIGHT.octaves)  # cd/m², where tables end: 1.6 times PQ's
FAINT = 1e-7  # cd/m² that may be missed below the tables, where no screen shows anything


def bounds(slices: Slices) -> Numbers:
    """Bounds (n + 1,) of all slices."""
    count = (slices.octaves << slices.split) + 1
    bits = slices.below + (np.arange(count, dtype=np.int64) << slices.rest)
    return bits.astype(np.int32).view(np.float32).astype(np.float64)


def table_of(values: Numbers) -> Pixels:
    """A function's values at the bounds of slices (..., n + 1), as the kernels look them up."""
    return locked(values.astype(np.float32))


@lru_cache(maxsize=16)
def signal_table(eotf: Callable[[Numbers], Numbers]) -> Pixels:
    """Light [cd/m²] by 1/64 + signal."""
    at = bounds(row.SIGNAL) - float(row.LIFT)
    return table_of(np.asarray(eotf(np.clip(at, 0.0, 1.0))))


@cache
def steps_table() -> Pixels:
    """J by light."""
    light = bounds(row.STEPS)
    light[0] = 0.0
    return table_of(steps_from_light(light))


@cache
def _light_bounds() -> NDArray[np.float32]:
    return locked(bounds(row.LIGHT).astype(np.float32))


@lru_cache(maxsize=8)
def tone_of(curve: Curve, acts_on: str) -> row.Tone:
    """A curve as the fused kernels take it."""
    sides = numbers([FLAT, curve.upper_side, Cause.CURVE_HIGH, Cause.CURVE_LOW])
    exact = curve.edges, light_from_pq(curve.edges), curve.offsets, PQ_CONSTANTS, sides
    at = _light_bounds()
    scales, kinds = np.empty(at.size, np.float32), np.empty(at.size - 1, np.uint8)
    scales_of(at, *exact, OFF, scales, kinds)
    below = float(at[0]) * np.array([0.5, 0.1, 0.01, 1e-4])
    if np.abs(curve.light(below) - below * scales[0]).max() > FAINT:
        kinds[0] = EXACT
    kinds[-1] = EXACT  # the last slice stands for all light above it
    scales[:-1][kinds == EXACT] = np.nan
    acts = {"max_rgb": row.BY_MAXIMUM, "per_channel": row.BY_CHANNEL, "luminance": row.BY_LUMINANCE}
    steep = _steep(at, kinds)
    return row.Tone(acts[acts_on], steep, locked(scales), locked(kinds), *map(locked, exact))


def _steep(at: NDArray[np.float32], kinds: NDArray[np.uint8]) -> tuple[np.float32, np.float32]:
    """From and to which light no slice has a flag: the longest such stretch."""
    marked = np.flatnonzero(kinds)
    edges = np.concatenate([[-1], marked, [kinds.size]])
    longest = int(np.argmax(np.diff(edges)))
    first, end = int(edges[longest]) + 1, int(edges[longest + 1])
    return np.float32(at[first] if first > 0 else 0.0), at[end]


def powers_of(unknown_gain: float, open_cdm2: float, compensation: float) -> Pixels:
    """B̂/B by B."""
    at = _light_bounds().astype(np.float64)
    share = (open_cdm2 / at) ** (1 - compensation) / unknown_gain**compensation
    return table_of(np.asarray(share))


class Tracked(NamedTuple):
    """q_c (3, n); strays: a bit for each channel that is not all one; off: the most it is off."""

    table: Pixels
    strays: int
    off: float


@lru_cache(maxsize=8)
def power_of(power: float) -> Pixels:
    """Light to the power of `power`, by light."""
    return table_of(_light_bounds().astype(np.float64) ** power)


@lru_cache(maxsize=8)
def tracking_of(tracking: Tracking) -> Tracked:
    """q_c by light (3, n)."""
    at = _light_bounds().astype(np.float64)
    levels = pq_from_light(tracking.level)
    q = np.stack([tracking.red, tracking.green, tracking.blue])
    shares = np.stack([np.interp(pq_from_light(at), levels, each) for each in q])
    middle = pq_from_light((at[1:] + at[:-1]) / 2)
    true = np.stack([np.interp(middle, levels, each) for each in q])
    off = np.abs((shares[:, 1:] + shares[:, :-1]) / 2 / true - 1).max()
    return Tracked(
        table_of(shares),
        sum(1 << c for c in range(3) if (q[c] != 1).any()),
        float(off),
    )
