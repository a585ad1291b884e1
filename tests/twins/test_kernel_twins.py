"""Kernels beside plain numpy twins, at the places where changed kernels went unnoticed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from emulate.findings.evidence import Detail, Evidence
from emulate.frames.frame import Frame
from emulate.frames.ycbcr import pq_picture
from emulate.panel.zones import SelfEmissive
from emulate.sight import Viewer
from tests.rooms.handmade import rendering_of
from tests.rooms.test_video_write import plain_planes

WEIGHTS = np.array([0.2627, 0.6780, 0.0593])  # ITU-R BT.2020-2 table 4
few = settings(max_examples=8, deadline=None, derandomize=True)
seeds = st.integers(0, 2**32 - 1)
sizes = st.tuples(st.integers(1, 23), st.integers(1, 31))


def light_of(seed, size):
    rng = np.random.default_rng(seed)
    return (10 ** rng.uniform(-3, 3.5, (*size, 3))).astype(np.float32)


@given(seed=seeds, size=sizes)
@few
def test_a_self_emissive_panel_s_load_is_the_mean_of_all_channels(seed, size):
    """Physics §5.5: mean over pixels of (R + G + B)/(3·L_open), at most 1."""
    light = light_of(seed, size)
    expected = min(light.astype(np.float64).mean() / 700.0, 1.0)
    assert SelfEmissive().seen(light, 700.0).fill == pytest.approx(expected, rel=1e-9)


@given(seed=seeds, size=sizes, chroma=st.sampled_from(["420", "422", "444"]))
@few
def test_odd_sides_hold_their_edge_in_chroma(seed, size, chroma):
    """The last sample of an odd side has no neighbour: the edge stands for it."""
    light = light_of(seed, size)
    picture = pq_picture(light, chroma=chroma)
    planes = (picture.first, picture.second, picture.third)
    for plane, expected in zip(planes, plain_planes(light, chroma), strict=True):
        assert np.array_equal(plane, expected)


@given(seed=seeds, reflected=st.sampled_from([0.0, 2.0]), bars=st.integers(0, 3))
@few
def test_light_kept_is_summed_where_it_is_asked(seed, reflected, bars):
    """Of two codes side by side the marked one counts, no pixel for more than was asked of it."""
    rng = np.random.default_rng(seed)
    light = light_of(seed, (12, 20))
    frame = Frame.from_light(light, active=(bars, 12 - bars, 2 * bars, 20 - bars))
    shown = (light * rng.uniform(0.2, 1.4, (12, 20, 1))).astype(np.float32)
    rendering = rendering_of(frame, shown, asked=light, reflected=reflected)
    mask = rng.integers(0, 4, (12, 20)).astype(np.uint8)
    found = Evidence(frame, rendering, Viewer()).light_kept(mask, Detail.SHADOW)
    asked = light.astype(np.float64) @ WEIGHTS
    own = shown.astype(np.float64) @ WEIGHTS
    counts = mask & Detail.SHADOW != 0
    counts[:bars], counts[12 - bars :], counts[:, : 2 * bars], counts[:, 20 - bars :] = [False] * 4
    assert found == pytest.approx(
        (asked[counts].sum(), np.minimum(own, asked)[counts].sum()), rel=1e-5
    )
