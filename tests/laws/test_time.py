"""What holds for everything that moves (physics §5.4)."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from emulate import Frame, Rendering, render
from emulate.panel.limiter import Limiter
from emulate.panel.panel import Panel
from emulate.panel.spread import Spread
from emulate.panel.zones import Zones
from emulate.values import numbers

SPREAD = Spread(numbers([1.0]), numbers([0.1]))
LIMITER = Limiter(numbers([0, 0.1, 1]), numbers([1, 1, 0.4]), "dims", 0.5, 0.2)


def panel_of(limiter: Limiter = LIMITER, **zones: object) -> Panel:
    moving: dict[str, object] = {"attack_s": 0.05, "decay_s": 0.3, "resets_at_cuts": False}
    source = Zones(3, 4, reach=0.2, **(moving | zones))  # type: ignore[arg-type]
    return Panel("one", 1000.0, zones=source, spread=SPREAD, limiter=limiter)


def shown(lights: Sequence[np.ndarray], panel: Panel, dt: float, **rest: object) -> list[Rendering]:
    """Frames one after another, dt seconds apart."""
    renderings: list[Rendering] = []
    for index, light in enumerate(lights):
        frame = Frame.from_light(light, time_s=index * dt)
        state = renderings[-1].state if renderings else None
        renderings.append(render(frame, panel, state=state, **rest))  # type: ignore[arg-type]
    return renderings


def lights_of(seed: int, count: int = 6) -> list[np.ndarray]:
    rng = np.random.default_rng(seed)
    return [1000 * rng.random((12, 16, 3)) ** 4 * rng.random() for _ in range(count)]


@given(seed=st.integers(0, 2**32 - 1), dt=st.sampled_from([1 / 24, 1 / 60, 0.5]))
@settings(max_examples=12, deadline=None)
def test_twice_the_frame_rate_gives_the_same_drives(seed, dt):
    lights = lights_of(seed)
    once = shown(lights, panel_of(), dt)
    twice = shown([light for light in lights for _ in range(2)], panel_of(), dt / 2)
    # the second of two showings ends where the single one does
    for single, double in zip(once[1:], twice[3::2], strict=True):
        np.testing.assert_allclose(double.drive, single.drive, rtol=1e-9)
        assert double.gain == pytest.approx(single.gain, rel=1e-12)


@given(seed=st.integers(0, 2**32 - 1), late=st.integers(0, 3))
@settings(max_examples=6, deadline=None, derandomize=True)
def test_latency_counts_frames_as_shown(seed, late):
    """A set that holds whole frames back holds twice as many at twice the rate."""
    lights = lights_of(seed)
    once = shown(lights, panel_of(latency_frames=late), 0.04)
    doubled = [light for light in lights for _ in range(2)]
    twice = shown(doubled, panel_of(latency_frames=2 * late), 0.02)
    for single, double in zip(once[1:], twice[3::2], strict=True):
        np.testing.assert_allclose(double.drive, single.drive, rtol=1e-9)


@given(seed=st.integers(0, 2**32 - 1), held=st.integers(0, 4))
@settings(max_examples=6, deadline=None, derandomize=True)
def test_latency_shows_the_drives_of_frames_before(seed, held):
    still = Limiter()
    lights = lights_of(seed)
    prompt = shown(lights, panel_of(still, attack_s=0.0, decay_s=0.0), 0.04)
    late = shown(lights, panel_of(still, attack_s=0.0, decay_s=0.0, latency_frames=held), 0.04)
    for index, rendering in enumerate(late):
        expected = prompt[max(0, index - held)].drive
        np.testing.assert_array_equal(rendering.drive, expected)


seconds = st.floats(0.005, 2.0)


@given(attack=seconds, decay=seconds, dt=st.floats(0.002, 0.1))
@example(attack=0.05, decay=0.3, dt=0.02)
@settings(max_examples=12, deadline=None, derandomize=True)
def test_rise_and_fall_follow_their_own_constants(attack, decay, dt):
    """1 − exp(−t/attack) up and exp(−t/decay) down, to the last digit but a few."""
    black, white = np.zeros((12, 16, 3)), np.full((12, 16, 3), 1000.0)
    panel = panel_of(Limiter(), attack_s=attack, decay_s=decay)
    renderings = shown([black, *[white] * 5, *[black] * 5], panel, dt)
    drives = [float(rendering.drive[1, 1]) for rendering in renderings]
    up = [1 - math.exp(-k * dt / attack) for k in range(6)]
    down = [up[-1] * math.exp(-k * dt / decay) for k in range(1, 6)]
    assert drives == pytest.approx([*up, *down], rel=1e-9, abs=1e-12)
    rise, fall = drives[1], 1 - drives[6] / drives[5]  # the shares of the way in the same time
    assert (rise > fall) == (attack < decay) or rise == pytest.approx(fall)


@given(attack=seconds, decay=seconds, least=st.floats(0.05, 1.0))
@example(attack=0.5, decay=0.2, least=0.4)
@settings(max_examples=8, deadline=None, derandomize=True)
def test_a_limiter_moves_with_its_own_constants(attack, decay, least):
    black, white = np.zeros((12, 16, 3)), np.full((12, 16, 3), 1000.0)
    limiter = Limiter(numbers([0, 0.1, 1]), numbers([1, 1, least]), "dims", attack, decay)
    panel = panel_of(limiter, attack_s=0.0, decay_s=0.0)
    gains = [rendering.gain for rendering in shown([black, white, white, black], panel, 0.1)]
    full = [1.0] + [least + (1 - least) * math.exp(-k * 0.1 / decay) for k in (1, 2)]
    back = 1 - (1 - full[-1]) * math.exp(-0.1 / attack)
    assert gains == pytest.approx([*full, back], rel=1e-12)


@given(seed=st.integers(0, 2**32 - 1), held=st.integers(0, 2), dt=st.floats(0.004, 0.5))
@settings(max_examples=8, deadline=None, derandomize=True)
def test_a_still_clip_stays_where_it_started(seed, held, dt):
    light = lights_of(seed)[0]
    renderings = shown([light] * 4, panel_of(latency_frames=held), dt)
    for rendering in renderings[1:]:
        assert rendering.light.tobytes() == renderings[0].light.tobytes()


@given(seed=st.integers(0, 2**32 - 1))
@settings(max_examples=6, deadline=None, derandomize=True)
def test_the_first_frame_is_settled(seed):
    light = lights_of(seed)[0]
    moving, instant = (
        panel_of(),
        panel_of(Limiter(LIMITER.load, LIMITER.gain), attack_s=0, decay_s=0),
    )
    first, settled = (render(Frame.from_light(light), panel) for panel in (moving, instant))
    np.testing.assert_array_equal(first.drive, settled.drive)
    assert first.gain == settled.gain


def two_scenes() -> tuple[np.ndarray, np.ndarray]:
    """Two pictures of 36 × 64 that have nothing in common but their size."""
    y, x = np.mgrid[0:36, 0:64]
    cave = 0.05 + 30.0 * np.exp(-((x - 50) ** 2 + (y - 28) ** 2) / 60)
    snow = 400 + 350 * np.sin(x / 5) * np.cos(y / 7) + 3 * y
    return tuple(np.repeat(light[..., None], 3, axis=2) for light in (cave, snow))


@pytest.mark.parametrize("resets", [True, False])
def test_after_a_cut_the_panel_is_settled_if_it_resets_there(resets):
    cave, snow = two_scenes()
    panel = panel_of(resets_at_cuts=resets, latency_frames=1)
    first, second = shown([cave, snow], panel, 1 / 24)
    assert second.cut
    assert not first.cut
    settled = render(Frame.from_light(snow), panel)
    assert np.array_equal(second.drive, settled.drive) is resets
    assert (second.gain == settled.gain) is resets


def test_at_a_cut_a_dynamic_curve_starts_anew():
    cave, snow = two_scenes()
    cut = shown([cave, snow], panel_of(), 1 / 24, policy="by_frame")[1]
    fresh = render(Frame.from_light(snow), panel_of(), policy="by_frame")
    assert cut.state.peak == fresh.state.peak


def test_within_a_scene_a_dynamic_curve_moves():
    _, snow = two_scenes()
    brighter = shown([snow, 1.3 * snow], panel_of(), 1 / 24, policy="by_frame")[1]
    fresh = render(Frame.from_light(1.3 * snow), panel_of(), policy="by_frame")
    assert not brighter.cut
    assert snow.max() < brighter.state.peak < fresh.state.peak
