"""Code values that a 48-bit still and a 10-bit clip hold alike.

Every signal shown is (D − 64)/876 for a whole 10-bit narrow code D: exact in the clip, and within
half a 16-bit code in the still, from which D comes back exactly.
"""

from __future__ import annotations

from typing import cast

import numpy as np
from numpy.typing import ArrayLike

from emulate.readings.stimulus import Rgb
from emulate.transfer import code_from_signal, light_from_pq, pq_from_light, signal_from_code

NARROW_BLACK, NARROW_WHITE = 64, 940  # ITU-R BT.2100-2 table 9, 10 bit


def code_of(light: float) -> int:
    """The 10-bit narrow code whose light is nearest in signal to `light` [cd/m²]."""
    return int(code_from_signal(pq_from_light(light), 10, full_range=False))


def code_within(light: float) -> int:
    """The highest 10-bit narrow code that does not exceed `light` [cd/m²]."""
    code = code_of(light)
    return code if light_of(code) <= light * (1 + 1e-9) else code - 1


def light_of(code: int) -> float:
    """Light [cd/m²] of a 10-bit narrow code."""
    return float(light_from_pq(signal_from_code(code, 10, full_range=False)))


def grey(code: int) -> Rgb:
    """Signal R′G′B′ of a grey, from its 10-bit narrow code."""
    signal = float(signal_from_code(code, 10, full_range=False))
    return (signal, signal, signal)


def colour(light: ArrayLike) -> Rgb:
    """Signal R′G′B′ nearest to BT.2020 light (3,) [cd/m²]."""
    codes = code_from_signal(pq_from_light(light), 10, full_range=False)
    signal = signal_from_code(np.clip(codes, NARROW_BLACK, NARROW_WHITE), 10, full_range=False)
    return cast(Rgb, tuple(float(value) for value in signal))
