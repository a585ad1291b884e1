"""Surface: what the screen throws back of the room (physics §7)."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Surface:
    """reflectance [ρ], 0..1, diffuse."""

    reflectance: float = 0.0
