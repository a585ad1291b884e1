"""Codes, signal and light: the printed transfer functions.

Signal E is 0..1 full range, light L is cd/m², codes are integers of n bits. The functions here are
for handfuls of values, float64 throughout, any shape; pixels go through `emulate._kernels`.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from emulate.values import Numbers, numbers

PQ_M1 = 2610 / 16384  # SMPTE ST 2084:2014, 5.2; ITU-R BT.2100-2 table 4
PQ_M2 = 2523 / 4096 * 128  # as above
PQ_C1 = 3424 / 4096  # as above
PQ_C2 = 2413 / 4096 * 32  # as above
PQ_C3 = 2392 / 4096 * 32  # as above
PQ_PEAK = 10000.0  # cd/m², as above
PQ_CONSTANTS = numbers([PQ_M1, PQ_M2, PQ_C1, PQ_C2, PQ_C3, PQ_PEAK])  # as kernels take them

HLG_A = 0.17883277  # ITU-R BT.2100-2 table 5
HLG_B = 1 - 4 * HLG_A  # as above
HLG_C = 0.5 - HLG_A * np.log(4 * HLG_A)  # as above

LUMINANCE_2020 = np.array([0.2627, 0.6780, 0.0593])  # ITU-R BT.2020-2 table 4

SDR_WHITE = 203.0  # cd/m² for 100 % SDR, ITU-R BT.2408-7, 2.2
SDR_GAMMA = 2.4  # ITU-R BT.1886, annex 1

Transfer = Literal["pq", "hlg", "sdr", "linear"]


def light_from_pq(signal: ArrayLike) -> Numbers:
    """PQ EOTF [cd/m²]; the signal is clipped to 0..1 first. SMPTE ST 2084:2014, equation 4.1."""
    root = np.clip(np.asarray(signal, dtype=np.float64), 0.0, 1.0) ** (1 / PQ_M2)
    ratio = np.maximum(root - PQ_C1, 0.0) / (PQ_C2 - PQ_C3 * root)
    return np.asarray(PQ_PEAK * ratio ** (1 / PQ_M1))


def pq_from_light(light: ArrayLike) -> Numbers:
    """Inverse PQ EOTF [0..1]; light is clipped to 0..10000 first. SMPTE ST 2084:2014, 5.3.

    Black comes out as 7.31e-7, not 0: the standard's own rounding.
    """
    power = (np.clip(np.asarray(light, dtype=np.float64), 0.0, PQ_PEAK) / PQ_PEAK) ** PQ_M1
    return np.asarray(((PQ_C1 + PQ_C2 * power) / (1 + PQ_C3 * power)) ** PQ_M2)


def scene_from_hlg(signal: ArrayLike) -> Numbers:
    """HLG inverse OETF: scene light 0..1 from signal. ITU-R BT.2100-2 table 5."""
    e = np.clip(np.asarray(signal, dtype=np.float64), 0.0, 1.0)
    upper = (np.exp((np.maximum(e, 0.5) - HLG_C) / HLG_A) + HLG_B) / 12
    return np.asarray(np.where(e <= 0.5, e**2 / 3, upper))


def hlg_gamma(peak: float) -> float:
    """System gamma of an HLG display of nominal `peak` [cd/m²]. ITU-R BT.2100-2 table 5 note 5f."""
    return float(1.2 + 0.42 * np.log10(peak / 1000))


def light_from_hlg(rgb_signal: ArrayLike, peak: float = 1000.0) -> Numbers:
    """HLG EOTF, black at 0 [cd/m²], of BT.2020 signal (..., 3). ITU-R BT.2100-2 table 5."""
    scene = scene_from_hlg(rgb_signal)
    luminance = scene @ LUMINANCE_2020
    return np.asarray(peak * luminance[..., None] ** (hlg_gamma(peak) - 1) * scene)


def light_from_sdr(signal: ArrayLike, white: float = SDR_WHITE) -> Numbers:
    """BT.1886 with a black level of 0, 100 % at `white` [cd/m²]. ITU-R BT.1886, annex 1."""
    return np.asarray(white * np.clip(np.asarray(signal, dtype=np.float64), 0.0, 1.0) ** SDR_GAMMA)


def sdr_from_light(light: ArrayLike, white: float = SDR_WHITE) -> Numbers:
    """Inverse of `light_from_sdr`, clipped to 0..1."""
    share = np.clip(np.asarray(light, dtype=np.float64) / white, 0.0, 1.0)
    return np.asarray(share ** (1 / SDR_GAMMA))


def code_from_signal(signal: ArrayLike, bits: int = 10, *, full_range: bool = True) -> Numbers:
    """Code values, rounded half away from zero, as float64 integers. ITU-R BT.2100-2 table 9."""
    scale, offset = _quantiser(bits, full_range)
    exact = np.asarray(signal, dtype=np.float64) * scale + offset
    return np.asarray(np.sign(exact) * np.floor(np.abs(exact) + 0.5))


def signal_from_code(code: ArrayLike, bits: int = 10, *, full_range: bool = True) -> Numbers:
    """Signal from code values, not clipped: below black comes out negative. BT.2100-2 table 9."""
    scale, offset = _quantiser(bits, full_range)
    return np.asarray((np.asarray(code, dtype=np.float64) - offset) / scale)


def _quantiser(bits: int, full_range: bool) -> tuple[float, float]:
    if full_range:
        return float(2**bits - 1), 0.0
    return 219.0 * 2 ** (bits - 8), 16.0 * 2 ** (bits - 8)
