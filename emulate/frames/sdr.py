"""The honest SDR picture of light: a stated white, nothing tone-mapped, what is brighter clipped.

For looking at on an sRGB display. sRGB: IEC 61966-2-1:1999.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from emulate.colorimetry import BT709, BT2020, rgb_matrix
from emulate.frames.lights import checked_light
from emulate.transfer import SDR_WHITE
from emulate.values import Numbers, Pixels, locked, numbers

SdrCodes = NDArray[np.uint8]  # (h, w, 3), sRGB

_GUESSES = 4096  # cells in which the count of steps starts; any number gives the same codes


def sdr_from_light(light: ArrayLike, white: float = SDR_WHITE) -> SdrCodes:
    """sRGB codes (h, w, 3) uint8 of BT.2020 light [cd/m²], `white` [cd/m²] at 255.

    BT.2020 → BT.709, clipped to 0..1 channel by channel, sRGB-encoded, rounded. Raises RequestError
    for what is not light (h, w, 3), or a white that is not above 0.
    """
    from emulate._kernels.encode import steps_passed

    pixels = checked_light(light, white=white)
    out = np.empty(pixels.shape, np.uint8)
    steps, first = _steps()
    steps_passed(pixels, rgb_matrix(BT709, source=BT2020) / white, steps, first, out)
    return out


def light_from_sdr_picture(codes: ArrayLike, white: float = SDR_WHITE) -> Pixels:
    """BT.2020 light (..., 3) float32 [cd/m²] of sRGB codes uint8, 255 at `white`."""
    linear = _linear_from_srgb(np.arange(256) / 255)[np.asarray(codes, dtype=np.uint8)]
    return np.asarray(white * linear @ rgb_matrix(BT2020, source=BT709).T).astype(np.float32)


def _linear_from_srgb(signal: Numbers) -> Numbers:
    """IEC 61966-2-1:1999, 5.2."""
    power = ((np.maximum(signal, 0.04045) + 0.055) / 1.055) ** 2.4
    return np.asarray(np.where(signal <= 0.04045, signal / 12.92, power))


@cache
def _steps() -> tuple[Numbers, NDArray[np.int64]]:
    """Linear light at which the rounded code grows, and how many lie at or below each cell."""
    steps = numbers(_linear_from_srgb((np.arange(1, 256) - 0.5) / 255))
    cells = np.arange(_GUESSES + 1) / _GUESSES
    return steps, locked(np.searchsorted(steps, cells, side="right"))
