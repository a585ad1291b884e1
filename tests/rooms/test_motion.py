"""Motion as shown against what can be worked out on paper, and against a separate simulation."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from emulate import EmulateError, Frame
from emulate.demo_frames import clip
from emulate.demo_frames.shots import POSTS_SPEED
from emulate.films.followed import measure_motion
from emulate.films.motion import (
    Shown,
    as_followed,
    cadence,
    edge_seen,
    edge_time,
    images_at,
    spread_of,
)

HZ = 60.0
T = 1 / HZ


def measured(rate, shown, px_per_s=960.0):
    return {
        name: found.value for name, found in measure_motion(rate, shown, px_per_s=px_per_s).items()
    }


@pytest.mark.parametrize("hz", [24.0, 50.0, 60.0, 120.0, 240.0])
def test_an_ideal_hold_smears_an_edge_into_a_straight_ramp(hz):
    """A picture held for T while the eye moves by v·T: a ramp of that width, 10 to 90 % is 0.8 v·T
    (geometry)."""
    ramp = edge_seen(np.array([-1.0, -0.75, -0.5, -0.25, 0.0]) / hz, hz, Shown(hz))
    assert ramp == pytest.approx([1.0, 0.75, 0.5, 0.25, 0.0], abs=1e-12)
    found = measured(hz, Shown(hz), 900.0)
    assert found["motion.edge"] == pytest.approx(1e3 * 0.8 / hz, rel=1e-9)
    assert found["motion.edge_px"] == pytest.approx(0.8 * 900 / hz, rel=1e-9)
    assert found["motion.extended"] == pytest.approx(1e3 / hz, rel=1e-9)


def test_halving_the_time_with_light_halves_the_smear_and_the_light():
    """A scanning backlight: one flash a refresh; geometry as above."""
    whole, half = measured(HZ, Shown(HZ)), measured(HZ, Shown(HZ, 0.5))
    assert half["motion.edge"] == pytest.approx(whole["motion.edge"] / 2, rel=1e-9)
    assert (whole["motion.light"], half["motion.light"]) == (1.0, 0.5)
    assert (whole["motion.images"], half["motion.images"]) == (1, 1)


def test_three_two_pulldown_stays_two_and_three_refreshes():
    """24 pictures on 60 Hz, as film runs on 60 Hz television: dwell of 2/60 and 3/60 s in turn."""
    dwell = cadence(24, Shown(60)).dwell_s
    assert sorted(dwell) == pytest.approx([2 / 60, 3 / 60])
    found = measured(24, Shown(60))
    assert found["motion.dwell_shortest"] == pytest.approx(1e3 * 2 / 60)
    assert found["motion.dwell_longest"] == pytest.approx(1e3 * 3 / 60)
    assert found["motion.unevenness"] == pytest.approx(1 / 5)
    assert found["motion.dropped"] == 0


@pytest.mark.parametrize(("hz", "refreshes"), [(48, 2), (72, 3), (120, 5), (24, 1)])
def test_whole_numbers_of_refreshes_are_even(hz, refreshes):
    assert cadence(24, Shown(hz)).dwell_s == pytest.approx([refreshes / hz])
    assert measured(24, Shown(hz))["motion.unevenness"] == 0


def test_pulldown_smears_by_the_sum_of_two_ramps():
    """One picture from 0 to 50 ms behind, the next from 8⅓ to 41⅔ ms, on show for 50 and 33⅓ of
    83⅓ ms: one tenth of the light before 8⅓ ms and one tenth after 41⅔, so 10 to 90 % is 33⅓ ms."""
    places = -np.array([25 / 3, 25.0, 125 / 3]) * 1e-3
    assert edge_seen(places, 24, Shown(60)) == pytest.approx([0.1, 0.5, 0.9], abs=1e-12)
    assert edge_time(24, Shown(60)) == pytest.approx(1 / 30, rel=1e-9)


def test_ntsc_film_comes_round_after_a_thousand_refreshes():
    """24000/1001 pictures a second on 60 Hz: 2.5025 refreshes each, so 1001 to 400 pictures."""
    tempo = cadence(23.976, Shown(60))
    assert (tempo.refreshes, tempo.pictures) == (1001, 400)
    assert sorted(set(np.round(tempo.dwell_s * 60))) == [2, 3]
    assert cadence(Fraction(24000, 1001), Shown(60)) == tempo
    exact = cadence(24000 / 1001, Shown(60000 / 1001))
    assert (exact.refreshes, exact.pictures) == (5, 2)


def test_more_pictures_than_refreshes_are_left_out():
    found = measured(60, Shown(30))
    assert found["motion.dropped"] == 0.5
    assert found["motion.unevenness"] == 0


@pytest.mark.parametrize(
    ("rate", "shown", "count", "gap_s"),
    [
        (60, Shown(60, 0.3), 1, 0),
        (60, Shown(120, 0.3), 2, 1 / 120),
        (60, Shown(60, 0.3, 2), 2, 1 / 120),
        (24, Shown(48, 0.5), 2, 1 / 48),
        (24, Shown(72, 0.4), 3, 1 / 72),
        (60, Shown(120, 1.0), 1, 0),
    ],
)
def test_a_thing_shows_as_often_as_a_picture_of_it_flashes(rate, shown, count, gap_s):
    """Each flash of one picture paints it where the eye has got to meanwhile (geometry)."""
    places = images_at(rate, shown)
    assert len(places) == count
    assert -np.diff(places) == pytest.approx(np.full(count - 1, gap_s))
    found = measured(rate, shown, 960.0)
    assert found["motion.images"] == count
    if count > 1:
        assert found["motion.image_gap"] == pytest.approx(960 * gap_s)
    else:
        assert np.isnan(found["motion.image_gap"])


def test_a_double_image_leaves_a_step_in_the_edge():
    """Half way between two flashes of one picture, half of the light is there."""
    middle = images_at(60, Shown(120, 0.2)).mean()
    places = middle + np.linspace(-0.2, 0.2, 5) / 120
    assert edge_seen(places, 60, Shown(120, 0.2)) == pytest.approx([0.5] * 5, abs=1e-12)


@pytest.mark.parametrize("constant", [0.001, 0.004, 0.012])
def test_a_slow_pixel_under_a_hold_is_a_ramp_through_a_low_pass(constant):
    """Box of T through an exponential of time constant τ, closed form integrated by scipy."""

    def light(
        place,
    ):  # the eye passes pixels that turned bright at times 0..T before and ever since
        def at(time):
            turned = np.ceil((place + time) / T) * T
            return 1 - np.exp(-(time - turned) / constant) if time > turned else 0.0

        jump = np.clip(np.ceil(place / T) * T - place, 0, T)
        return sum(quad(at, *span, limit=200)[0] for span in ((0, jump), (jump, T))) / T

    shown = Shown(HZ, pixel_s=constant)
    for place in (-0.5 * T, -0.9 * T, -1.3 * T, -2.2 * T):
        assert edge_seen(place, HZ, shown)[0] == pytest.approx(light(place), abs=1e-7)
    ends = [brentq(lambda p, v=v: light(p) - v, -T - 12 * constant, T) for v in (0.9, 0.1)]
    assert edge_time(HZ, shown) == pytest.approx(ends[1] - ends[0], rel=1e-5)


def test_a_slow_pixel_alone_is_an_exponential():
    """With flashes of no length the smear is the pixel's own response, and the flash at the end of
    a refresh finds it settled but for e^(−T/τ) of the step."""
    shown = Shown(HZ, 0.001, pixel_s=0.01)
    behind = -T * (
        np.arange(3) + 1.0
    )  # where the flash of this picture, and of those before, falls
    expected = [1 - np.exp(-(k + 1) * T / 0.01) for k in range(3)]
    assert edge_seen(behind, HZ, shown) == pytest.approx(expected, abs=2e-3)
    assert edge_seen(0.1 * T, HZ, shown)[0] == 0


def test_a_slow_zone_smears_further_and_a_fast_one_does_not():
    times = [
        edge_time(HZ, Shown(HZ, pixel_s=0.003, zone_s=zone)) for zone in (0.0, 1e-6, 0.01, 0.05)
    ]
    assert times[0] == pytest.approx(times[1], rel=1e-3)
    assert times[1] < times[2] < times[3]


@settings(max_examples=25, deadline=None)
@given(
    rate=st.sampled_from([24, 25, 30, 50, 60, 120]),
    hz=st.sampled_from([24.0, 48.0, 50.0, 60.0, 100.0, 120.0]),
    hold=st.floats(0.05, 1.0),
    strobes=st.integers(1, 3),
    pixel=st.sampled_from([0.0, 0.002, 0.02]),
    seed=st.integers(0, 1000),
)
def test_a_simulation_of_time_says_the_same(rate, hz, hold, strobes, pixel, seed):
    """Written apart: photons at random times, each from the pixel the eye is at."""
    shown, rng = Shown(hz, hold, strobes, pixel), np.random.default_rng(seed)
    rounds = cadence(rate, shown).refreshes
    refresh = rng.integers(0, rounds, 20_000)
    part = rng.integers(0, strobes, 20_000)
    time = (refresh + (part + 1 - hold * rng.uniform(size=20_000)) / strobes) / hz
    place = rng.uniform(-1.5, 0.5) / rate
    picture = np.ceil((place + time) * rate - 1e-9)
    turned = np.ceil(picture * hz / rate - 1e-9) / hz
    age = np.maximum(time - turned, 0)
    light = np.where(time >= turned, -np.expm1(-age / pixel) if pixel else 1.0, 0.0)
    assert edge_seen(place, rate, shown)[0] == pytest.approx(light.mean(), abs=0.02)


@settings(max_examples=20, deadline=None)
@given(
    rate=st.sampled_from([24, 60, 100]),
    hz=st.sampled_from([24.0, 60.0, 144.0]),
    hold=st.floats(0.01, 1.0),
    pixel=st.floats(0.0, 0.02),
    speed=st.floats(10, 3000),
)
@example(rate=24, hz=24.0, hold=1.0, pixel=2e-323, speed=10.0)
def test_an_edge_never_rises_and_its_spread_loses_no_light(rate, hz, hold, pixel, speed):
    shown = Shown(hz, hold, 1, pixel)
    light = edge_seen(np.linspace(-0.3, 0.1, 101), rate, shown)
    assert np.diff(light).max() <= 1e-12
    spread = spread_of(rate, shown, speed)
    assert spread.sum() == pytest.approx(1.0, abs=1e-8)
    assert spread.min() > -1e-12


def test_a_followed_picture_is_its_own_mean_along_the_motion():
    """At a speed of four pixels a refresh an ideal hold is the mean over four pixels (geometry)."""
    light = np.zeros((2, 64, 3), np.float32)
    light[:, 30] = 100
    seen = as_followed(light, HZ, Shown(HZ), 4 * HZ)[0, :, 0]
    # a pixel is a box itself: four boxes of a quarter, the outer two shared with their neighbours
    assert seen.sum() == pytest.approx(100, rel=1e-5)
    assert np.flatnonzero(seen > 1e-3).tolist() == [26, 27, 28, 29, 30]
    assert seen[26:31] == pytest.approx([12.5, 25, 25, 25, 12.5], rel=1e-4)


def test_flashes_take_light_and_nothing_else_from_an_even_picture():
    even = np.full((4, 400, 3), 50, np.float32)
    assert as_followed(even, 24, Shown(48, 0.25), 100.0) == pytest.approx(12.5, rel=1e-5)


def test_a_still_display_of_moving_posts_is_what_an_eye_on_the_posts_averages():
    """The clip itself, held and followed: the mean of its frame where the eye takes it, by area."""
    rows, rate = 96, 48  # the posts move by exactly one pixel a picture
    frame = clip("posts_passing", rows=rows, rate=rate).frame(4)
    assert isinstance(frame, Frame)
    assert POSTS_SPEED * rows / rate == 1
    seen = as_followed(frame.light, rate, Shown(rate), POSTS_SPEED * rows)
    shifted = np.roll(frame.light, -1, axis=1)
    assert seen[:, 1:-1] == pytest.approx((frame.light + shifted)[:, 1:-1] / 2, rel=1e-4)


def test_sentences_are_plain_and_say_when_there_is_nothing():
    perfect = measure_motion(1000, Shown(1000), px_per_s=100)
    assert perfect["motion.images"].sentence == "A moving thing is seen once."
    assert perfect["motion.unevenness"].sentence == "The pace is even."
    for shown in (Shown(), Shown(48, 0.3), Shown(30, 0.2, 2, 0.004, 0.1)):
        found = measure_motion(24, shown, px_per_s=333.3)
        assert found.basis.endswith("px a second.")
        for name, each in found.items():
            assert each.sentence.endswith("."), name
            assert "nan" not in each.sentence
            assert each.definition.endswith((".", "[ours]"))


@pytest.mark.parametrize(
    "call",
    [
        lambda: Shown(0),
        lambda: Shown(60, 0),
        lambda: Shown(60, 1.2),
        lambda: Shown(60, 1, 0),
        lambda: Shown(60, 1, 1.5),
        lambda: Shown(60, 1, 1, -1),
        lambda: Shown(np.nan),
        lambda: cadence(0, Shown()),
        lambda: cadence(23.1234567, Shown(59.987654)),
        lambda: measure_motion(24, Shown(), px_per_s=0),
        lambda: as_followed(np.ones((2, 8, 3), np.float32), 24, Shown(), 2000.0),
        lambda: as_followed(np.ones((2, 8, 3), np.float32), 24, Shown(), np.nan),
    ],
)
def test_refusals(call):
    with pytest.raises(EmulateError, match="accepted"):
        call()
