"""Uniformity: readings joined over the screen, and the room's light on it."""

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator

from emulate.panel.surface import Surface, in_room, reflected_light
from emulate.panel.uniformity import Uniformity, shaded, uniformity_map
from emulate.values import numbers


def test_the_default_is_one_everywhere() -> None:
    assert np.array_equal(uniformity_map(Uniformity(), (7, 9)), np.ones((7, 9), np.float32))


def test_readings_are_met_at_cell_centres() -> None:
    grid = np.random.default_rng(1).uniform(0.6, 1.2, (4, 6))
    shares = uniformity_map(Uniformity(numbers(grid)), (4 * 5, 6 * 7))
    np.testing.assert_allclose(shares[2::5, 3::7], grid, rtol=1e-6)


def test_held_outside_the_outer_centres() -> None:
    grid = np.random.default_rng(2).uniform(0.6, 1.2, (3, 3))
    shares = uniformity_map(Uniformity(numbers(grid)), (30, 30))
    assert np.ptp(shares[:5, :5]) == 0
    assert shares[0, 0] == pytest.approx(grid[0, 0])


def test_an_exponential_ramp_is_reproduced() -> None:
    """Keys 1981: cubic convolution is exact on straight lines, here in the logarithm."""
    grid = np.exp(0.1 * np.arange(8))[None, :] * np.ones((5, 1))
    shares = uniformity_map(Uniformity(numbers(grid)), (50, 80))
    at = (np.arange(80) + 0.5) / 10 - 0.5
    inside = (at >= 1) & (at <= 6)
    np.testing.assert_allclose(shares[0, inside], np.exp(0.1 * at[inside]), rtol=1e-6)


def test_flips_commute() -> None:
    grid = np.random.default_rng(3).uniform(0.5, 1.0, (5, 4))
    plain = uniformity_map(Uniformity(numbers(grid)), (33, 47))
    turned = uniformity_map(Uniformity(numbers(grid[::-1, ::-1])), (33, 47))
    np.testing.assert_allclose(turned[::-1, ::-1], plain, rtol=1e-6)


def test_a_photograph_is_taken_bilinearly() -> None:
    grid = np.random.default_rng(4).uniform(0.5, 1.0, (40, 90))
    shares = uniformity_map(Uniformity(numbers(grid)), (70, 130))
    y = np.clip((np.arange(70) + 0.5) * 40 / 70 - 0.5, 0, 39)
    x = np.clip((np.arange(130) + 0.5) * 90 / 130 - 0.5, 0, 89)
    linear = RegularGridInterpolator((np.arange(40), np.arange(90)), grid)
    expected = linear(np.stack(np.meshgrid(y, x, indexing="ij"), axis=-1))
    np.testing.assert_allclose(shares, expected, rtol=1e-6)


def test_light_is_shaded() -> None:
    light = np.full((10, 10, 3), 100, dtype=np.float32)
    dull = Uniformity(numbers([[0.5]]))
    np.testing.assert_allclose(shaded(light, dull), 50, rtol=1e-6)
    assert np.array_equal(shaded(light, Uniformity()), light)
    assert shaded(light, dull, out=light) is light


def test_reflected_light_is_lamberts() -> None:
    """A perfect diffuser under π lux shines at 1 cd/m² (Lambert)."""
    assert reflected_light(Surface(1.0), np.pi) == pytest.approx(1.0)
    assert reflected_light(Surface(0.01), 100.0) == pytest.approx(0.31830989)
    assert reflected_light(Surface(), 500.0) == 0


def test_the_room_adds_the_same_everywhere() -> None:
    light = np.random.default_rng(5).uniform(0, 9, (4, 5, 3)).astype(np.float32)
    np.testing.assert_allclose(in_room(light, 0.25), light + 0.25, rtol=1e-6)
    assert np.array_equal(in_room(light, 0.0), light)
