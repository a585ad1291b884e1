"""Zones: how bright each zone is driven for the picture above it (physics §5.1, 5.2, 5.4)."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Zones:
    """A grid of zones and how it is driven; symbols of physics §5 in brackets.

    rows [R], columns [C]; grain_px [n]; peak_weight [a]; gamma [γ]; cut; floor [u_min]; reach [w];
    attack_s and decay_s [τ], latency_frames, resets_at_cuts: how it moves in time.
    """

    rows: int
    columns: int
    grain_px: int = 4
    peak_weight: float = 1.0
    gamma: float = 1.0
    cut: float = 0.0
    floor: float = 0.0
    reach: float = 0.0
    attack_s: float = 0.0
    decay_s: float = 0.0
    latency_frames: int = 0
    resets_at_cuts: bool = True


@dataclass(frozen=True)
class SelfEmissive:
    """No zones: every pixel is its own light, and the load is the picture's mean (physics §5.5)."""
