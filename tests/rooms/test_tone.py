"""Tone: curves over pixels, readings into curves, and what is flagged."""

import numba
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from emulate.colorimetry import colour_science
from emulate.errors import RequestError
from emulate.panel.cause import Cause
from emulate.panel.curves import (
    BLACK,
    Curve,
    between,
    bt2390,
    hard_clip,
    identity,
    measured,
    st2094_10,
    st2094_40,
)
from emulate.panel.tone import ActsOn, tone_reading, toned
from emulate.transfer import light_from_pq, pq_from_light

ACTS: tuple[ActsOn, ...] = ("max_rgb", "per_channel", "luminance")
SIGNAL = np.array([0.0, 0.25, 0.5, 0.75, 0.9])
LIGHT = np.array([0.0, 5.15, 92.2, 700.0, 900.0])


def random_light(shape: tuple[int, ...] = (40, 60, 3), seed: int = 1) -> np.ndarray:
    rng = np.random.default_rng(seed)
    light = 10 ** rng.uniform(-4, 4, shape)
    light[rng.uniform(size=shape) < 0.05] = 0
    return light.astype(np.float32)


def twin_of_measured(light: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """T and slope of SIGNAL, LIGHT: scipy's PCHIP asked directly, PQ by colour-science."""
    models = colour_science().models
    nodes = np.maximum(SIGNAL, BLACK)
    spline = PchipInterpolator(nodes, models.eotf_inverse_ST2084(LIGHT))
    e = models.eotf_inverse_ST2084(light)
    within = np.clip(e, nodes[0], nodes[-1])
    slope = np.where(e > nodes[-1], 0.0, spline(within, 1))
    return models.eotf_ST2084(spline(within)), slope


def twin_toned(light: np.ndarray, acts_on: ActsOn) -> tuple[np.ndarray, np.ndarray]:
    """Physics §3 as plain numpy."""
    rgb = light.astype(np.float64)
    key = rgb
    if acts_on == "max_rgb":
        key = rgb.max(axis=-1, keepdims=True)
    if acts_on == "luminance":
        key = (rgb * [0.2627, 0.6780, 0.0593]).sum(axis=-1, keepdims=True)
    out, slope = twin_of_measured(key)
    scale = np.divide(out, key, out=np.zeros_like(key), where=key > 0)
    return rgb * scale, ((slope < 0.05) & (key > 0)).any(axis=-1)


@pytest.mark.parametrize("acts_on", ACTS)
def test_pixels_equal_the_numpy_twin(acts_on: ActsOn) -> None:
    light = random_light()
    out, why = toned(light, measured(SIGNAL, LIGHT), acts_on)
    expected, flat = twin_toned(light, acts_on)
    np.testing.assert_allclose(out, expected, rtol=1e-6, atol=1e-12)
    assert out.dtype == np.float32
    assert np.array_equal(why == Cause.CURVE_HIGH, flat)
    assert flat.any()


@pytest.mark.parametrize("acts_on", ACTS)
def test_identity_is_exact_and_flags_nothing(acts_on: ActsOn) -> None:
    light = np.minimum(random_light(), np.float32(10000))
    light[0, :3] = 10000
    out, why = toned(light, identity(), acts_on)
    if acts_on == "per_channel":
        assert np.array_equal(out, light)
    np.testing.assert_allclose(out, light, rtol=1e-6)
    assert not why.any()


@pytest.mark.parametrize("curve", [bt2390(4000, 0, 900, 0), measured(SIGNAL, LIGHT), hard_clip(50)])
def test_grey_is_the_same_whatever_the_curve_acts_on(curve: Curve) -> None:
    grey = np.repeat(random_light((30, 30, 1)), 3, axis=2)
    ways = [toned(grey, curve, acts_on)[0] for acts_on in ACTS]
    np.testing.assert_allclose(ways[1], ways[0], rtol=1e-6)
    np.testing.assert_allclose(ways[2], ways[0], rtol=1e-6)


def test_max_rgb_keeps_the_ratio_of_channels() -> None:
    light = random_light()
    out, _ = toned(light, bt2390(10000, 0, 500, 0))
    lit = (light > 0).all(axis=-1)
    shares = out[lit] / light[lit]
    np.testing.assert_allclose(shares, shares[:, :1] * np.ones(3), rtol=1e-6)


def test_by_luminance_a_channel_may_pass_the_peak() -> None:
    red = np.array([[[1000, 0, 0]]], dtype=np.float32)
    out, why = toned(red, hard_clip(500), "luminance")
    assert out[0, 0, 0] == 1000
    assert not why.any()


@pytest.mark.parametrize("acts_on", ACTS)
def test_hard_clip_flags_the_upper_side_above_its_peak_only(acts_on: ActsOn) -> None:
    grey = np.array([[0, 1, 699, 701, 5000]], dtype=np.float32)
    why = toned(np.repeat(grey[..., None], 3, axis=2), hard_clip(700), acts_on)[1]
    assert why.tolist() == [[0, 0, 0, Cause.CURVE_HIGH, Cause.CURVE_HIGH]]


def test_crushed_blacks_flag_the_lower_side_and_black_itself_does_not() -> None:
    start = float(pq_from_light(0.1))
    crushed = measured([0, start, 0.5, 1], [0.01, 0.01, *light_from_pq([0.5, 1.0])])
    grey = np.array([[0, 0.05, 1, 100]], dtype=np.float32)
    why = toned(np.repeat(grey[..., None], 3, axis=2), crushed)[1]
    assert why.tolist() == [[0, Cause.CURVE_LOW, 0, 0]]


def test_one_flat_channel_is_enough_by_channel() -> None:
    light = np.array([[[10, 2000, 10], [10, 10, 10]]], dtype=np.float32)
    assert toned(light, hard_clip(700), "per_channel")[1].tolist() == [[Cause.CURVE_HIGH, 0]]


def test_a_straight_line_on_the_pq_scale_flags_nothing() -> None:
    line = measured([0, 1], [0, float(light_from_pq(0.6))])
    assert not toned(np.minimum(random_light(), np.float32(10000)), line)[1].any()


def test_light_beyond_the_signal_is_a_flat_top() -> None:
    light = np.full((1, 1, 3), 12000, dtype=np.float32)
    out, why = toned(light, identity())
    np.testing.assert_allclose(out, 10000, rtol=1e-6)
    assert why[0, 0] == Cause.CURVE_HIGH


def test_same_bytes_for_one_and_two_threads() -> None:
    light, curve = random_light((200, 50, 3)), measured(SIGNAL, LIGHT)
    most = numba.get_num_threads()
    try:
        results = []
        for threads in {1, most}:
            numba.set_num_threads(threads)
            results += [toned(light, curve, acts_on)[0].tobytes() for acts_on in ACTS]
    finally:
        numba.set_num_threads(most)
    assert len(set(results)) == 3


def test_measured_passes_through_its_readings_and_is_flat_beyond() -> None:
    curve = measured(SIGNAL, LIGHT)
    np.testing.assert_allclose(curve.light(light_from_pq(SIGNAL)), LIGHT, rtol=1e-9)
    assert curve.signal(0.95) == curve.signal(1.0) == pytest.approx(pq_from_light(900.0))
    assert curve.peak == pytest.approx(900)


def test_measured_runs_to_black_where_black_was_not_read() -> None:
    curve = measured([0.25, 0.75], [5.0, 700.0])
    assert curve.light(0.0) == 0
    assert 0 < curve.light(0.1) < 5


def test_measured_readings_on_the_pq_curve_are_the_identity() -> None:
    signal = np.linspace(0, 1, 21)
    light = np.geomspace(1e-3, 1e4, 300)
    curve = measured(signal, light_from_pq(signal))
    np.testing.assert_allclose(curve.light(light), light, rtol=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.floats(1, 10000), st.floats(0, 1), st.floats(50, 10000), st.floats(0, 10), st.booleans())
def test_bt2390_never_falls_and_keeps_to_the_panel(
    source: float, source_black: float, peak: float, black: float, equal: bool
) -> None:
    source = max(source, source_black + 1)
    black = source_black if equal else min(black, source / 2)
    curve = bt2390(source, source_black, peak, black)
    toned_light = curve.light(np.geomspace(1e-5, 1e4, 800))
    assert (np.diff(toned_light) >= -1e-9 * toned_light[1:]).all()
    if peak < source or black > source_black:
        assert toned_light.max() <= peak * (1 + 1e-9)
        assert toned_light.min() >= black * (1 - 1e-9)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 1), st.floats(0, 1)), min_size=2, max_size=12))
