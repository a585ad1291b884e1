"""Limiter: how much light is left when the whole picture asks for much (physics §5.5)."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import ArrayLike

from emulate.panel.pace import moved
from emulate.values import Numbers, Value, numbers

if TYPE_CHECKING:
    from scipy.interpolate import PchipInterpolator

Acts = Literal["dims", "clips"]


@dataclass(frozen=True, eq=False)
class Limiter(Value):
    """gain [K] never rising, ≤ 1, at load rising from 0 to 1 (n,); the default is 1 everywhere."""

    load: Numbers = field(default_factory=lambda: numbers([0.0, 1.0]))
    gain: Numbers = field(default_factory=lambda: numbers([1.0, 1.0]))
    acts: Acts = "dims"
    attack_s: float = 0.0
    decay_s: float = 0.0

    def target(self, load: float) -> float:
        """Gain [K(load)] once settled: a monotone cubic through the points, held at its ends."""
        return float(self.targets(load))

    def targets(self, loads: ArrayLike) -> Numbers:
        """The same at many loads, any shape."""
        within = np.clip(loads, self.load[0], self.load[-1])
        return np.asarray(_through(self)(within))

    def moved(self, gain: float, target: float, since_s: float) -> float:
        """Gain since_s later, on its way to target."""
        return float(moved(gain, target, since_s, self.attack_s, self.decay_s))

    def unknown(self, gain: float) -> float:
        """The part of the gain that the cell does not know of, and so does not make up for."""
        return {"dims": gain, "clips": 1.0}[self.acts]


@lru_cache(maxsize=16)
def _through(limiter: Limiter) -> PchipInterpolator:
    from scipy.interpolate import PchipInterpolator

    return PchipInterpolator(limiter.load, limiter.gain)
