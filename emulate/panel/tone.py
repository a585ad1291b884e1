"""Tone: which light the panel is asked for when the reference says so much (physics §3)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from emulate.values import Numbers, Value

ActsOn = Literal["max_rgb", "per_channel", "luminance"]
Follows = Literal["fixed", "by_metadata", "by_frame"]


@dataclass(frozen=True, eq=False)
class ToneReading(Value):
    """One measured curve: PQ signal 0..1 rising (n,), light [cd/m²] never falling (n,).

    mastering_peak [cd/m²]: the content it was measured with; 0 = whatever the content says.
    """

    mastering_peak: float
    signal: Numbers
    light: Numbers


@dataclass(frozen=True, eq=False)
class Tone(Value):
    """What the curve acts on, what it follows, and the curves measured (none: identity)."""

    acts_on: ActsOn = "max_rgb"
    policy: Follows = "fixed"
    curves: tuple[ToneReading, ...] = ()
