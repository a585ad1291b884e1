"""Uniformity: light over the screen against its centre (physics §7)."""

from __future__ import annotations

from dataclasses import dataclass, field

from emulate.values import Numbers, Value, numbers


@dataclass(frozen=True, eq=False)
class Uniformity(Value):
    """grid (rows, columns): readings over the centre's, rows top to bottom, at cell centres."""

    grid: Numbers = field(default_factory=lambda: numbers([[1.0]]))
