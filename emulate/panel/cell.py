"""Cell: what the liquid crystal, or the pixel itself, makes of the light behind it (physics §6)."""

from __future__ import annotations

from dataclasses import dataclass, field

from emulate.values import Numbers, Value, numbers


@dataclass(frozen=True)
class Cell:
    """contrast [CR], inf = no leakage; compensation [κ], 1 = the cell knows its backlight."""

    contrast: float = float("inf")
    compensation: float = 1.0


@dataclass(frozen=True, eq=False)
class Angles(Value):
    """Contrast and gain at rising viewing angles [degree] (n,); the default is no change."""

    degree: Numbers = field(default_factory=lambda: numbers([]))
    contrast: Numbers = field(default_factory=lambda: numbers([]))
    gain: Numbers = field(default_factory=lambda: numbers([]))