def test_measured_never_falls(points: list[tuple[float, float]]) -> None:
    signal = np.unique(np.round([x for x, _ in points], 3))
    if len(signal) < 2:
        return
    light = light_from_pq(np.sort([y for _, y in points])[: len(signal)])
    v = measured(signal, light).signal(np.linspace(0, 1, 500))
    assert (np.diff(v) >= -1e-12).all()


def test_slope_is_the_derivative() -> None:
    for curve in (bt2390(4000, 0, 600, 0.05), measured(SIGNAL, LIGHT)):
        e = np.linspace(0.011, 0.989, 700)
        e = e[np.abs(e[:, None] - curve.edges).min(axis=1) > 1e-6]
        numeric = (curve.signal(e + 1e-7) - curve.signal(e - 1e-7)) / 2e-7
        np.testing.assert_allclose(curve.slope(e), numeric, atol=1e-5)


def test_closed_forms_are_cut_finely_enough() -> None:
    """V is off by less than 1e-9, as curves.py says: each piece against the form itself."""
    e = np.linspace(0.002, 0.9, 20011)  # from 0.0002 cd/m²
    a, b, c = np.linalg.solve(
        [[1, x, -x * y] for x, y in [(0, 0), (0.4, 0.3), (0.9, 0.6)]], [0, 0.3, 0.6]
    )
    ten = st2094_10([(0, 0), (0.4, 0.3), (0.9, 0.6)])
    assert np.abs(ten.signal(e) - (a + b * e) / (1 + c * e)).max() < 1e-9

    x = light_from_pq(e) / 9000
    forty = st2094_40(9000, (0.02, 0.1), [0.4, 0.7, 0.9], 500)
    t = np.clip((x - 0.02) / 0.98, 0, 1)
    bent = 4 * t * (1 - t) ** 3 * 0.4 + 6 * t**2 * (1 - t) ** 2 * 0.7 + 4 * t**3 * (1 - t) * 0.9
    y = np.where(x <= 0.02, 5 * x, 0.1 + 0.9 * (bent + t**4))
    assert np.abs(forty.signal(e) - pq_from_light(500 * y)).max() < 1e-9

    low, high = pq_from_light([0.0, 4000.0])
    top, lift = (pq_from_light([600.0, 0.5]) - low) / (high - low)
    knee, e1 = 1.5 * top - 0.5, (e - low) / (high - low)
    rolled = top - (top - knee) * (1 - (np.minimum(e1, 1) - knee) / (1 - knee)) ** 3
    e2 = np.where(e1 < knee, e1, rolled)
    v = low + (high - low) * np.minimum(e2 + lift * (1 - e2) ** 4, top)
    assert np.abs(bt2390(4000, 0, 600, 0.5).signal(e) - v).max() < 1e-9


