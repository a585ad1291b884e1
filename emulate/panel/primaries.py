"""Primaries: the panel's own red, green, blue and white (physics §4).

What is asked is counted in panel channels p: p_R = p_G = p_B = L asks for the panel's white at
L cd/m². The panel takes its white for D65, so the way in is through its primaries balanced to D65;
what it emits has the measured white, so the way out is through its primaries balanced to that. A
panel whose white is D65 thus returns what it was asked, and another shows its cast everywhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from emulate.colorimetry import BT2020, D65, rgb_matrix, xyz_matrix
from emulate.panel.cause import Cause
from emulate.values import Numbers, Pixels

Xy = tuple[float, float]

NOISE = 1e-5  # share of a pixel's largest channel: more than float32 makes, far less than one sees
DECIMALS = 12  # matrices are rounded here, so that BT.2020 to BT.2020 is the identity exactly


@dataclass(frozen=True)
class Primaries:
    """CIE 1931 xy of red, green, blue and white; the default, BT.2020 and D65, is an identity."""

    red: Xy = BT2020[0]
    green: Xy = BT2020[1]
    blue: Xy = BT2020[2]
    white: Xy = D65

    @property
    def rgb(self) -> tuple[Xy, Xy, Xy]:
        """Red, green and blue xy."""
        return self.red, self.green, self.blue

    def matrix_in(self) -> Numbers:
        """(3, 3): panel channels from BT.2020 light, as the panel intends them (white is D65)."""
        return np.round(rgb_matrix(self.rgb, D65), DECIMALS) + 0.0

    def matrix_out(self) -> Numbers:
        """(3, 3): BT.2020 light from panel channels, as it is measured (white as read)."""
        emitted = np.linalg.solve(xyz_matrix(BT2020), xyz_matrix(self.rgb, self.white))
        return np.round(emitted, DECIMALS) + 0.0


def panel_light(
    light: Pixels,
    primaries: Primaries,
    open_cdm2: float,
    why: NDArray[np.uint8],
    out: Pixels | None = None,
) -> Pixels:
    """Asked light p (h, w, 3) in panel channels [cd/m²], held to 0..open_cdm2.

    light (h, w, 3): BT.2020 [cd/m²], after the tone curve. why (h, w): gains GAMUT where a channel
    was cut by more than 1e-5 of the pixel's largest channel below 0, or of open_cdm2 above it.
    `out` may be `light`.
    """
    from emulate._kernels import colour as kernels

    asked = np.empty_like(light) if out is None else out
    kernels.matrix_clipped(
        light, primaries.matrix_in(), open_cdm2, NOISE, int(Cause.GAMUT), asked, why
    )
    return asked


def light_from_panel(panel: Pixels, primaries: Primaries, out: Pixels | None = None) -> Pixels:
    """BT.2020 light (h, w, 3) [cd/m²] from panel channels, with the measured white.

    Primaries outside BT.2020 come out with negative channels: the light is real, BT.2020 is small.
    `out` may be `panel`.
    """
    from emulate._kernels import colour as kernels

    light = np.empty_like(panel) if out is None else out
    kernels.matrix_applied(panel, primaries.matrix_out(), light)
    return light
