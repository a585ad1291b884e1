"""Trust: predictions are what the recipe shows, and readings held out lie where they should."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from emulate import fit_panel, held_out, load_panel, predictions, render
from emulate.panel.fit.prediction import predicted
from emulate.readings.patterns.plan import pattern_set
from emulate.readings.readings import Reading, Readings, Source, gathered
from emulate.readings.stimulus import frame_of, pixel_at
from emulate.sight import steps_from_light
from tests.twins.drawn import drawn
from tests.twins.simulator import session

SHAPE = (180, 320)
PANELS = Path(__file__).parents[2] / "demo_frames" / "panels"
FAMILIES = ("ramp", "primary", "window", "black", "checker", "spill", "grow", "angle", "room")


@pytest.fixture(scope="module")
def readings() -> Readings:
    rng = np.random.default_rng(11)
    looks = pattern_set(shape=SHAPE, peaks=(10000,), families=FAMILIES).looks
    return session(drawn(rng), looks, rng)


@pytest.fixture(scope="module")
def grid() -> tuple[int, int]:
    t = drawn(np.random.default_rng(11))
    return t.columns, t.rows


@pytest.fixture(scope="module")
def panel(readings, grid):
    return fit_panel(readings, name="trusted", zones=grid)


@pytest.mark.parametrize("name", ["coarse_zones", "fine_zones", "self_emissive"])
def test_a_prediction_is_what_render_shows(name) -> None:
    """Each invented panel on file, one stimulus of each kind, from the side and in a lit room."""
    panel = load_panel(PANELS / f"{name}.toml")
    shape = (270, 480)
    looks = pattern_set(shape=shape, peaks=(1000, 4000), families=(*FAMILIES, "chart24")).looks
    chosen = {(look.stimulus.kind, look.angle, look.lit_room): look for look in looks}
    for look in chosen.values():
        lux = 150.0 if look.lit_room else 0.0
        one = Reading(look.stimulus, 1.0, Source("", 0), None, look.spot, look.angle, lux)
        mine = predicted(panel, gathered([one]))[0]
        shown = render(frame_of(look.stimulus), panel, angle=look.angle, room_lux=lux).light
        there = shown[pixel_at(look.spot, shape)]
        np.testing.assert_allclose(mine, there, rtol=2e-3, atol=1e-6, err_msg=look.stimulus.name)


def test_the_closed_loop_comes_back_to_the_readings(panel, readings) -> None:
    trust = predictions(panel, readings)
    groups = {summary.group: summary for summary in trust.summaries}
    assert {"window", "spill", "checker", "grow", "ramp"} <= set(groups)
    for kind in ("window", "spill", "checker", "grow"):
        assert groups[kind].sigmas < 2, f"{kind}: {groups[kind].sigmas:.2f} sigmas"
    assert sum(row.looks for row in trust.rows) + sum(trust.left_out.values()) == len(readings)
    assert len(trust.rows) == len({r.circumstance for r in readings
                                   if r.stimulus.kind != "drift" and r.luminance > 0})  # fmt: skip


def test_a_residual_is_in_visible_steps_and_in_the_meters_noise(panel, readings) -> None:
    row = next(row for row in predictions(panel, readings).rows if row.group == "window")
    steps = steps_from_light([row.predicted, row.measured])
    assert row.steps == pytest.approx(steps[0] - steps[1], rel=1e-9)
    noise = panel.fit["noise"]["relative"] / np.sqrt(row.looks)
    assert row.sigmas == pytest.approx(np.log(row.predicted / row.measured) / noise, rel=1e-9)


def test_windows_held_out_lie_in_the_stated_interval(readings, grid) -> None:
    trust = held_out(readings, zones=grid)
    windows = [row for row in trust.rows if row.group == "window"]
    assert len(windows) == 6, "all but the outermost"
    assert all(row.interval for row in windows)
    assert sum(row.inside for row in windows) >= 5
    assert sum(row.inside for row in trust.rows) >= 0.85 * len(trust.rows)
    widths = [row.interval[1] / row.interval[0] for row in windows if row.interval]
    assert max(widths) < 1.2, "an interval that says something"


def test_what_cannot_be_told_is_no_number(readings, grid) -> None:
    spill = [r for r in readings if r.stimulus.kind == "spill"]
    kept = set(list(dict.fromkeys(r.stimulus for r in spill))[:3])
    few = replace(
        readings,
        readings=tuple(r for r in readings if r.stimulus.kind != "spill" or r.stimulus in kept),
    )
    trust = held_out(few, zones=grid)
    assert "spread is undetermined" in trust.unpredictable["spill"]
    assert not [row for row in trust.rows if row.group == "spill"]
