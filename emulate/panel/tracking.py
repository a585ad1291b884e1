"""Tracking: how far each channel strays from what it was asked, by level (physics §4)."""

from __future__ import annotations

from dataclasses import dataclass, field

from emulate.values import Numbers, Value, numbers


@dataclass(frozen=True, eq=False)
class Tracking(Value):
    """q_c at rising levels [cd/m²] (n,), measured over intended; the default is 1 everywhere."""

    level: Numbers = field(default_factory=lambda: numbers([1.0]))
    red: Numbers = field(default_factory=lambda: numbers([1.0]))
    green: Numbers = field(default_factory=lambda: numbers([1.0]))
    blue: Numbers = field(default_factory=lambda: numbers([1.0]))
