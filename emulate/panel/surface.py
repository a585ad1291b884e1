"""Surface: what the screen throws back of the room (physics §7)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from emulate.values import Pixels


@dataclass(frozen=True)
class Surface:
    """reflectance [ρ], 0..1, diffuse."""

    reflectance: float = 0.0


def reflected_light(surface: Surface, room_lux: float) -> float:
    """ρ·E/π [cd/m²], D65, in every BT.2020 channel; E [lux] on the screen. Lambert's law."""
    return float(surface.reflectance * room_lux / np.pi)


def in_room(light: Pixels, reflected: float, out: Pixels | None = None) -> Pixels:
    """Light (h, w, 3) BT.2020 [cd/m²] with the reflected light added. `out` may be `light`."""
    from emulate._kernels import colour as kernels

    seen = np.empty_like(light) if out is None else out
    kernels.raised(light, reflected, seen)
    return seen
