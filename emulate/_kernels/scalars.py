"""The physics of one pixel, written once for every machine: plain functions of numbers.

No library but `math`, no arrays but small tables read by index. `emulate._kernels.compiling` turns
them into machine code for the CPU; another compiler may do the same for another machine. Equation
numbers are in the docstrings of the rooms that own the effect.
"""

from __future__ import annotations

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
