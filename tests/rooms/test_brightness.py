"""Brightness: one setting over HDR and SDR, held against light worked out by hand."""

from __future__ import annotations

from math import pi

import colour
import numpy as np
import pytest

from emulate import Frame, Panel, compare_brightness, render
from emulate.errors import RequestError
from emulate.films.brightness import turned_down
from emulate.frames.frame import Encoding
from emulate.panel.cell import Cell
from emulate.panel.surface import Surface
from emulate.panel.zones import Zones


@pytest.fixture
def lamp() -> Panel:
    return Panel(
        "lamp", 400.0, zones=Zones(1, 1), cell=Cell(contrast=1000.0), surface=Surface(0.02)
    )


def _light(bright: float) -> np.ndarray:
    light = np.zeros((90, 160, 3), np.float32)
    light[:, :80] = bright
    light[:, 40:60] = bright / 2
    return light


def _sdr() -> Frame:
    return Frame.from_light(_light(203.0), "sdr", encoding=Encoding("sdr", "bt709", scale=203.0))


def test_the_panels_light_goes_down_and_the_rooms_stays(lamp):
    full = render(Frame.from_light(_light(400.0)), lamp, room_lux=50.0)
    half = turned_down(full, 0.5)
    room = 0.02 * 50 / pi  # Lambert
    assert half.light[0, 0, 0] == pytest.approx(200 + room)
    assert half.light[0, -1, 0] == pytest.approx(0.2 + room)  # 400 / 1000, turned down to a half
    assert half.panel.open_cdm2 == 200.0
    assert full.light[0, 0, 0] == pytest.approx(400 + room)


def test_sdr_is_held_against_itself_at_the_white_of_the_setting(lamp):
    found = compare_brightness(_sdr(), lamp, (1.0, 0.5, 0.3))
    whites = [case.findings["light.white"].value for case in found.cases]
    assert whites == pytest.approx([400.0, 200.0, 120.0])
    for case in found.cases:
        assert case.findings["clipped.area"].value == 0
        assert case.findings["colour.hue.mean"].value < 0.1
    assert "Setting 30%: white 120 cd/m²" in found.sentence


def test_white_at_full_setting_may_be_said(lamp):
    found = compare_brightness(_sdr(), lamp, (1.0, 0.5), sdr_white=250.0)
    assert found.cases[1].findings["light.white"].value == pytest.approx(125.0)


def test_hdr_is_held_against_its_master():
    """What is meant at 203 cd/m² comes to half of it: 720·ΔPQ⁻¹ of 203 and 101.5 is 50.6 steps."""
    frame = Frame.from_light(np.full((90, 160, 3), 203.0), "hdr")
    found = compare_brightness(frame, Panel("plain", 400.0), (1.0, 0.5))
    full, half = (case.findings for case in found.cases)
    assert full["light.white"].value == pytest.approx(203.0)
    assert half["light.white"].value == pytest.approx(101.5)
    signals = colour.models.eotf_inverse_ST2084(np.array([101.5, 203.0]))
    assert full["colour.mean"].value < 0.01
    assert half["colour.mean"].value == pytest.approx(720 * np.diff(signals)[0], rel=1e-3)


@pytest.mark.parametrize(
    ("settings", "more", "said"),
    [
        ((1.0,), {}, "accepted is 2 to 26, all different"),
        ((1.0, 1.0), {}, "accepted is 2 to 26, all different"),
        ((1.0, 0.0), {}, "setting = 0.0: accepted is 0.01 to 1"),
        ((1.0, 2.0), {}, "setting = 2.0: accepted is 0.01 to 1"),
        ((1.0, 0.5), {"sdr_white": -1.0}, "accepted is above 0, at most 10000"),
    ],
)
def test_settings_that_cannot_be(lamp, settings, more, said):
    with pytest.raises(RequestError, match=said):
        compare_brightness(_sdr(), lamp, settings, **more)
