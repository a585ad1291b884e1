"""Tone: which light the panel is asked for when the reference says so much (physics §3)."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from emulate.panel.cause import Cause
from emulate.panel.curves import FLAT, Curve, measured
from emulate.transfer import LUMINANCE_2020, PQ_CONSTANTS, light_from_pq, pq_from_light
from emulate.values import Numbers, Pixels, Value, numbers

ActsOn = Literal["max_rgb", "per_channel", "luminance"]
Follows = Literal["fixed", "by_metadata", "by_frame"]

ON_FILE = "the curve on file"  # read, fitted or made up: the file may not say
TABLE_OFF = 2e-7  # share of light by which a table may miss its curve half-way: float32's own grain


@dataclass(frozen=True, eq=False)
class ToneReading(Value):
    """One measured curve: PQ signal 0..1 rising (n,), light [cd/m²] never falling (n,).

    mastering_peak [cd/m²]: the content it was measured with; 0 = whatever the content says.
    """

    mastering_peak: float
    signal: Numbers
    light: Numbers

    def curve(self) -> Curve:
        """The curve through the readings, the same object each time: tables are kept by it."""
        return _curve_through(self)

    @property
    def text(self) -> str:
        """What the curve is called in tables and captions."""
        kept = f" for {self.mastering_peak:g} cd/m² content" if self.mastering_peak else ""
        return f"{ON_FILE}{kept}"


@lru_cache(maxsize=64)
def _curve_through(reading: ToneReading) -> Curve:
    return measured(reading.signal, reading.light, reading.text)


@dataclass(frozen=True, eq=False)
class Tone(Value):
    """What the curve acts on, what it follows, and the curves measured (none: identity)."""

    acts_on: ActsOn = "max_rgb"
    policy: Follows = "fixed"
    curves: tuple[ToneReading, ...] = ()


def toned(
    light: Pixels, curve: Curve, acts_on: ActsOn = "max_rgb"
) -> tuple[Pixels, NDArray[np.uint8]]:
    """Asked light (h, w, 3) [cd/m²] in BT.2020, and why (h, w) uint8: CURVE_HIGH, CURVE_LOW.

    max_rgb: rgb·T(M)/M with M = max(rgb). per_channel: T(c). luminance: rgb·T(Y)/Y, where a channel
    may come out above the panel's peak. Black stays black. A pixel is flagged where the curve's
    slope on the PQ scale is below 0.05: HIGH in the upper half of the curve's range of V, where
    flat tops lie, LOW in the lower half; by channel, if any channel is. Light beyond 10 000 cd/m²,
    where the signal ends, counts as a flat top.
    """
    from emulate._kernels import tone as kernels

    out = np.empty_like(light)
    why = np.zeros(light.shape[:2], dtype=np.uint8)
    table = compiled(curve)
    if acts_on == "max_rgb":
        kernels.tone_by_maximum(light, *table, out, why)
    elif acts_on == "per_channel":
        kernels.tone_by_channel(light, *table, out, why)
    else:
        kernels.tone_by_luminance(light, *table, LUMINANCE_2020, out, why)
    return out, why


class Table(NamedTuple):
    """A curve as kernels take it: T(L)/L and its flag by slice, and what makes up the curve."""

    scales: NDArray[np.float32]
    kinds: NDArray[np.uint8]
    edges: Numbers
    lights: Numbers
    offsets: Numbers
    pq: Numbers
    sides: Numbers


@lru_cache(maxsize=8)
def compiled(curve: Curve) -> Table:
    """The table of a curve; between slices it is within TABLE_OFF of the curve, share of light."""
    from emulate._kernels import slices
    from emulate._kernels import tone as kernels

    sides = numbers([FLAT, curve.upper_side, Cause.CURVE_HIGH, Cause.CURVE_LOW])
    exact = curve.edges, light_from_pq(curve.edges), curve.offsets, PQ_CONSTANTS, sides
    scales, kinds = np.empty(slices.COUNT + 1, np.float32), np.empty(slices.COUNT, np.uint8)
    kernels.scales_of(slices.bounds(), *exact, TABLE_OFF, scales, kinds)
    return Table(scales, kinds, *exact)


def tone_reading(
    signal: ArrayLike, light: ArrayLike, mastering_peak: float = 0.0
) -> tuple[ToneReading, Numbers]:
    """A curve from raw readings (n,) in any order, and the spread of its repeats [cd/m²].

    Readings of one signal are averaged; the spread is their standard deviation, NaN for a single
    one. Where noise breaks the order, isotonic regression on the PQ scale, weighted by count,
    restores it.
    """
    from scipy.optimize import isotonic_regression

    levels, index, counts = np.unique(
        np.asarray(signal, dtype=np.float64), return_inverse=True, return_counts=True
    )
    values = np.asarray(light, dtype=np.float64)
    means = np.bincount(index, values) / counts
    squares = np.bincount(index, (values - means[index]) ** 2)
    with np.errstate(invalid="ignore"):
        spread = np.sqrt(squares / np.where(counts > 1, counts - 1, np.nan))
    ordered = isotonic_regression(pq_from_light(means), weights=counts).x
    kept = np.where(np.isclose(ordered, pq_from_light(means), rtol=0, atol=1e-12), means, 0.0)
    rising = np.where(kept > 0, kept, light_from_pq(ordered))
    return ToneReading(mastering_peak, numbers(levels), numbers(rising)), numbers(spread)
