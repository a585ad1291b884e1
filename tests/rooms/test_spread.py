"""Spread: against sums over images written out one by one, and what must hold at its ends."""

from __future__ import annotations

from math import erf, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from emulate.panel.spread import Spread, backlight, shares
from emulate.panel.zones import zone_edges
from emulate.values import numbers


def phi(x):
    return 0.5 * (1 + erf(x / sqrt(2)))


def shares_twin(zones, extent_px, height_px, sigma):
    """Physics §5.3 for one direction, with forty images either side and no early stop."""
    wall = extent_px / height_px
    light = np.zeros((zones, extent_px))
    for z in range(zones):
        x0, x1 = (i * extent_px // zones / height_px for i in (z, z + 1))
        for j in range(extent_px):
            x = (j + 0.5) / height_px
            for there in range(-40, 41):
                shift = 2 * there * wall
                light[z, j] += phi((x - x0 - shift) / sigma) - phi((x - x1 - shift) / sigma)
                light[z, j] += phi((x + x1 - shift) / sigma) - phi((x + x0 - shift) / sigma)
    return light / light.sum(axis=0)


def backlight_twin(drive, spread, shape, open_cdm2):
    """The same two matrix products by numpy."""
    total = np.zeros(shape)
    for weight, sigma in zip(spread.weight, spread.sigma_h.tolist(), strict=True):
        down = shares(drive.shape[0], shape[0], shape[0], sigma)
        across = shares(drive.shape[1], shape[1], shape[0], sigma)
        total += weight * np.einsum("ry,rc,cx->yx", down, drive, across)
    return open_cdm2 * total


@pytest.mark.parametrize("sigma", [0.01, 0.1, 0.6, 3.0])
@pytest.mark.parametrize(("zones", "extent", "height"), [(1, 9, 9), (4, 18, 11), (7, 10, 16)])
def test_shares_are_those_of_images_added_one_by_one(zones, extent, height, sigma):
    expected = shares_twin(zones, extent, height, sigma)
    np.testing.assert_allclose(shares(zones, extent, height, sigma), expected, atol=2e-12)


@given(
    shape=st.tuples(st.integers(5, 50), st.integers(5, 600)),
    grid=st.tuples(st.integers(1, 5), st.integers(1, 5)),
    seed=st.integers(0, 2**32 - 1),
)
@settings(max_examples=25, deadline=None)
def test_the_kernels_multiply_as_numpy_does(shape, grid, seed):
    drive = np.random.default_rng(seed).random(grid)
    spread = Spread(numbers([0.7, 0.3]), numbers([0.05, 0.4]))
    expected = backlight_twin(drive, spread, shape, 900.0)
    np.testing.assert_allclose(backlight(drive, spread, shape, 900.0), expected, rtol=2e-7)


def test_no_blur_stays_in_its_zone():
    drive = np.array([[0.0, 1.0, 0.25], [0.5, 0.0, 1.0]])
    lit = backlight(drive, Spread(), (7, 11), 100.0)
    counts = (np.diff(zone_edges(2, 7)), np.diff(zone_edges(3, 11)))
    expected = np.repeat(np.repeat(drive, counts[0], axis=0), counts[1], axis=1) * 100
    np.testing.assert_array_equal(lit, expected.astype(np.float32))


def test_the_widest_blur_is_even():
    """Behind mirrors a light spread without end is everywhere the same, whatever its place."""
    drive = np.zeros((3, 4))
    drive[0, 0] = 1.0
    lit = backlight(drive, Spread(numbers([1.0]), numbers([1e6])), (30, 40), 1200.0)
    np.testing.assert_allclose(lit, 100.0, rtol=1e-6)


def test_mirrors_lose_no_light():
    """Of each zone's light all stays in the cabinet: it fills as many pixels as the zone has."""
    light = shares(6, 96, 60, 0.15)
    np.testing.assert_allclose(light.sum(axis=1), 16.0, rtol=2e-3)


def test_each_pixel_shares_sum_to_one():
    np.testing.assert_allclose(shares(17, 301, 200, 0.07).sum(axis=0), 1.0, rtol=1e-15)
