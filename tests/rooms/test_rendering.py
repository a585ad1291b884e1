"""The recipe: what it refuses, what travels through it, and a panel worked out by hand."""

from __future__ import annotations

import pickle
import tracemalloc
from dataclasses import replace

import numpy as np
import pytest

from emulate import Cause, Caveat, Frame, render
from emulate.errors import RequestError
from emulate.panel.cell import Angles, Cell
from emulate.panel.limiter import Limiter
from emulate.panel.panel import Panel
from emulate.panel.primaries import Primaries
from emulate.panel.spread import Spread
from emulate.panel.surface import Surface
from emulate.panel.zones import Zones
from emulate.rendering import render_plainly
from emulate.values import numbers

BOXES = Panel("boxes", 1000.0, zones=Zones(1, 2, grain_px=1), cell=Cell(1000.0))


def two_halves(left: float, right: float) -> Frame:
    light = np.zeros((4, 8, 3))
    light[:, :4], light[:, 4:] = left, right
    return Frame.from_light(light)


def test_two_zones_without_spread_by_hand():
    """A lamp of 500 above 0.2 in one zone, which leaks 500/1000; 2 alone in the other."""
    light = np.zeros((4, 8, 3))
    light[0, 0], light[1:, :4], light[:, 4:] = 500.0, 0.2, 2.0
    rendering = render(Frame.from_light(light), BOXES)
    np.testing.assert_allclose(rendering.drive, [[0.5, 0.002]], rtol=1e-6)
    np.testing.assert_allclose(rendering.light[0, 0], 500.0, rtol=1e-6)
    np.testing.assert_allclose(rendering.light[2, 2], 0.5, rtol=1e-6)
    np.testing.assert_allclose(rendering.light[2, 6], 2.0, rtol=1e-6)
    assert Cause(int(rendering.why[2, 2])) == Cause.FLOOR | Cause.ALL_FLOOR
    assert Cause(int(rendering.why[0, 0])) == Cause(0)
    np.testing.assert_allclose(rendering.asked, light, rtol=1e-6)


def test_a_mean_driven_zone_clips_its_highlight():
    panel = replace(BOXES, zones=Zones(1, 1, peak_weight=0.0))
    light = np.zeros((4, 8, 3))
    light[0, 0] = 800.0  # mean of 32 pixels: 25
    rendering = render(Frame.from_light(light), panel)
    np.testing.assert_allclose(rendering.light[0, 0], 25.0, rtol=1e-6)
    assert Cause.ZONE in Cause(int(rendering.why[0, 0]))


def test_light_beyond_the_panel_is_held_and_flagged():
    rendering = render(two_halves(1500.0, 100.0), Panel("plain", 1000.0))
    np.testing.assert_allclose(rendering.light[0, 0], 1000.0, rtol=1e-6)
    assert Cause.GAMUT in Cause(int(rendering.why[0, 0]))
    assert Cause.GAMUT not in Cause(int(rendering.why[0, 7]))


def test_a_self_emissive_panel_dims_by_its_load():
    """White over half the screen: load ½, gain 0.6 read off a straight line by hand."""
    panel = Panel("plain", 1000.0, limiter=Limiter(numbers([0, 1]), numbers([1.0, 0.2])))
    rendering = render(two_halves(1000.0, 0.0), panel)
    assert rendering.gain == pytest.approx(0.6)
    np.testing.assert_allclose(rendering.backlight, 600.0, rtol=1e-6)
    np.testing.assert_allclose(rendering.light[:, :4], 600.0, rtol=1e-6)
    np.testing.assert_array_equal(rendering.light[:, 4:], 0.0)


def test_a_self_emissive_panel_has_no_leak_whatever_its_cell():
    rendering = render(two_halves(1000.0, 0.0), Panel("plain", 1000.0, cell=Cell(500.0)))
    assert not rendering.light[:, 4:].any()


def test_the_room_adds_lambert_light():
    panel = replace(BOXES, surface=Surface(0.02))
    dark, lit = (render(two_halves(5.0, 5.0), panel, room_lux=lux) for lux in (0.0, 100.0))
    assert lit.reflected == pytest.approx(2.0 / np.pi)
    np.testing.assert_allclose(lit.light - dark.light, 2.0 / np.pi, rtol=1e-5)


