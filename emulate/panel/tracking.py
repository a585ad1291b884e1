"""Tracking: how far each channel strays from what it was asked, by level (physics §4)."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from emulate.transfer import PQ_CONSTANTS, pq_from_light
from emulate.values import Numbers, Pixels, Value, numbers

TABLE_OFF = 1e-7  # share by which a table may miss the readings' lines half-way: float32's grain


@dataclass(frozen=True, eq=False)
class Tracking(Value):
    """q_c at rising levels [cd/m²] (n,), measured over intended; the default is 1 everywhere."""

    level: Numbers = field(default_factory=lambda: numbers([1.0]))
    red: Numbers = field(default_factory=lambda: numbers([1.0]))
    green: Numbers = field(default_factory=lambda: numbers([1.0]))
    blue: Numbers = field(default_factory=lambda: numbers([1.0]))


def tracked(light: Pixels, tracking: Tracking, out: Pixels | None = None) -> Pixels:
    """Emitted panel channels (h, w, 3) [cd/m²] times q_c at their own level.

    q_c is linear in PQ⁻¹(level) between readings and held outside. `out` may be `light`.
    """
    from emulate._kernels import colour as kernels

    emitted = np.empty_like(light) if out is None else out
    kernels.tracked(light, *compiled(tracking), emitted)
    return emitted


class Table(NamedTuple):
    """Tracking as kernels take it: q_c by slice, and the readings it comes from."""

    table: NDArray[np.float32]
    kinds: NDArray[np.uint8]
    levels: Numbers
    signals: Numbers
    shares: Numbers
    pq: Numbers


@lru_cache(maxsize=8)
def compiled(tracking: Tracking) -> Table:
    """The table of a tracking; between slices it is within TABLE_OFF of the readings' lines."""
    from emulate._kernels import colour as kernels
    from emulate._kernels import slices

    shares = np.stack([tracking.red, tracking.green, tracking.blue])
    exact = tracking.level, pq_from_light(tracking.level), shares, PQ_CONSTANTS
    table = np.empty((3, slices.COUNT + 1), np.float32)
    kinds = np.zeros((3, slices.COUNT), np.uint8)
    kernels.shares_of(slices.bounds(), *exact, TABLE_OFF, table, kinds)
    return Table(table, kinds, *exact)
