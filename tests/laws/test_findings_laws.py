"""What holds for every frame and panel: no loss without a cause, and more contrast, less halo."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from emulate.findings.measure import measure
from emulate.findings.saving import text_of
from emulate.frames.frame import Frame
from emulate.panel.cell import Cell
from emulate.panel.panel import Panel
from emulate.panel.spread import Spread
from emulate.panel.zones import Zones
from emulate.rendering import render
from emulate.sight import Viewer
from emulate.values import numbers

LOSSES = ("clipped.", "crushed.", "detail.", "halo.", "colour.", "dimmed.area", "dimmed.things")


def random_frame(seed, shape=(36, 64)):
    """Coarse patches and fine noise from 0 to 10000 cd/m², some of it black."""
    rng = np.random.default_rng(seed)
    patches = 10 ** rng.uniform(-4, 4, (6, 8, 3))
    light = np.kron(patches, np.ones((shape[0] // 6, shape[1] // 8, 1)))
    light *= rng.uniform(0.9, 1.1, light.shape)
    light[rng.uniform(size=shape) < 0.1] = 0
    return Frame.from_light(np.minimum(light, 10000))


def box_on_black(size=0.2, level=600.0, shape=(90, 160)):
    """A lit box in the middle of black; size in picture heights."""
    rows, columns = shape
    half = round(size * rows / 2)
    light = np.zeros((*shape, 3))
    light[rows // 2 - half : rows // 2 + half, columns // 2 - half : columns // 2 + half] = level
    return Frame.from_light(light, "box on black")


def zoned(rows, columns, contrast, sigma_h=0.05, **rest):
    return Panel(
        "zoned",
        1000.0,
        zones=Zones(rows, columns, **rest),
        spread=Spread(numbers([1.0]), numbers([sigma_h])),
        cell=Cell(contrast=contrast),
    )


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10**6), distance=st.floats(2.0, 8.0))
def test_a_panel_without_effects_loses_nothing_at_all(seed, distance):
    frame = random_frame(seed)
    found = measure(frame, render(frame, Panel("identity", 10000.0)), viewer=Viewer(distance))
    assert {name: each.value for name, each in found.items() if name.startswith(LOSSES)} == {
        name: 0.0 for name in found if name.startswith(LOSSES)
    }
    assert found["dimmed.highlights"].value == pytest.approx(1, abs=1e-5)


@settings(max_examples=5, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10**6))
def test_how_deep_a_loss_goes_is_told_where_there_is_one(seed):
    """A depth is 0 and without a number where nothing is lost, and only there."""
    frame = random_frame(seed)
    found = measure(frame, render(frame, zoned(3, 4, 1000.0)))
    none = measure(frame, render(frame, Panel("identity", 10000.0)))
    for loss in ("clipped", "crushed", "detail"):
        for each in (found, none):
            depth = each[f"{loss}.depth"]
            assert (depth.value > 0) == (each[f"{loss}.area"].value > 0)
            assert ("step" in depth.sentence) == (depth.value > 0)


@settings(max_examples=12, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    open_cdm2=st.floats(50, 4000),
    contrast=st.floats(200, 1e5),
    weight=st.floats(0, 1),
    room=st.sampled_from([0.0, 200.0]),
)
def test_shares_stay_between_0_and_1_and_parts_within_the_whole(
    seed, open_cdm2, contrast, weight, room
):
    frame = random_frame(seed)
    panel = Panel(
        "any",
        open_cdm2,
        zones=Zones(4, 6, peak_weight=weight),
        spread=Spread(numbers([0.8, 0.2]), numbers([0.05, 0.3])),
        cell=Cell(contrast=contrast),
    )
    found = measure(frame, render(frame, panel, room_lux=room))
    value = {name: each.value for name, each in found.items()}
    assert all(
        0 <= each.value <= 1 or np.isnan(each.value)
        for each in found.values()
        if each.unit == "share"
    )
    for whole, parts in (("clipped", "curve zone gamut"), ("crushed", "curve leak room")):
        shares = [value[f"{whole}.{part}"] for part in parts.split()]
        assert max(shares) <= value[f"{whole}.area"] <= sum(shares) + 1e-12
    for parts in ("curve dimming room", "highlights.area middle.area shadows.area"):
        total = sum(value[f"detail.{part}"] for part in parts.split())
        assert total == pytest.approx(value["detail.area"], abs=1e-12)
    assert value["dimmed.area"] <= value["clipped.zone"]
    assert value["halo.brightest"] >= value["halo.mean"] >= 0
    assert value["colour.over_3"] <= value["colour.over_1"]


@settings(max_examples=10, deadline=None)
@given(
    contrast=st.floats(500, 20000),
    factor=st.floats(1.0, 10.0),
    size=st.floats(0.05, 0.5),
    level=st.floats(20, 1000),
    columns=st.integers(2, 24),
)
def test_more_contrast_never_shows_more_halo(contrast, factor, size, level, columns):
    frame = box_on_black(size, level)
    few, many = (
        measure(frame, render(frame, zoned(max(1, columns // 2), columns, each)))
        for each in (contrast, contrast * factor)
    )
    assert many["halo.area"].value <= few["halo.area"].value
    assert many["halo.brightest"].value <= few["halo.brightest"].value * (1 + 1e-6)


def test_more_zones_show_less_halo():
    """Spread shrinks with the zone, half a zone wide, as when a panel is built with more zones."""
    frame = box_on_black(shape=(180, 320))
    areas = [
        measure(frame, render(frame, zoned(n, 2 * n, 3000.0, sigma_h=0.5 / n)))["halo.area"].value
        for n in (2, 4, 8, 16, 32)
    ]
    assert areas == sorted(areas, reverse=True)
    assert areas[0] > 0.05 > 2 * areas[-1]


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_flipped_pictures_lose_the_same(seed):
    frame = random_frame(seed)
    rendering = render(frame, zoned(3, 4, 1000.0, grain_px=4))
    turned = Frame.from_light(frame.light[::-1, ::-1])
    found = measure(frame, rendering)
    other = measure(turned, render(turned, zoned(3, 4, 1000.0, grain_px=4)))
    for name in found:
        if name.startswith(("clipped", "crushed", "detail", "dimmed", "colour", "content")):
            assert other[name].value == pytest.approx(
                found[name].value, rel=1e-3, abs=1e-3, nan_ok=True
            )


@settings(max_examples=5, deadline=None, derandomize=True)
@given(
    rows=st.integers(2, 5),
    contrast=st.floats(1500, 8000),
    size=st.floats(0.1, 0.3),
    level=st.floats(200, 1000),
)
def test_sixteen_times_the_zones_never_show_more_halo(rows, contrast, size, level):
    """Four times as many each way; spread is half a zone wide, as when a panel is built finer."""
    frame = box_on_black(size, level)
    few, many = (
        measure(frame, render(frame, zoned(n, 2 * n, contrast, sigma_h=0.5 / n)))["halo.area"].value
        for n in (rows, 4 * rows)
    )
    assert many <= few


@settings(max_examples=10, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10**6), bars=st.integers(0, 12))
def test_content_levels_are_the_largest_channel_s(seed, bars):
    """CTA-861.3 (formula from memory) in plain numpy, over the picture between black bars."""
    light = random_frame(seed).light.copy()
    light[:bars], light[len(light) - bars :] = 0, 0
    frame = replace(Frame.from_light(light), active=(bars, len(light) - bars, 0, light.shape[1]))
    found = measure(frame, render(frame, Panel("identity", 10000.0)))
    level = light[bars : len(light) - bars].astype(np.float64).max(axis=2)
    assert found["content.max_cll"].value == pytest.approx(level.max(), rel=1e-6)
    assert found["content.max_fall"].value == pytest.approx(level.mean(), rel=1e-6)


def test_the_same_input_gives_the_same_bytes():
    frame = random_frame(4)
    rendering = render(frame, zoned(3, 4, 1000.0))
    first, second = measure(frame, rendering), measure(frame, rendering)
    assert text_of(first) == text_of(second)
    assert all(first.maps[name].tobytes() == second.maps[name].tobytes() for name in first.maps)