def test_between_is_linear_in_the_signal_of_the_output() -> None:
    first, second = bt2390(4000, 0, 900, 0), measured(SIGNAL, LIGHT)
    e = np.linspace(0, 1, 999)
    expected = 0.7 * first.signal(e) + 0.3 * second.signal(e)
    np.testing.assert_allclose(between(first, second, 0.3).signal(e), expected, atol=1e-12)
    assert between(first, second, 0.0) is first
    assert between(first, second, 1.0) is second


def test_repeats_are_averaged_and_their_spread_kept() -> None:
    reading, spread = tone_reading([0.5, 0.0, 0.5, 0.75], [90.0, 0.0, 94.0, 700.0], 1000.0)
    assert reading.signal.tolist() == [0.0, 0.5, 0.75]
    assert reading.light.tolist() == [0.0, 92.0, 700.0]
    assert spread[1] == pytest.approx(np.sqrt(8))
    assert np.isnan(spread[[0, 2]]).all()
    assert reading.mastering_peak == 1000


def test_noise_that_breaks_the_order_is_pooled() -> None:
    """Pool adjacent violators by hand: two neighbours out of order share their mean signal."""
    signals = np.array([0.1, 0.55, 0.45, 0.7])
    reading, _ = tone_reading([0.1, 0.5, 0.6, 0.8], light_from_pq(signals))
    np.testing.assert_allclose(pq_from_light(reading.light), [0.1, 0.5, 0.5, 0.7], atol=1e-12)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: hard_clip(0),
        lambda: bt2390(0),
        lambda: bt2390(1000, 0, 500, 600),
        lambda: st2094_40(1000, (1.0, 0.5), [0.5], 500),
        lambda: st2094_40(1000, (0.1, 0.5), [0.5, 0.2], 500),
        lambda: st2094_10([(0, 0), (0.5, 0.6), (0.4, 0.7)]),
        lambda: bt2390(float("nan")),
    ],
)
def test_impossible_curves_are_refused(wrong: object) -> None:
    with pytest.raises(RequestError, match="accepted is"):
        wrong()  # type: ignore[operator]
