"""Limiter: how much light is left when the whole picture asks for much (physics §5.5)."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from emulate.values import Numbers, Value, numbers

Acts = Literal["dims", "clips"]


@dataclass(frozen=True, eq=False)
class Limiter(Value):
    """gain [K] never rising, ≤ 1, at load rising from 0 to 1 (n,); the default is 1 everywhere."""

    load: Numbers = field(default_factory=lambda: numbers([0.0, 1.0]))
    gain: Numbers = field(default_factory=lambda: numbers([1.0, 1.0]))
    acts: Acts = "dims"
    attack_s: float = 0.0
    decay_s: float = 0.0
