"""What holds for every pattern, every crawl and every meter (physics §10)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from emulate.panel.tone import tone_reading
from emulate.readings.crawl import count_from_light
from emulate.readings.patterns.place import area_share, window
from emulate.readings.stimulus import WHITE, Stimulus, frame_of
from emulate.transfer import PQ_PEAK, light_from_pq
from tests.rooms.test_crawl import box_light

screens = st.builds(  # upright ones are nobody's, but wide and square ones are
    lambda rows, form: (rows, round(rows * form)), st.integers(240, 2200), st.floats(1.0, 2.5)
)


@given(shape=screens, area=st.floats(0.005, 1.0))
@settings(max_examples=150, deadline=None, derandomize=True)
def test_a_window_s_area_is_exact_to_a_pixel_row(shape, area):
    """At any resolution, even or odd: no further off than one of its own rows."""
    patch = window(area, shape, WHITE)
    assert abs(area_share(patch, shape) - area) * shape[0] * shape[1] <= patch.width
    assert 0 <= patch.top <= shape[0] - patch.height
    assert patch.top == shape[0] - patch.height - patch.top
    assert patch.left == shape[1] - patch.width - patch.left


@given(
    size=st.tuples(st.integers(9, 60), st.integers(16, 90)),
    area=st.floats(0.02, 1.0),
    signal=st.floats(0.0, 1.0),
)
@settings(max_examples=30, deadline=None, derandomize=True)
def test_a_pattern_keeps_its_mean_light_at_any_resolution(size, area, signal):
    """What a rectangle covers in part it lights in part: the load on a limiter stays the same."""
    shape = (270, 480)
    patch = window(area, shape, (signal,) * 3)
    light = frame_of(Stimulus("window", "any", shape, (patch,)), size).light
    expected = area_share(patch, shape) * float(light_from_pq(signal))
    assert light.mean(dtype=np.float64) == pytest.approx(expected, rel=1e-5, abs=1e-6)
    assert light.max() <= PQ_PEAK * (1 + 1e-6)


@given(count=st.integers(4, 24), seed=st.integers(0, 2**32 - 1), unit=st.floats(1e-3, 1e3))
@settings(max_examples=3, deadline=None, derandomize=True)
def test_any_number_of_zones_is_counted_under_noise(count, seed, unit):
    """5 % noise, any unit; the light is a simulator's that shares nothing with the panel's code."""
    rng = np.random.default_rng(seed)
    x = (np.arange(120) + 0.5) / 120
    light = np.array([box_light(p, 0.52, count, 6, 0.011, 0.02) for p in x])
    noisy = unit * light * np.exp(0.05 * rng.standard_normal(x.size))
    assert count_from_light("horizontal", x, noisy, box=0.011).count == count


@given(seed=st.integers(0, 2**32 - 1), order=st.randoms(use_true_random=False))
@settings(max_examples=20, deadline=None, derandomize=True)
def test_a_tone_reading_does_not_depend_on_the_order_of_its_readings(seed, order):
    rng = np.random.default_rng(seed)
    signal = np.sort(rng.random(12).round(2))
    light = light_from_pq(signal) * np.exp(0.1 * rng.standard_normal(12))
    shuffled = list(range(12))
    order.shuffle(shuffled)
    (first, _), (second, _) = (
        tone_reading(signal[which], light[which]) for which in (list(range(12)), shuffled)
    )
    np.testing.assert_allclose(second.light, first.light, rtol=1e-12)
    np.testing.assert_array_equal(second.signal, first.signal)
    assert (np.diff(first.light) >= 0).all()  # physics §3: noise may break the order, we may not
