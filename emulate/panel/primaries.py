"""Primaries: the panel's own red, green, blue and white (physics §4)."""

from __future__ import annotations

from dataclasses import dataclass

from emulate.colorimetry import BT2020, D65

Xy = tuple[float, float]


@dataclass(frozen=True)
class Primaries:
    """CIE 1931 xy of red, green, blue and white; the default, BT.2020 and D65, is an identity."""

    red: Xy = BT2020[0]
    green: Xy = BT2020[1]
    blue: Xy = BT2020[2]
    white: Xy = D65
