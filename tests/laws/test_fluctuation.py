"""What holds for everything that fluctuates and everything that does not (physics §9)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from emulate import Frame, Viewer, render
from emulate.findings.evidence import Evidence
from emulate.findings.fluctuation import fading, find_fluctuation, glance_of
from emulate.panel.cell import Cell
from emulate.panel.curves import identity
from emulate.panel.limiter import Limiter
from emulate.panel.panel import Panel
from emulate.panel.spread import Spread
from emulate.panel.zones import SelfEmissive, Zones
from emulate.values import numbers

H, W = 72, 128
Y, X = np.mgrid[0:H, 0:W]
ZONE = W / 4  # px: four columns of zones
DT = 1 / 24
PUMPING = Limiter(numbers([0, 0.02, 1]), numbers([1, 1, 0.3]), "dims", 0.3, 0.1)


def grey(luminance):
    return np.repeat(np.asarray(luminance, np.float64)[..., None], 3, axis=2)


def lamp(centre, radius=3.0, peak=800.0):
    return grey(peak * (np.hypot(X - centre, Y - H / 2) <= radius))


def textured(seed=0):
    rng = np.random.default_rng(seed)
    light = 250 + 200 * np.sin(X / 9 + rng.random()) * np.cos(Y / 7)
    light[:, : W // 4] = 0.0
    return grey(light)


def patched(seed):
    """Coarse patches from black to 5000 cd/m², with fine noise: any still picture."""
    rng = np.random.default_rng(seed)
    patches = 10 ** rng.uniform(-3, 3.7, (6, 8, 3)) * (rng.random((6, 8, 1)) < 0.8)
    light = np.kron(patches, np.ones((H // 6, W // 8, 1)))
    return light * rng.uniform(0.9, 1.1, light.shape)


def panel_of(attack=0.0, decay=0.0, limiter=None, contrast=3000.0, **rest):
    zones = Zones(3, 4, grain_px=1, attack_s=attack, decay_s=decay, resets_at_cuts=False)
    spread = Spread(numbers([1.0]), numbers([0.05]))
    whole = Panel("by law", 1000.0, zones=zones, spread=spread, cell=Cell(contrast))
    return replace(whole, limiter=limiter or Limiter(), **rest)


def seen(lights: Sequence[np.ndarray], panel, dt=DT, **rest) -> list[dict[str, float]]:
    """Findings of frames one after another, dt seconds apart."""
    state = before = None
    rows = []
    for index, light in enumerate(lights):
        frame = Frame.from_light(light, time_s=index * dt)
        rendering = render(frame, panel, state=state, **rest)
        state = rendering.state
        now = glance_of(Evidence(frame, rendering, Viewer(distance_h=10.0)))
        answer = find_fluctuation(now, None if rendering.cut else before)
        before = now
        rows.append({name: each.value for name, each in answer.by_name.items()})
    return rows


PANELS = {
    "zones": panel_of(),
    "slow": panel_of(0.06, 0.4),
    "pumping": panel_of(0.06, 0.4, PUMPING),
    "clips": panel_of(0.06, 0.4, replace(PUMPING, acts="clips")),
    "half compensated": panel_of(0.06, 0.4, PUMPING, cell=Cell(3000.0, 0.5)),
    "self-emissive": panel_of(limiter=PUMPING, zones=SelfEmissive()),
}
FLUCTUATION = [f"fluctuation.{n}" for n in ("area", "indecision", "lag", "limiter", "curve")]


@pytest.mark.parametrize("panel", PANELS.values(), ids=PANELS)
@given(seed=st.integers(0, 2**32 - 1), policy=st.sampled_from(["fixed", "by_frame"]))
@settings(max_examples=3, deadline=None, derandomize=True)
def test_a_still_picture_gives_exactly_none(panel, seed, policy):
    for row in seen([patched(seed)] * 3, panel, policy=policy)[1:]:
        assert {name: row[name] for name in row} == dict.fromkeys(row, 0.0)


@pytest.mark.parametrize("name", PANELS)
@given(seed=st.integers(0, 99), step=st.sampled_from([0.8, 0.95, 0.99, 1.01, 1.05]))
@settings(max_examples=4, deadline=None)
def test_a_fade_is_none(name, seed, step):
    """Black parts too, whose leak sinks with the picture."""
    first = textured(seed) * (1.0 if step < 1 else 0.3)
    for row in seen([first * step**k for k in range(6)], PANELS[name], policy="fixed")[1:]:
        assert [row[each] for each in FLUCTUATION] == [0.0] * 5


def test_a_fade_is_told_by_its_lit_part():
    lit = np.array([[0.0, 5.0, 50.0, 500.0, 700.0]])
    assert fading(lit, 0.9 * lit) == pytest.approx(0.9)
    assert fading(lit, lit) == 1.0
    assert fading(np.zeros((2, 2)), np.zeros((2, 2))) == 1.0
    assert fading(lit, lit * [[1, 1, 1, 2, 2]]) == 1.0  # three in five stay: half agree, no fade


@given(radius=st.floats(2.0, 8.0), peak=st.floats(300.0, 1000.0))
@example(radius=3.0, peak=800.0)
@settings(max_examples=2, deadline=None, derandomize=True)
def test_a_light_that_crosses_zone_borders_fluctuates_there_and_then(radius, peak):
    """A disc of even light: its zones switch when it begins or ends to touch one, else never."""
    centres = np.arange(ZONE / 2, W - ZONE / 2, 2.0)
    lights = [lamp(centre, radius, peak) for centre in centres]
    rows = seen(lights, panel_of())
    lit = [np.unique(np.nonzero(light)[1] // ZONE).tolist() for light in lights]
    switches = [before != now for before, now in pairwise(lit)]
    fluctuates = [row["fluctuation.area"] > 0.02 for row in rows[1:]]
    assert fluctuates == switches
    assert sum(switches) == 6  # three borders, each entered and left
    for row in rows[1:]:
        assert row["fluctuation.indecision"] == row["fluctuation.area"]  # nothing here is slow


def test_slow_zones_lag_and_quick_ones_do_not():
    centres = np.arange(ZONE / 2, W - ZONE / 2, 2.0)
    lights = [lamp(centre) for centre in centres]
    quick, slow = (seen(lights, panel) for panel in (panel_of(), panel_of(0.02, 0.5)))
    assert all(row["lag.area"] == 0 and not row["fluctuation.lag"] > 0 for row in quick)
    assert sum(row["fluctuation.lag"] for row in slow[1:]) > 0


@given(quick=st.floats(0.005, 0.03), slow=st.floats(0.3, 1.0), radius=st.floats(6.0, 10.0))
@settings(max_examples=2, deadline=None, derandomize=True)
def test_attack_and_decay_show_as_the_two_sides_of_lag(quick, slow, radius):
    """Slow to fall leaves light where the lamp was; slow to rise leaves dark where it comes."""
    lights = [lamp(centre, radius) for centre in np.arange(ZONE / 2, W - ZONE / 2, 4.0)]
    falls, rises = (seen(lights, panel) for panel in (panel_of(quick, slow), panel_of(slow, quick)))
    trailing, leading = (
        [sum(row[f"lag.{side}"] for row in rows) for rows in (falls, rises)]
        for side in ("trailing", "leading")
    )
    assert trailing[0] > 3 * trailing[1]
    assert leading[1] > 3 * leading[0]


def test_a_light_in_an_instant_leaves_a_trail_that_sinks():
    lights = [lamp(W / 2 - 8, 10), *[grey(np.zeros((H, W)))] * 6]
    rows = seen(lights, panel_of(0.0, 0.2))
    steps = [row["lag.steps"] for row in rows[1:]]
    assert rows[0]["lag.steps"] == 0
    assert steps[0] > 1
    assert all(later < earlier or later == 0 for earlier, later in pairwise(steps))


@pytest.mark.parametrize("acts", ["dims", "clips"])
def test_only_the_limiter_is_blamed_for_a_limiter(acts):
    """A bright part comes, the limiter closes, and all that is still gets darker by the gain."""
    still = np.where(X < W / 2, 100.0, 0.0)
    bright = np.where(X >= W * 3 / 4, 900.0, still)
    panel = panel_of(limiter=replace(PUMPING, acts=acts), zones=SelfEmissive())
    rows = seen([grey(still), *[grey(bright)] * 5], panel)
    if acts == "clips":  # the cell makes up for it: a pixel of its own light is not held at 100
        assert all(row["fluctuation.area"] == 0 for row in rows[1:])
        return
    assert rows[1]["fluctuation.area"] == 0.5
    for row in rows[1:]:
        assert row["fluctuation.limiter"] == row["fluctuation.area"]
        assert row["fluctuation.indecision"] == row["fluctuation.lag"] == 0


def test_a_curve_that_moves_is_told_apart():
    """The reference's still part is asked for differently once something brighter comes."""
    still = np.where(X < W / 2, 900.0, 1.0)
    brighter = np.where(X > W - 20, 4000.0, still)
    panel = panel_of(limiter=Limiter(), zones=SelfEmissive(), cell=Cell())
    rows = seen([grey(still), *[grey(brighter)] * 4], panel, policy="by_frame")
    fixed = seen([grey(still), *[grey(brighter)] * 4], panel, policy=identity())
    assert rows[1]["fluctuation.curve"] == pytest.approx(0.5, abs=0.02)
    assert all(row["fluctuation.curve"] == 0 for row in fixed[1:])
    assert all(row["fluctuation.area"] == 0 for row in rows[1:] + fixed[1:])


def test_nothing_is_told_across_a_cut():
    cave = grey(0.05 + 30.0 * np.exp(-((X - 100) ** 2 + (Y - 56) ** 2) / 240))
    snow = grey(400 + 350 * np.sin(X / 10) * np.cos(Y / 14) + 1.5 * Y)
    rows = seen([cave, cave, snow, snow], panel_of(0.06, 0.4, PUMPING))
    told = [not np.isnan(row["fluctuation.area"]) for row in rows]
    assert told == [False, True, False, True]
