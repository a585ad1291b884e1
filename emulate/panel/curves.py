"""Curves: panel light as a function of reference light (physics §3).

A curve lives on the PQ scale: it is V(E) = PQ⁻¹(T(PQ(E))), piecewise E plus a cubic. A measured
curve is PCHIP through its readings and so is held exactly; so are the hard clip and BT.2390 without
a black lift. Other closed forms are cut into pieces small enough that V is off by less than 1e-9.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from math import comb

import numpy as np
from numpy.typing import ArrayLike

from emulate.errors import RequestError
from emulate.transfer import (
    PQ_C1,
    PQ_C2,
    PQ_C3,
    PQ_M1,
    PQ_M2,
    PQ_PEAK,
    light_from_pq,
    pq_from_light,
)
from emulate.values import Numbers, Value, numbers

FLAT = 0.05  # dPQ⁻¹(T)/dE below this keeps no detail; our own definition, physics §9
BLACK = float(pq_from_light(0.0))  # where the PQ scale starts: 7.31e-7
PIECES = 512  # per smooth stretch of a closed form; gives the accuracy stated above

Stretch = tuple[float, float, Callable[[Numbers], tuple[Numbers, Numbers]], int]
"""Where a closed form holds: from E, to E, E -> (V − E, its slope), how many pieces."""


@dataclass(frozen=True, eq=False)
class Curve(Value):
    """T, reference light to panel light, non-decreasing.

    edges (n + 1,): PQ signals rising from 0 to 1. offsets (n, 4): in piece i, V(E) = E + c0 + c1·d
    + c2·d² + c3·d³ with d = E − edges[i]. text: what curve this is, for tables and captions.
    """

    text: str
    edges: Numbers
    offsets: Numbers

    def signal(self, signal: ArrayLike) -> Numbers:
        """V(E): PQ signal of the panel's light, from PQ signal 0..1 of the reference, any shape."""
        e = np.clip(np.asarray(signal, dtype=np.float64), 0.0, 1.0)
        c, d = self._pieces(e)
        return np.asarray(e + (c[..., 0] + d * (c[..., 1] + d * (c[..., 2] + d * c[..., 3]))))

    def slope(self, signal: ArrayLike) -> Numbers:
        """dPQ⁻¹(T)/dE at PQ signal 0..1, any shape; at an edge, that of the piece below it."""
        e = np.clip(np.asarray(signal, dtype=np.float64), 0.0, 1.0)
        c, d = self._pieces(e)
        return np.asarray(1.0 + c[..., 1] + d * (2 * c[..., 2] + 3 * d * c[..., 3]))

    def light(self, light: ArrayLike) -> Numbers:
        """T(L) [cd/m²] from reference light [cd/m²], any shape; what passes untouched is exact."""
        reference = np.clip(np.asarray(light, dtype=np.float64), 0.0, PQ_PEAK)
        e = pq_from_light(reference)
        untouched = ~self._pieces(e)[0].any(axis=-1)
        return np.asarray(np.where(untouched, reference, light_from_pq(self.signal(e))))

    @property
    def peak(self) -> float:
        """The most light the curve asks for [cd/m²]."""
        return float(self.light(PQ_PEAK))

    @property
    def upper_side(self) -> float:
        """V from which a flat stretch counts as the upper side: the middle of V's range."""
        low, high = self.signal([0.0, 1.0])
        return float((low + high) / 2)

    def _pieces(self, e: Numbers) -> tuple[Numbers, Numbers]:
        index = np.clip(np.searchsorted(self.edges, e, side="left") - 1, 0, len(self.offsets) - 1)
        return self.offsets[index], e - self.edges[index]


@cache
def identity() -> Curve:
    """T(L) = L, exactly."""
    return Curve("as mastered", numbers([0.0, 1.0]), numbers(np.zeros((1, 4))))


def hard_clip(peak: float) -> Curve:
    """T(L) = min(L, peak), exactly; peak [cd/m²]."""
    _require(0 < peak <= PQ_PEAK, f"hard clip at {peak} cd/m²", "a peak up to 10000 cd/m²")
    knee = float(pq_from_light(peak))
    return _held(f"clipped at {peak:g} cd/m²", np.array([0.0, knee]), np.zeros((1, 4)))


