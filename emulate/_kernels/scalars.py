"""The physics of one pixel, written once for every machine: plain functions of numbers.

No library but `math`, no arrays but small tables read by index. `emulate._kernels.compiling` turns
them into machine code for the CPU; another compiler may do the same for another machine. Equation
numbers are in the docstrings of the rooms that own the effect.
"""

from __future__ import annotations

import math
from typing import Any

BEYOND = 1.0 + 1e-6  # share of PQ's peak above which light is beyond the signal, noise aside


def pq_signal(light: float, pq: Any) -> float:
    """Inverse PQ EOTF of light within 0..peak; pq holds m1, m2, c1, c2, c3, peak. ST 2084, 5.3."""
    power = (light / pq[5]) ** pq[0]
    return ((pq[2] + pq[3] * power) / (1.0 + pq[4] * power)) ** pq[1]  # type: ignore[no-any-return]


def pq_light(signal: float, pq: Any) -> float:
    """PQ EOTF; signals outside 0..1 count as 0 and 1. SMPTE ST 2084, equation 4.1."""
    root = min(max(signal, 0.0), 1.0) ** (1.0 / pq[1])
    ratio = max(root - pq[2], 0.0) / (pq[3] - pq[4] * root)
    return pq[5] * ratio ** (1.0 / pq[0])  # type: ignore[no-any-return]


def piece_of(light: float, lights: Any) -> int:
    """The i for which lights[i] < light ≤ lights[i+1], ends held."""
    low, high = 0, lights.shape[0] - 2
    while low < high:
        middle = (low + high) // 2
        if light > lights[middle + 1]:
            low = middle + 1
        else:
            high = middle
    return low


def toned(
    light: float, edges: Any, lights: Any, offsets: Any, pq: Any, sides: Any
) -> tuple[float, int]:
    """T(light), and a bit where the curve is flat there on the upper or the lower side (§3).

    Piece i spans signals edges[i]..edges[i+1] (as light: lights) and adds the cubic offsets[i] in
    (E − edges[i]) to the signal; offsets of zero pass light through untouched. sides: the slope
    below which it is flat, the signal where the upper side starts, and the two bits.
    """
    if light <= 0.0:
        return 0.0, 0
    beyond = light > pq[5] * BEYOND  # a signal ends at the peak: flat from there
    i = piece_of(light, lights)
    c0, c1, c2, c3 = offsets[i, 0], offsets[i, 1], offsets[i, 2], offsets[i, 3]
    if c0 == 0.0 and c1 == 0.0 and c2 == 0.0 and c3 == 0.0 and not beyond:
        return light, 0
    signal = pq_signal(min(light, pq[5]), pq)
    d = signal - edges[i]
    moved = signal + (c0 + d * (c1 + d * (c2 + d * c3)))
    slope = 0.0 if beyond else 1.0 + c1 + d * (2.0 * c2 + 3.0 * d * c3)
    flag = 0
    if slope < sides[0]:
        flag = int(sides[2]) if moved >= sides[1] else int(sides[3])
    return pq_light(moved, pq), flag


def tracking_share(light: float, levels: Any, signals: Any, shares: Any, pq: Any) -> float:
    """q at `light`: `shares`, linear in PQ⁻¹ between levels (n,), held outside (§4)."""
    last = levels.shape[0] - 1
    if light <= levels[0]:
        return shares[0]  # type: ignore[no-any-return]
    if light >= levels[last]:
        return shares[last]  # type: ignore[no-any-return]
    i = 0
    while light > levels[i + 1]:
        i += 1
    if shares[i] == shares[i + 1]:
        return shares[i]  # type: ignore[no-any-return]
    along = (pq_signal(light, pq) - signals[i]) / (signals[i + 1] - signals[i])
    return shares[i] + along * (shares[i + 1] - shares[i])  # type: ignore[no-any-return]


def known_light(behind: float, unknown_gain: float, open_cdm2: float, compensation: float) -> float:
    """B̂: the light a cell believes in, for the light that is behind it (§6)."""
    known = behind / unknown_gain
    if compensation == 1.0:
        return known
    return known**compensation * open_cdm2 ** (1.0 - compensation)  # type: ignore[no-any-return]


def opening(wanted: float, known: float, leak: float) -> float:
    """t: the share of its light a cell lets by, between its leak and all; none known, none (§6)."""
    return min(max(wanted / known, leak), 1.0) if known > 0.0 else 0.0


def near_constants(pq: Any) -> tuple[float, ...]:
    """pq's six numbers and, k = 1 − c1 = c2 − c3: 1/m1, 1/(2·m2), 2·m2, k, 2 − k, k + 2·c3, 1/peak.

    For the forms below, which take small differences first and so are good in single precision.
    """
    m1, m2, c1, c2, c3, peak = (float(each) for each in pq)
    k = 1.0 - c1
    more = 1.0 / m1, 0.5 / m2, 2.0 * m2, k, 2.0 - k, k + 2.0 * c3, 1.0 / peak
    return (m1, m2, c1, c2, c3, peak, *more)


def pq_light_near(signal: float, near: Any) -> float:
    """PQ EOTF of signal 0..1 by t = tanh(ln E/(2·m2)): E^(1/m2) is (1 + t)/(1 − t).

    ST 2084, 4.1, with that put in: (k + (2 − k)·t)/(k − (k + 2·c3)·t). t > −0.12, so four terms
    of its series are good to 1e-8.
    """
    h = math.log(min(max(signal, 1e-7), 1.0)) * near[7]
    s = h * h
    t = h * (1.0 - s * (1.0 / 3.0 - s * (2.0 / 15.0 - s * (17.0 / 315.0))))
    above = near[9] + near[10] * t
    if above <= 0.0:
        return 0.0
    return near[5] * math.exp(math.log(above / (near[9] - near[11] * t)) * near[6])  # type: ignore[no-any-return]


def pq_signal_near(light: float, near: Any) -> float:
    """Inverse PQ EOTF of light 0..peak by z, half the difference of ST 2084's two sums over their
    mean: E = ((1 − z)/(1 + z))^m2, and ln((1 − z)/(1 + z)) = −2·atanh z. z < 0.09: four terms.
    """
    power = math.exp(math.log(max(light * near[12], 1e-36)) * near[0])
    z = near[9] * (1.0 - power) / (near[10] + near[11] * power)
    s = z * z
    atanh = z * (1.0 + s * (1.0 / 3.0 + s * (1.0 / 5.0 + s * (1.0 / 7.0))))
    return math.exp(-near[8] * atanh)
