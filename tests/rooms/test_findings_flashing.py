"""Flashing: counted by hand, and in order with the rules it quotes."""

from __future__ import annotations

import numpy as np
import pytest

from emulate.findings.flashing import count_flashes, find_flashing

FPS = 60


def square(hz: float, low: float, high: float, area: float = 1.0, seconds: float = 3.0):
    """Maps of 10 × 10 parts, of which `area` jump between two lights `hz` times a second."""
    times = np.arange(int(FPS * seconds)) / FPS
    lit = np.arange(100).reshape(10, 10) < round(100 * area)
    return [np.where(lit, high if int(2 * hz * t) % 2 else low, 50.0) for t in times], times


@pytest.mark.parametrize("hz", [0.5, 1, 2, 3])
def test_three_flashes_in_a_second_are_not_warned_of(hz):
    """WCAG 2.2, 2.3.1: no more than three flashes in any one second."""
    found = count_flashes(*square(hz, 10, 200))
    assert not found.risky
    assert found.area == 0


@pytest.mark.parametrize("hz", [4, 5, 10, 15])
def test_more_than_three_are(hz):
    found = count_flashes(*square(hz, 10, 200))
    assert found.risky
    assert found.rate == hz


def test_only_over_more_than_a_quarter():
    """ITU-R BT.1702-3 [from memory]: over a quarter of the screen."""
    assert not count_flashes(*square(5, 10, 200, area=0.25)).risky
    assert count_flashes(*square(5, 10, 200, area=0.26)).risky


def test_only_changes_of_20_with_a_dark_side_below_160():
    """ITU-R BT.1702-3 [from memory]: 20 cd/m² or more, the darker image below 160 cd/m²."""
    assert not count_flashes(*square(5, 100, 119.9)).risky
    assert count_flashes(*square(5, 100, 120)).risky
    assert not count_flashes(*square(5, 160, 1000)).risky
    assert count_flashes(*square(5, 159.9, 1000)).risky


def test_a_slow_change_counts_once_however_many_frames_it_takes():
    """A triangle of 5 Hz over 12 frames a turn moves 16 cd/m² a frame and still flashes 5 times."""
    times = np.arange(3 * FPS) / FPS
    wave = 100 * (2 * np.abs(2 * ((5 * times) % 1) - 1))
    assert count_flashes((np.full((4, 4), v) for v in wave), times).rate == 5


def test_ripple_on_a_slope_is_none():
    times = np.arange(3 * FPS) / FPS
    slope = 100 * times + 8 * np.sin(2 * np.pi * 10 * times)
    assert count_flashes((np.full((4, 4), v) for v in slope), times).area == 0


def test_parts_may_flash_apart():
    """More cautious than the rules: each part is counted by itself."""
    first, times = square(5, 10, 200)
    mixed = [np.where(np.arange(100).reshape(10, 10) % 2 == 0, a, 210 - a) for a in first]
    assert count_flashes(mixed, times).risky


def test_it_warns_and_never_certifies():
    calm, wild = (find_flashing(*square(hz, 10, 200)) for hz in (1, 6))
    assert wild.sentence.startswith("Caution, flashing: 100 % of the picture")
    assert "up to 6 times" in wild.sentence
    assert "safe" not in calm.sentence
    assert "not a certificate" in calm.definition
    assert (calm.value, calm.unit) == (0.0, "share")
    part = find_flashing(*square(6, 10, 200, area=0.1))
    assert part.sentence.startswith("10 % of the picture flashes more than three times")


def test_one_picture_or_none_does_not_flash():
    assert count_flashes([np.zeros((3, 3))], [0.0]) == (0.0, 0.0)
    assert count_flashes([], []) == (0.0, 0.0)