def measured(signal: ArrayLike, light: ArrayLike, text: str = "measured") -> Curve:
    """PCHIP through readings: PQ signal rising (n,), light [cd/m²] never falling (n,), n ≥ 2.

    Flat beyond the last reading. Where signal 0 was not read, the curve runs to black there.
    Fritsch and Carlson 1980 with Fritsch and Butland's slopes, by scipy.
    """
    from scipy.interpolate import PchipInterpolator

    e = np.maximum(np.asarray(signal, dtype=np.float64), BLACK)  # black light has signal BLACK
    v = pq_from_light(light)
    if e[0] > BLACK:
        e, v = np.concatenate([[BLACK], e]), np.concatenate([[BLACK], v])
    e, first = np.unique(e, return_index=True)
    cubics = PchipInterpolator(e, v[first]).c.T[:, ::-1]  # ascending powers of E − e[i]
    start = np.column_stack([e[:-1], np.ones(len(e) - 1), np.zeros((len(e) - 1, 2))])
    return _held(text, e, cubics - start)


def bt2390(
    source_peak: float, source_black: float = 0.0, peak: float = 1000.0, black: float = 0.0
) -> Curve:
    """The EETF of ITU-R BT.2390-11, 5.4.1, from source to panel range [cd/m²].

    Identity where the panel covers the source; held to the panel's range everywhere. Exact where
    the panel's black is no brighter than the source's.
    """
    name = f"BT.2390, {source_black:g}..{source_peak:g} to {black:g}..{peak:g} cd/m²"
    within = min(source_black, black) >= 0 and max(source_peak, peak) <= PQ_PEAK
    below = max(source_black, black) < source_peak and black < peak
    _require(within and below, name, "blacks below peaks, 0 to 10000 cd/m²")
    if peak >= source_peak and black <= source_black:
        return identity()
    low, high = pq_from_light([source_black, source_peak])
    span = float(high - low)
    top, lift = ((pq_from_light([peak, black]) - low) / span).tolist()
    shape = _Eetf(float(low), span, top, max(lift, 0.0), min(max(1.5 * top - 0.5, 0.0), 1.0))
    start = shape.signal_where(shape.lift) if lift > 0 else float(pq_from_light(black))
    end, knee = shape.signal_where(top), float(low) + span * shape.knee
    pieces = PIECES if lift > 0 else 1
    straight = (start, min(knee, end), shape.straight, pieces)
    return _cut(name, [straight, (max(start, knee), end, shape.rolled, pieces)])


def st2094_40(
    scene_peak: float, knee: tuple[float, float], anchors: Sequence[float], peak: float
) -> Curve:
    """The curve of SMPTE ST 2094-40 (form from memory), scene to panel peak [cd/m²].

    knee (Kx, Ky), shares 0..1 of the two peaks, Kx below 1, Ky 0 where Kx is; anchors P_1 to
    P_(N−1), shares 0..1, never falling. Held beyond the scene peak.
    """
    kx, ky = knee
    peaks = 0 < scene_peak <= PQ_PEAK and 0 < peak <= PQ_PEAK
    knees = 0 <= kx < 1 and 0 <= ky <= 1 and (kx > 0 or ky == 0)
    _require(peaks, f"peaks {scene_peak} and {peak}", "above 0 and up to 10000 cd/m²")
    _require(knees, f"knee {knee}", "0 to 1, Kx below 1, Ky 0 where Kx is")
    rising = all(0 <= a <= b <= 1 for a, b in pairwise([*anchors, 1.0]))
    _require(rising, f"anchors {list(anchors)}", "shares 0 to 1, never falling")
    weights = np.concatenate([[0.0], np.asarray(anchors, dtype=np.float64), [1.0]])
    gain = ky / kx if kx > 0 else 0.0

    def straight(e: Numbers) -> tuple[Numbers, Numbers]:
        x = light_from_pq(e) / scene_peak
        return _on_pq(e, gain * x * peak, np.full_like(x, gain * peak / scene_peak))

    def bent(e: Numbers) -> tuple[Numbers, Numbers]:
        t = np.clip((light_from_pq(e) / scene_peak - kx) / (1 - kx), 0.0, 1.0)
        value, rise = _bernstein(weights, t)
        slope = (1 - ky) / (1 - kx) * rise * peak / scene_peak
        return _on_pq(e, (ky + (1 - ky) * value) * peak, slope)

    bend, end = pq_from_light([kx * scene_peak, scene_peak]).tolist()
    stretches = [(BLACK, bend, straight, PIECES), (bend, end, bent, PIECES)]
    return _cut(f"ST 2094-40, {scene_peak:g} to {peak:g} cd/m²", stretches)


