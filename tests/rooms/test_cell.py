"""Cell: against a plain numpy twin, pixels by hand, angles and their refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from emulate.errors import RequestError
from emulate.panel.cause import Cause
from emulate.panel.cell import Angles, Cell, View, emitted, seen_from, turned
from emulate.values import numbers


def emitted_twin(asked, lit, compensation, leak, unknown_gain, open_cdm2):
    """Physics §6 by whole arrays: light and flags."""
    p, behind = asked.astype(np.float64), lit.astype(np.float64)[..., None]
    known = (behind / unknown_gain) ** compensation * open_cdm2 ** (1 - compensation)
    with np.errstate(divide="ignore", invalid="ignore"):
        light = np.where(known > 0, np.clip(p / known, leak, 1.0) * behind, 0.0)
    why = np.zeros(asked.shape[:2], dtype=np.uint8)
    why[(p > behind * (1 + 1e-5)).any(axis=2)] |= int(Cause.ZONE)
    why[(p > known * (1 + 1e-5)).any(axis=2)] |= int(Cause.WIDE_OPEN)
    floor = p <= leak * known
    why[floor.any(axis=2)] |= int(Cause.FLOOR)
    why[floor.all(axis=2)] |= int(Cause.ALL_FLOOR)
    return light, why


@given(
    seed=st.integers(0, 2**32 - 1),
    compensation=st.sampled_from([0.0, 0.3, 1.0]),
    leak=st.sampled_from([0.0, 1 / 5000, 1 / 500]),
    gain=st.sampled_from([1.0, 0.6]),
)
@settings(max_examples=30, deadline=None)
def test_the_kernel_does_as_the_twin(seed, compensation, leak, gain):
    rng = np.random.default_rng(seed)
    asked = (900 * rng.random((9, 14, 3)) ** 6).astype(np.float32)
    asked[rng.random(asked.shape) < 0.1] = 0.0
    lit = (gain * 900 * rng.random((9, 14)) ** 3).astype(np.float32)
    lit[rng.random(lit.shape) < 0.1] = 0.0
    why = np.zeros((9, 14), dtype=np.uint8)
    view = View(1.0, 1.0, compensation)
    light = emitted(asked, lit, view, leak, gain, 900.0, why)
    expected, expected_why = emitted_twin(asked, lit, compensation, leak, gain, 900.0)
    np.testing.assert_allclose(light, expected, rtol=1e-6, atol=1e-30)
    np.testing.assert_array_equal(why, expected_why)


def one_pixel(asked, lit, *, leak=1e-3, compensation=1.0, unknown_gain=1.0):
    why = np.zeros((1, 1), dtype=np.uint8)
    view = View(1 / leak if leak else np.inf, 1.0, compensation)
    p = np.array([[asked]], dtype=np.float32)
    behind = np.array([[lit]], dtype=np.float32)
    light = emitted(p, behind, view, leak, unknown_gain, 1000.0, why)
    return light[0, 0].tolist(), Cause(int(why[0, 0]))


def test_a_pixel_by_hand_leaks_passes_and_clips():
    light, why = one_pixel([0.05, 50.0, 200.0], 100.0)
    assert light == pytest.approx([0.1, 50.0, 100.0], rel=1e-6)
    assert why == Cause.FLOOR | Cause.ZONE | Cause.WIDE_OPEN


def test_black_is_at_the_floor_in_every_channel():
    light, why = one_pixel([0.0, 0.0, 0.0], 100.0)
    assert light == pytest.approx([0.1] * 3, rel=1e-6)
    assert why == Cause.FLOOR | Cause.ALL_FLOOR


def test_a_dark_zone_shows_nothing_and_starves_what_was_asked():
    light, why = one_pixel([0.0, 1.0, 2.0], 0.0)
    assert light == [0.0, 0.0, 0.0]
    assert Cause.ZONE in why
    assert Cause.ALL_FLOOR not in why


def test_light_equal_but_for_float_noise_is_no_clipping():
    assert one_pixel([100.0005] * 3, 100.0)[1] == Cause(0)


def test_a_cell_that_knows_nothing_shows_the_backlight_through():
    """κ = 0: half open is half of whatever light there is."""
    assert one_pixel([500.0] * 3, 100.0, compensation=0.0)[0] == pytest.approx([50.0] * 3)


def test_a_limiter_that_dims_keeps_structure_and_one_that_clips_does_not():
    """Full-screen 1000 limited to 0.4, 300 and 800 asked, by hand."""
    dims, why = one_pixel([300.0, 800.0, 0.0], 400.0, leak=0.0, unknown_gain=0.4)
    assert dims == pytest.approx([120.0, 320.0, 0.0], rel=1e-6)
    assert why == Cause.ZONE | Cause.FLOOR
    clips, why = one_pixel([300.0, 800.0, 0.0], 400.0, leak=0.0)
    assert clips == pytest.approx([300.0, 400.0, 0.0], rel=1e-6)
    assert why == Cause.ZONE | Cause.WIDE_OPEN | Cause.FLOOR


ANGLES = Angles(
    numbers([0.0, 30.0, 60.0]), numbers([5000.0, 2500.0, 800.0]), numbers([1, 0.8, 0.5])
)


def test_angles_are_linear_between_readings_on_either_side():
    for angle in (45.0, -45.0):
        view = seen_from(angle, Cell(5000.0), ANGLES)
        assert (view.contrast, view.gain) == pytest.approx((1650.0, 0.65))
        assert view.caveats == ()


def test_before_the_first_reading_comes_the_axis():
    part = Angles(numbers([40.0]), numbers([1000.0]), numbers([0.6]))
    view = seen_from(20.0, Cell(3000.0), part)
    assert (view.contrast, view.gain) == pytest.approx((2000.0, 0.8))


def test_a_reading_on_the_axis_stands_for_the_cell():
    measured = Angles(numbers([0.0, 50.0]), numbers([4000.0, 1000.0]), numbers([1.0, 0.6]))
    assert seen_from(0.0, Cell(5000.0), measured).contrast == 4000.0


def test_beyond_the_last_reading_it_is_held_and_doubted():
    view = seen_from(75.0, Cell(5000.0), ANGLES)
    assert (view.contrast, view.gain) == (800.0, 0.5)
    assert [str(caveat) for caveat in view.caveats] == [
        "angle: seen from 75°, read only to 60°: the reading at 60° is held"
    ]


def test_without_readings_an_angle_is_doubted_and_the_axis_is_not():
    assert seen_from(0.0, Cell(), Angles()) == View(float("inf"), 1.0, 1.0)
    assert len(seen_from(10.0, Cell(), Angles()).caveats) == 1


@pytest.mark.parametrize("angle", [90.0, -120.0, float("nan"), float("inf")])
def test_an_angle_behind_the_screen_is_refused(angle):
    with pytest.raises(RequestError, match="accepted is"):
        seen_from(angle, Cell(), Angles())


def test_light_towards_the_viewer_is_scaled():
    light = np.full((2, 2, 3), 100.0, dtype=np.float32)
    np.testing.assert_allclose(turned(light, View(1.0, 0.25, 1.0)), 25.0)
