"""What holds for every frame and every panel."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numba
import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from emulate import Cause, Frame, render
from emulate.colorimetry import P3
from emulate.panel.cell import Angles, Cell
from emulate.panel.limiter import Limiter
from emulate.panel.panel import Panel
from emulate.panel.primaries import Primaries
from emulate.panel.spread import Spread
from emulate.panel.surface import Surface
from emulate.panel.tone import Tone, ToneReading
from emulate.panel.tracking import Tracking
from emulate.panel.uniformity import Uniformity
from emulate.panel.zones import Zones
from emulate.values import numbers

TWO = Spread(numbers([0.85, 0.15]), numbers([0.06, 0.35]))
CURVE = ToneReading(
    0.0, numbers([0, 0.25, 0.5, 0.75, 1.0]), numbers([0.0, 5.15, 92.2, 700.0, 900.0])
)


def frame_of(seed: int, shape: tuple[int, int] = (24, 40), peak: float = 2000.0) -> Frame:
    """Mostly dark, a few bright spots, some black: what pictures are."""
    rng = np.random.default_rng(seed)
    light = peak * rng.random((*shape, 3)) ** 6
    return Frame.from_light(np.where(rng.random((*shape, 1)) < 0.1, 0.0, light))


def panel_of(**effects: object) -> Panel:
    zones = Zones(4, 6, peak_weight=0.7, gamma=0.8, reach=0.3)
    whole: dict[str, object] = {"zones": zones, "spread": TWO, "cell": Cell(3000.0)}
    return Panel("one", 900.0, **(whole | effects))  # type: ignore[arg-type]


def everything(**effects: object) -> Panel:
    """Every effect at once."""
    whole: dict[str, object] = {
        "tone": Tone(curves=(CURVE,)),
        "primaries": Primaries(*P3, white=(0.310, 0.325)),
        "tracking": Tracking(*(numbers(v) for v in ([0.1, 100.0], [1, 1.02], [1, 1], [0.9, 1]))),
        "limiter": Limiter(numbers([0, 0.2, 1]), numbers([1, 1, 0.5])),
        "angles": Angles(numbers([0.0, 60.0]), numbers([3000, 800]), numbers([1, 0.5])),
        "uniformity": Uniformity(numbers([[0.9, 1, 0.9], [0.95, 1, 0.95], [0.9, 1, 0.9]])),
        "surface": Surface(0.01),
    }
    return panel_of(**(whole | effects))


seeds = st.integers(0, 2**32 - 1)


@given(seed=seeds)
@settings(max_examples=15, deadline=None)
def test_a_panel_without_effects_returns_the_frame(seed):
    frame = frame_of(seed, peak=10000.0)
    rendering = render(frame, Panel("perfect", 10000.0))
    np.testing.assert_allclose(rendering.light, frame.light, rtol=1e-5, atol=0)
    np.testing.assert_allclose(rendering.asked, frame.light, rtol=1e-5, atol=0)
    assert not (rendering.why & ~np.uint8(Cause.FLOOR | Cause.ALL_FLOOR)).any()


@given(
    grid=st.tuples(st.integers(1, 24), st.integers(1, 40)),
    sigmas=st.tuples(st.just(0.0) | st.floats(0.001, 3), st.floats(0.001, 3)),
    weight=st.floats(0, 1),
)
@example(grid=(24, 40), sigmas=(0.0, 0.2), weight=0.6)  # a zone a pixel, without a diffuser
@example(grid=(1, 1), sigmas=(2.0, 0.2), weight=0.6)
@settings(max_examples=20, deadline=None, derandomize=True)
def test_all_zones_full_give_open_light_everywhere(grid, sigmas, weight):
    white = Frame.from_light(np.full((24, 40, 3), 900.0))
    panel = panel_of(
        zones=Zones(*grid), spread=Spread(numbers([weight, 1 - weight]), numbers(sigmas))
    )
    rendering = render(white, panel)
    np.testing.assert_allclose(rendering.backlight, 900.0, rtol=1e-6)
    np.testing.assert_allclose(rendering.light, 900.0, rtol=1e-6)


@given(seed=seeds, contrast=st.floats(10, 1e6), compensation=st.sampled_from([0.0, 0.5, 1.0]))
@settings(max_examples=20, deadline=None)
def test_light_lies_between_leak_and_backlight(seed, contrast, compensation):
    rendering = render(frame_of(seed), panel_of(cell=Cell(contrast, compensation)))
    behind = rendering.backlight[..., None]
    assert (rendering.light <= behind * np.float32(1 + 1e-6)).all()
    assert (rendering.light >= behind / contrast * (1 - 1e-6)).all()


@pytest.mark.parametrize("axis", [0, 1])
@given(seed=seeds)
@settings(max_examples=8, deadline=None)
def test_flips_commute_with_rendering(axis, seed):
    """Of 32 × 48 pixels 4 × 6 zones take 8 × 8 each: whole zones of whole grain cells.

    Elsewhere the law does not hold and should not: zone borders lie at floor(r·H/R) and grain cells
    are counted from a zone's upper left, so the flipped picture meets other borders.
    """
    frame = frame_of(seed, (32, 48))
    flipped = Frame.from_light(np.flip(frame.light, axis))
    there, back = render(flipped, everything()), render(frame, everything())
    np.testing.assert_allclose(there.light, np.flip(back.light, axis), rtol=2e-5, atol=1e-7)
    np.testing.assert_allclose(there.drive, np.flip(back.drive, axis), rtol=1e-6)


@given(seed=seeds)
@settings(max_examples=8, deadline=None)
def test_grey_is_toned_alike_whatever_the_curve_acts_on(seed):
    grey = np.repeat(frame_of(seed).light[..., :1], 3, axis=2)
    lights = [
        render(Frame.from_light(grey), panel_of(tone=Tone(acts, curves=(CURVE,)))).light
        for acts in ("max_rgb", "per_channel", "luminance")
    ]
    np.testing.assert_allclose(lights[1], lights[0], rtol=1e-5, atol=1e-9)
    np.testing.assert_allclose(lights[2], lights[0], rtol=1e-5, atol=1e-9)


@pytest.fixture
def threads() -> Iterator[None]:
    before = numba.get_num_threads()
    yield
    numba.set_num_threads(before)


@pytest.mark.parametrize(
    "panel",
    [
        everything(),
        Panel("self-emissive", 900.0, limiter=Limiter(numbers([0, 1]), numbers([1, 0.2]))),
    ],
    ids=["zones", "self-emissive"],
)
@given(seed=seeds, shape=st.tuples(st.integers(17, 90), st.integers(30, 601)))
@example(seed=5, shape=(101, 601))
@settings(
    max_examples=6,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@pytest.mark.usefixtures("threads")
def test_one_thread_and_two_give_the_same_bytes(panel, seed, shape):
    if numba.config.NUMBA_NUM_THREADS < 2:
        pytest.skip("this machine gives numba one thread only")
    frame = frame_of(seed, shape)
    renderings = []
    for count in (1, 2):
        numba.set_num_threads(count)
        renderings.append(render(frame, panel, angle=20.0, room_lux=50.0))
    for name in ("light", "asked", "backlight", "drive", "why"):
        first, second = (getattr(rendering, name).tobytes() for rendering in renderings)
        assert first == second, name


@given(seed=seeds)
@settings(max_examples=8, deadline=None)
def test_twice_the_light_on_a_panel_twice_as_bright_is_twice_the_picture(seed):
    """Without a curve or tracking nothing in the model knows what a candela is."""
    frame = frame_of(seed, peak=800.0)
    double = Frame.from_light(2 * frame.light)
    panel = panel_of(limiter=Limiter(numbers([0, 1]), numbers([1, 0.4])))
    one, two = render(frame, panel), render(double, replace(panel, open_cdm2=1800.0))
    np.testing.assert_allclose(two.light, 2 * one.light, rtol=1e-6)
    np.testing.assert_array_equal(two.drive, one.drive)


@given(seed=seeds)
@settings(max_examples=8, deadline=None)
def test_more_native_contrast_never_brightens_a_pixel(seed):
    frame = frame_of(seed)
    low, high = (render(frame, panel_of(cell=Cell(contrast))).light for contrast in (500, 5000))
    assert (high <= low).all()


@given(seed=seeds)
@settings(max_examples=8, deadline=None)
def test_a_dimming_limiter_scales_the_whole_picture(seed):
    frame = frame_of(seed, peak=900.0)
    free, limited = (
        render(frame, panel_of(limiter=Limiter(numbers([0, 1]), numbers([gain, gain]))))
        for gain in (1.0, 0.25)
    )
    np.testing.assert_allclose(limited.light, free.light / 4, rtol=1e-6)


@pytest.mark.parametrize("axis", [0, 1])
@given(seed=seeds, bright=st.floats(1.0, 20.0))
@settings(max_examples=6, deadline=None, derandomize=True)
def test_more_light_asked_never_dims_a_zone(axis, seed, bright):
    """A patch made brighter raises drives or leaves them: nothing in physics §5.2 falls."""
    frame = frame_of(seed)
    light = frame.light.copy()
    half = np.s_[:12] if axis == 0 else np.s_[:, :20]
    light[half] *= np.float32(bright)
    before, after = (render(each, panel_of()) for each in (frame, Frame.from_light(light)))
    assert (after.drive >= before.drive * (1 - 1e-6)).all()
    assert (after.backlight >= before.backlight * np.float32(1 - 1e-4)).all()


def test_no_light_at_all_stays_dark():
    black = Frame.from_light(np.zeros((24, 40, 3)))
    assert not render(black, everything()).light.any()
    assert not render(black, Panel("self-emissive", 900.0)).light.any()
