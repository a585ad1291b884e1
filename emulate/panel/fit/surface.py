"""Reflectance from black read in a lit room (physics §7, §10)."""

from __future__ import annotations

import numpy as np

from emulate.panel.fit.account import Account, Number, quantile, unknown
from emulate.panel.fit.noise import Noise
from emulate.panel.surface import Surface
from emulate.readings.readings import Readings

WIDEST = 0.5  # half width of the interval over ρ from which it counts as undetermined, ours


def fit_surface(readings: Readings, noise: Noise) -> tuple[Surface, Account]:
    """ρ = π·(light in the room − light in the dark)/lux, weighted by the meter's noise."""
    black = [r for r in readings.of("black") if r.angle == 0]
    lit, dark = ([r for r in black if (r.room_lux > 0) == on] for on in (True, False))
    if not lit:
        return Surface(), unknown("surface.reflectance", "black was not read in a lit room")
    glow = float(np.mean([r.luminance for r in dark])) if dark else 0.0
    shares = np.array([np.pi * (r.luminance - glow) / r.room_lux for r in lit])
    errors = np.array(
        [np.pi * _error(r.luminance, glow, len(dark), noise) / r.room_lux for r in lit]
    )
    weight = errors**-2
    value, error = float((weight * shares).sum() / weight.sum()), float(weight.sum() ** -0.5)
    reach = error * quantile(noise.dof or np.inf)
    if not reach <= WIDEST * value or not 0 < value <= 1:
        why = f"{value:.3%} ± {reach:.3%} was read: no more than the noise, or no share"
        return Surface(), unknown("surface.reflectance", why)
    found = Number("surface.reflectance", value, value - reach, min(value + reach, 1.0))
    return Surface(value), Account((found,), measured=("black",))


def _error(light: float, glow: float, looks: int, noise: Noise) -> float:
    in_dark = noise.relative * glow / np.sqrt(max(looks, 1))
    return float(np.hypot(noise.relative * light + noise.floor, in_dark))
