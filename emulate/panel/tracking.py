"""Tracking: how far each channel strays from what it was asked, by level (physics §4)."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from emulate.transfer import PQ_CONSTANTS, pq_from_light
from emulate.values import Numbers, Pixels, Value, numbers


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
    shares = np.stack([tracking.red, tracking.green, tracking.blue])
    signals = pq_from_light(tracking.level)
    kernels.tracked(light, tracking.level, signals, shares, PQ_CONSTANTS, emitted)
    return emitted