def st2094_10(anchors: Sequence[tuple[float, float]]) -> Curve:
    """The curve of SMPTE ST 2094-10 (form from memory) through three anchors (E, V), PQ, rising.

    Held outside the outer anchors.
    """
    rising = all(0 <= a < b <= 1 for xy in zip(*anchors, strict=True) for a, b in pairwise(xy))
    _require(len(anchors) == 3 and rising, f"anchors {anchors}", "three pairs of PQ signal, rising")
    a, b, c = np.linalg.solve([[1, x, -x * y] for x, y in anchors], [y for _, y in anchors])

    def bent(e: Numbers) -> tuple[Numbers, Numbers]:
        return (a + b * e) / (1 + c * e) - e, (b - a * c) / (1 + c * e) ** 2 - 1

    shown = ", ".join(f"{x:.3g} to {y:.3g}" for x, y in anchors)
    return _cut(f"ST 2094-10, signal {shown}", [(anchors[0][0], anchors[-1][0], bent, PIECES)])


def between(first: Curve, second: Curve, share: float) -> Curve:
    """(1 − share)·V_first + share·V_second at every input level, exactly; share 0..1."""
    if share in (0.0, 1.0):
        return second if share else first
    edges = np.union1d(first.edges, second.edges)
    mixed = (1 - share) * _recut(first, edges) + share * _recut(second, edges)
    text = f"{1 - share:.0%} of ({first.text}) and {share:.0%} of ({second.text})"
    return Curve(text, numbers(edges), numbers(mixed))


def _require(holds: bool, what: str, accepted: str) -> None:
    if not holds:
        raise RequestError(f"{what}; accepted is {accepted}")


@dataclass(frozen=True)
class _Eetf:
    """BT.2390's EETF in source-normalised PQ: E1 = (E − low)/span; top, lift, knee: its maxLum,
    minLum and KS."""

    low: float
    span: float
    top: float
    lift: float
    knee: float

    def straight(self, e: Numbers) -> tuple[Numbers, Numbers]:
        """V − E and its slope where E2 = E1."""
        dark = 1 - (e - self.low) / self.span
        return self.span * self.lift * dark**4, -4 * self.lift * dark**3

    def rolled(self, e: Numbers) -> tuple[Numbers, Numbers]:
        """V − E and its slope above the knee: the standard's Hermite spline in closed form."""
        rest = (1 - (e - self.low) / self.span) / (1 - self.knee)
        e2 = self.top - (self.top - self.knee) * rest**3
        rise = 3 * (self.top - self.knee) / (1 - self.knee) * rest**2
        v = self.low + self.span * (e2 + self.lift * (1 - e2) ** 4)
        return v - e, rise * (1 - 4 * self.lift * (1 - e2) ** 3) - 1

    def signal_where(self, e3: float) -> float:
        """The signal at whose E2 the lifted E3 last reaches `e3`, which is minLum or maxLum."""
        e2 = e3 if self.lift == 0 else self._unlifted(e3)
        if e2 <= self.knee:
            return self.low + self.span * e2
        rest = max((self.top - e2) / (self.top - self.knee), 0.0) ** (1 / 3)
        return float(self.low + self.span * (1 - rest * (1 - self.knee)))

    def _unlifted(self, e3: float) -> float:
        from scipy.optimize import brentq

        lowest = 1 - (4 * self.lift) ** (-1 / 3) if self.lift > 0.25 else 0.0  # E3 rises from here
        if e3 == self.lift and lowest == 0:
            return 0.0
        return float(brentq(lambda x: x + self.lift * (1 - x) ** 4 - e3, lowest, e3, xtol=1e-15))


