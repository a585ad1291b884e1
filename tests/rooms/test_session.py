"""The invented session: made again by its recipe, and what a fit makes of it.

Truth is the recipe's own numbers; the recipe is plain numpy and knows nothing of `emulate.panel`.
"""

from __future__ import annotations

import pytest

from emulate import fit_panel, load_readings
from emulate.demo_frames import session, session_files
from emulate.readings.patterns.families import FAMILIES
from emulate.readings.patterns.plan import pattern_set


@pytest.fixture(scope="module")
def readings():
    return load_readings(session_files())


@pytest.fixture(scope="module")
def panel(readings):
    return fit_panel(readings)


def test_the_recipe_makes_the_stored_files():
    patterns = pattern_set(
        shape=session.SHAPE,
        peaks=session.PEAKS,
        families=[f for f in FAMILIES if f not in session.LEFT_OUT],
    )
    sheet = (session.PLACE / "sheet.csv").read_text("utf-8")
    assert sheet.startswith(session.filled_sheet(patterns, looks=60))


def test_it_reads_as_a_reviewer_would_hand_it_in(readings):
    assert readings.panel == session.NAME
    assert len(readings) > 280
    assert [trace.stimulus.kind for trace in readings.traces] == ["step"]
    assert {s.count for s in readings.switch_overs} == {15, 8}
    assert readings.skipped == 3  # traces, which have files of their own


def _inside(panel, key, truth):
    low, high = panel.fit["interval"][key]
    return low <= truth <= high


def test_the_fit_finds_the_numbers_of_the_recipe(panel):
    zones = panel.zones
    assert (zones.columns, zones.rows) == (session.COLUMNS_OF_ZONES, session.ROWS)
    for key, truth in {
        "light.open_cdm2": session.L_OPEN,
        "zones.peak_weight": session.PEAK_WEIGHT,
        "zones.gamma": session.GAMMA,
        "zones.reach": session.REACH,
        "cell.contrast": session.CONTRAST,
        "spread.sigma_h#1": session.SIGMAS[0],
        "spread.sigma_h#2": session.SIGMAS[1],
        "spread.weight#1": session.WEIGHTS[0],
        f"limiter.gain#{panel.limiter.gain.size}": session.LIMITER[1][-1],
        "surface.reflectance": session.REFLECTANCE,
    }.items():
        assert _inside(panel, key, truth), f"{key}: {panel.fit['interval'][key]} for {truth}"
    assert zones.attack_s == pytest.approx(session.ATTACK_S, rel=0.03)
    assert zones.decay_s == pytest.approx(session.DECAY_S, rel=0.03)
    for name in ("red", "green", "blue"):
        found, truth = getattr(panel.primaries, name), getattr(session, name.upper())
        assert found == pytest.approx(truth, abs=0.003)


def test_what_the_model_lacks_is_not_kept_quiet(panel):
    """Zones that differ by 2 % leave more than the meter's noise: misfit, and a doubt."""
    assert panel.fit["misfit"] > 1.2
    assert any("misses the readings" in str(caveat) for caveat in panel.caveats)
