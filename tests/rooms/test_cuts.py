"""Cuts: what is one, and the many changes that are none."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from emulate import Frame
from emulate.cuts import is_cut, signature_of
from emulate.transfer import pq_from_light

HEIGHT, WIDTH = 180, 320


def scene(seed: int, brightness: float = 100.0, width: int = WIDTH) -> np.ndarray:
    """Soft shapes of every size over three decades of light, as scenes have."""
    rng = np.random.default_rng(seed)
    shapes = np.zeros((HEIGHT, width))
    y, x = np.mgrid[0:HEIGHT, 0:width] / HEIGHT
    for _ in range(60):
        cy, cx, size = rng.random(), rng.random() * width / HEIGHT, 0.05 + 0.3 * rng.random()
        shapes += rng.normal() * np.exp(-((x - cx) ** 2 + (y - cy) ** 2) / size**2)
    return np.repeat(brightness * 10 ** (0.8 * shapes)[..., None], 3, axis=2).clip(0, 10000)


def cut(before: np.ndarray, after: np.ndarray) -> bool:
    return is_cut(*(signature_of(Frame.from_light(light)) for light in (before, after)))


@pytest.mark.parametrize("seed", range(10))
def test_another_scene_is_a_cut(seed):
    assert cut(scene(seed), scene(seed + 100))
    assert cut(scene(seed, 3.0), scene(seed + 100, 300.0))


@pytest.mark.parametrize("seed", range(5))
def test_a_fade_is_no_cut_either_way(seed):
    steps = [scene(seed) * (1 - i / 24) for i in range(25)]
    assert not any(cut(before, after) for before, after in pairwise(steps))
    assert not any(cut(after, before) for before, after in pairwise(steps))


@pytest.mark.parametrize("factor", [0.05, 0.3, 5.0])
def test_a_flash_over_everything_is_no_cut(factor):
    assert not cut(scene(1, 30.0), factor * scene(1, 30.0))


@pytest.mark.parametrize("seed", range(5))
def test_harder_light_on_the_same_scene_is_no_cut(seed):
    """Most cells change by more than any single gain explains, and all is where it was."""
    assert not cut(scene(seed), 100 * (scene(seed) / 100) ** 1.8)


def test_lamps_going_on_are_no_cut():
    dark = scene(2, 0.05)
    lit = dark.copy()
    lit[40:80, 60:100] = lit[120:150, 250:300] = 3000.0
    assert not cut(dark, lit)
    assert not cut(lit, dark)


def test_a_blackout_and_a_window_out_of_black_are_no_cuts():
    """A panel's step response is read off such patterns: it must not be taken for settled."""
    black, window = np.zeros((HEIGHT, WIDTH, 3)), np.zeros((HEIGHT, WIDTH, 3))
    window[40:140, 80:240] = 1000.0
    assert not cut(black, window)
    assert not cut(window, black)
    assert not cut(scene(3), black)


def test_a_hand_held_camera_is_no_cut():
    wide = scene(4, width=WIDTH + 40)
    moved = wide[:, 8 : WIDTH + 8]
    assert not cut(wide[:, :WIDTH], moved)


def test_grain_is_no_cut():
    rng = np.random.default_rng(0)
    light = scene(5, 1.0)
    assert not cut(light, light * rng.lognormal(0, 0.5, light.shape).clip(0.1, 5))


def test_the_first_frame_is_no_cut():
    assert not is_cut(None, signature_of(Frame.from_light(scene(0))))


def test_a_signature_is_the_light_of_cells():
    """A picture of 36 × 64 has cells of 2 × 2 pixels: means written out by reshaping."""
    light = np.random.default_rng(1).random((36, 64, 3)) * 500
    luminance = light @ np.array([0.2627, 0.6780, 0.0593])  # ITU-R BT.2020-2 table 4
    expected = pq_from_light(luminance.reshape(18, 2, 32, 2).mean(axis=(1, 3)))
    np.testing.assert_allclose(signature_of(Frame.from_light(light)), expected, rtol=1e-5)


@pytest.mark.parametrize("shape", [(1, 1, 3), (5, 7, 3), (17, 500, 3), (2161, 3, 3)])
def test_every_picture_has_a_signature(shape):
    signature = signature_of(Frame.from_light(np.full(shape, 100.0)))
    np.testing.assert_allclose(signature, pq_from_light(100.0), rtol=1e-6)