def _on_pq(e: Numbers, light: Numbers, slope: Numbers) -> tuple[Numbers, Numbers]:
    """V − E and its slope where T = `light` and dT/dL = `slope` at signals `e`."""
    reference = light_from_pq(e)
    y, w = (reference / PQ_PEAK) ** PQ_M1, (light / PQ_PEAK) ** PQ_M1
    with np.errstate(divide="ignore", invalid="ignore"):
        rise = slope * (w / y) * (reference / light)
    rise = np.where((reference > 0) & (light > 0), rise, slope**PQ_M1)  # the limit at black
    return pq_from_light(light) - e, rise * _pq_rise(w) / _pq_rise(y) - 1


def _pq_rise(power: Numbers) -> Numbers:
    """dE/dy of PQ, up to a constant, at y = (L/10000)^m1."""
    upper, lower = PQ_C1 + PQ_C2 * power, 1 + PQ_C3 * power
    return np.asarray((upper / lower) ** (PQ_M2 - 1) / lower**2)


def _bernstein(weights: Numbers, t: Numbers) -> tuple[Numbers, Numbers]:
    """Bernstein polynomial of `weights` (N + 1,) at t, and its derivative."""
    n = len(weights) - 1
    terms = [comb(n, k) * t**k * (1 - t) ** (n - k) for k in range(n + 1)]
    rises = [comb(n - 1, k) * t**k * (1 - t) ** (n - 1 - k) for k in range(n)]
    value = sum(weight * term for weight, term in zip(weights, terms, strict=True))
    rise = sum(step * term for step, term in zip(n * np.diff(weights), rises, strict=True))
    return np.asarray(value), np.asarray(rise)


def _cut(text: str, stretches: Sequence[Stretch]) -> Curve:
    """Stretches that follow each other, cut into cubic Hermite pieces, and held outside."""
    edges, offsets = [stretches[0][0]], []
    for start, end, function, pieces in stretches:
        if end <= start:
            continue
        e = start + (end - start) * np.linspace(0.0, 1.0, pieces + 1) ** 3  # crowded near black
        offsets.append(_hermite(e, *function(e)))
        edges += e[1:].tolist()
    return _held(text, np.array(edges), np.concatenate(offsets))


def _hermite(e: Numbers, value: Numbers, slope: Numbers) -> Numbers:
    """Cubic coefficients (n − 1, 4) through values and slopes (n,) at e."""
    width, step = np.diff(e), np.diff(value) / np.diff(e)
    first, last = slope[:-1], slope[1:]
    bend = (3 * step - 2 * first - last) / width
    return np.column_stack([value[:-1], first, bend, (first + last - 2 * step) / width**2])


def _held(text: str, edges: Numbers, offsets: Numbers) -> Curve:
    """A curve on edges within 0..1, made flat below the first and above the last."""
    if edges[0] > 0:
        v = edges[0] + offsets[0, 0]
        edges, offsets = np.insert(edges, 0, 0.0), np.vstack([[v, -1, 0, 0], offsets])
    if edges[-1] < 1:
        d = edges[-1] - edges[-2]
        v = edges[-1] + np.polynomial.polynomial.polyval(d, offsets[-1])
        offsets = np.vstack([offsets, [v - edges[-1], -1, 0, 0]])
        edges = np.append(edges, 1.0)
    return Curve(text, numbers(edges), numbers(offsets))


def _recut(curve: Curve, edges: Numbers) -> Numbers:
    """The curve's pieces on finer edges: each cubic shifted to its new start."""
    index = np.searchsorted(curve.edges, edges[:-1], side="right") - 1
    d = edges[:-1] - curve.edges[index]
    c0, c1, c2, c3 = curve.offsets[index].T
    shifted = [c0 + d * (c1 + d * (c2 + d * c3)), c1 + d * (2 * c2 + 3 * d * c3), c2 + 3 * d * c3]
    return np.column_stack([*shifted, c3])