def test_off_axis_light_falls_and_leaks_more():
    angles = Angles(numbers([0, 40]), numbers([1000, 250]), numbers([1, 0.5]))
    panel = replace(BOXES, zones=Zones(1, 1), angles=angles)
    rendering = render(two_halves(1000.0, 0.0), panel, angle=40.0)
    np.testing.assert_allclose(rendering.light[:, :4], 500.0, rtol=1e-6)
    np.testing.assert_allclose(rendering.light[:, 4:], 2.0, rtol=1e-6)


def test_a_measured_white_casts_over_light_and_asked_alike():
    """Of a perfect backlight nothing is lost, and the cast is part of both pictures."""
    panel = Panel("warm", 1000.0, primaries=Primaries(white=(0.34, 0.35)))
    rendering = render(two_halves(500.0, 20.0), panel)
    np.testing.assert_allclose(rendering.light, rendering.asked, rtol=1e-5)
    assert rendering.asked[0, 0, 0] > 1.05 * rendering.asked[0, 0, 2]


def test_the_caveats_of_frame_panel_curve_and_angle_travel():
    frame = two_halves(5.0, 5.0).doubted(Caveat("frame", "one"))
    panel = replace(BOXES, caveats=(Caveat("panel", "two"),))
    rendering = render(frame, panel, policy="by_metadata", angle=10.0)
    about = [caveat.about for caveat in rendering.caveats]
    assert about == ["tone curve", "frame", "panel", "angle"]


def test_results_are_locked_float32_and_contiguous():
    rendering = render(two_halves(5.0, 50.0), BOXES)
    for array in (rendering.light, rendering.asked, rendering.backlight):
        assert array.dtype == np.float32
        assert array.flags.c_contiguous
        assert not array.flags.writeable
    assert rendering.why.dtype == np.uint8


def test_a_state_survives_pickling():
    moving = replace(BOXES, zones=replace(BOXES.zones, decay_s=0.2, latency_frames=2))
    state = render(two_halves(500.0, 5.0), moving).state
    later = replace(two_halves(5.0, 5.0), time_s=0.04)
    lights = [
        render(later, moving, state=s).light for s in (state, pickle.loads(pickle.dumps(state)))
    ]
    np.testing.assert_array_equal(lights[0], lights[1])


def test_a_frame_before_its_state_is_refused():
    state = render(replace(two_halves(1.0, 1.0), time_s=2.0), BOXES).state
    with pytest.raises(RequestError, match="its time, 1 s, is before the state's, 2 s"):
        render(replace(two_halves(1.0, 1.0), time_s=1.0), BOXES, state=state)


def test_a_state_of_other_zones_is_refused():
    state = render(two_halves(1.0, 1.0), replace(BOXES, zones=Zones(2, 3))).state
    with pytest.raises(RequestError, match="state of 3 × 2 zones for a panel of 2 × 1"):
        render(two_halves(1.0, 1.0), BOXES, state=state)


@pytest.mark.parametrize("lux", [-1.0, float("nan"), float("inf")])
def test_a_room_that_cannot_be_is_refused(lux):
    with pytest.raises(RequestError, match=r"room_lux = .*accepted is"):
        render(two_halves(1.0, 1.0), BOXES, room_lux=lux)


def test_more_zones_than_pixels_are_refused():
    with pytest.raises(RequestError, match="panel zones 9 × 1 on a picture of 8 × 4 px"):
        render(two_halves(1.0, 1.0), replace(BOXES, zones=Zones(1, 9)))


def test_six_frames_are_all_the_memory_it_takes():
    """Counted on a picture large enough for its arrays to outweigh everything else."""
    frame = Frame.from_light(np.ones((400, 700, 3)))
    spread = Spread(numbers([0.5, 0.5]), numbers([0.05, 0.3]))
    panel = replace(BOXES, zones=Zones(6, 12), spread=spread)
    for recipe, least in ((render, 1), (render_plainly, 2)):
        assert recipe(frame, panel).light.any()  # compiled before it is counted
        tracemalloc.start()
        light = recipe(frame, panel).light
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert light.nbytes * least < peak <= 5 * light.nbytes
