"""Spread against closed forms: Poisson's sum for a lattice, the error function for one box."""

from __future__ import annotations

from math import erf, sqrt

import numpy as np
import pytest

from emulate.panel.spread import Spread, backlight, shares
from emulate.values import numbers


@pytest.mark.parametrize(("s", "percent"), [(0.4, 8.4998), (0.5, 1.4384), (0.6, 0.164)])
def test_ripple_of_a_lattice_of_gaussians(s, percent):
    """Poisson summation: ±2·exp(−2π²s²) about the mean (higher orders below 1e-6).

    One zone in 41 is lit: near enough a point, its width takes 1 − sinc(1/41) = 0.1 % off the
    ripple. The walls mirror the lattice onto itself.
    """
    pitch, lit = 41, 9
    drive = np.zeros(pitch * lit)
    drive[pitch // 2 :: pitch] = 1.0
    across = shares(drive.size, drive.size * 3, drive.size * 3, s / lit)
    light = drive @ across
    ripple = (light.max() - light.min()) / (light.max() + light.min()) * 100
    assert ripple == pytest.approx(percent, rel=2.5e-3)
    assert light.mean() == pytest.approx(1 / pitch, rel=1e-6)


@pytest.mark.parametrize(("s", "expected"), [(0.5, 0.46606), (1.0, 0.14663)])
def test_one_box_at_its_own_centre(s, expected):
    """erf(½/(s√2))²: the integral of a Gaussian over a box, in both directions."""
    zones, pixels = 17, 9
    drive = np.zeros((zones, zones))
    drive[zones // 2, zones // 2] = 1.0
    spread = Spread(numbers([1.0]), numbers([s / zones]))
    lit = backlight(drive, spread, (zones * pixels, zones * pixels), 1.0)
    centre = zones * pixels // 2
    assert erf(0.5 / (s * sqrt(2))) ** 2 == pytest.approx(expected, abs=5e-6)
    assert lit[centre, centre] == pytest.approx(expected, abs=6e-6)
