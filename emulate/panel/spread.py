"""Spread: where a zone's light goes under the diffuser (physics §5.3)."""

from __future__ import annotations

from dataclasses import dataclass, field

from emulate.values import Numbers, Value, numbers


@dataclass(frozen=True, eq=False)
class Spread(Value):
    """weight [ω_k] sums to 1 (k,); sigma_h [σ_k] in picture heights (k,), 0 = stays in its zone."""

    weight: Numbers = field(default_factory=lambda: numbers([1.0]))
    sigma_h: Numbers = field(default_factory=lambda: numbers([0.0]))
