"""The invented clips: light that moves as their recipes say, the same each time."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from emulate import EmulateError, open_clip, write_clip
from emulate.cuts import is_cut, signature_of
from emulate.demo_frames import CLIPS, clip, question
from emulate.demo_frames.shots import CUT_S, LAMP_SPEED, POSTS_SPEED

ROWS = 90


@pytest.fixture(scope="module")
def reels():
    return {name: clip(name, rows=ROWS) for name in CLIPS}


@pytest.mark.parametrize("name", CLIPS)
def test_clips_are_light_of_the_size_length_and_levels_they_promise(reels, name):
    reel = reels[name]
    frames = list(reel)
    assert len(frames) == reel.frames == round(24 * reel.duration_s)
    assert 2 <= reel.duration_s <= 4
    assert reel.shape == (ROWS, 160)
    largest = [float(frame.light.max()) for frame in frames]
    assert reel.metadata.max_cll == pytest.approx(max(largest), abs=0.5)
    means = [frame.light.max(axis=2).mean() for frame in frames]
    assert reel.metadata.max_fall == pytest.approx(max(means), abs=0.006)
    assert max(largest) <= reel.metadata.mastering_peak == 4000
    assert [frame.index for frame in frames] == list(range(len(frames)))
    assert frames[-1].time_s == pytest.approx((len(frames) - 1) / 24)
    assert question(name).endswith("?")


@pytest.mark.parametrize("name", CLIPS)
def test_same_call_same_bytes_from_any_frame_on(reels, name):
    again = clip(name, rows=ROWS).frame(13)
    np.testing.assert_array_equal(again.light, reels[name].frame(13).light)


def _place(light):
    """Middle of the light across, in picture heights."""
    across = light.sum(axis=(0, 2), dtype=np.float64)
    return (across * (np.arange(light.shape[1]) + 0.5)).sum() / across.sum() / light.shape[0]


def test_the_lamp_drifts_at_its_speed(reels):
    places = [_place(np.where(f.light > 100, f.light, 0)) for f in reels["lamp_across_black"]]
    steps = np.diff(places)
    assert steps.mean() == pytest.approx(LAMP_SPEED / 24, rel=0.01)
    assert np.abs(steps - LAMP_SPEED / 24).max() < 0.4 / ROWS  # no stutter beyond a part of a pixel


def test_the_posts_pass_at_their_speed_and_keep_their_light():
    """At 48 a second and 96 rows a frame moves them by exactly one pixel."""
    reel = clip("posts_passing", rows=96, rate=48)
    first, second = reel.frame(4).light, reel.frame(5).light
    assert POSTS_SPEED * 96 / 48 == 1
    np.testing.assert_allclose(second[:, 1:], first[:, :-1], rtol=1e-4, atol=1e-4)


def test_the_fade_is_the_first_frame_turned_down_and_up_again(reels):
    frames = list(reels["fade_and_return"])
    light = [float(frame.light.mean(dtype=np.float64)) for frame in frames]
    assert np.argmin(light) == 36
    assert light[36] < 1e-3 * light[0]
    np.testing.assert_allclose(light[1:36], light[:36:-1], rtol=1e-4)
    below = frames[0].light.max(axis=2) < 900  # under the bend of the grade, a quarter of 4000
    ratio = frames[9].light[below] / np.maximum(frames[0].light[below], 1e-6)
    assert np.ptp(ratio[frames[0].light[below] > 0.01]) < 1e-4


def test_the_only_cut_is_from_the_cave_to_the_snow(reels):
    for name, reel in reels.items():
        signatures = [(frame.time_s, signature_of(frame)) for frame in reel]
        cuts = [time for (_, a), (time, b) in pairwise(signatures) if is_cut(a, b)]
        assert cuts == ([CUT_S] if name == "cave_to_snow" else []), name


def test_the_cave_is_dark_and_the_snow_is_not(reels):
    cave, snow = reels["cave_to_snow"].at(1.0).light, reels["cave_to_snow"].at(2.0).light
    assert np.percentile(cave.max(axis=2), 99) < 5
    assert np.median(snow.max(axis=2)) > 500


def test_a_clip_on_file_is_the_clip(reels, tmp_path):
    """PQ in 10-bit narrow codes: half a code is 1/1752 of the signal (BT.2100-2 table 9)."""
    reel = reels["posts_passing"]
    path = write_clip(reel, tmp_path / "posts.mkv", rate=24, codec="ffv1", chroma="444")
    again = open_clip(path)
    assert again.frames == reel.frames
    np.testing.assert_allclose(again.frame(7).light, reel.frame(7).light, rtol=0.02, atol=2e-3)


@pytest.mark.parametrize(
    ("name", "options"),
    [("lamp", {}), *((CLIPS[0], each) for each in ({"peak": 5.0}, {"rows": 9}, {"rate": 0}))],
)
def test_refusals(name, options):
    with pytest.raises(EmulateError, match="accepted is"):
        clip(name, **options)
