"""Findings with intervals: against closed forms, by repetition, and what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from emulate import (
    Finding,
    Frame,
    Panel,
    Viewer,
    measure,
    measure_with_intervals,
    render,
    save_findings,
)
from emulate.errors import PanelError, RequestError
from emulate.findings.claims import _why, reduced
from emulate.findings.formatting import interval_text, with_interval
from emulate.panel.cell import Cell
from emulate.panel.fit.draws import is_fitted, panels_like, sure_numbers
from emulate.panel.limiter import Limiter
from emulate.panel.primaries import Primaries
from emulate.panel.spread import Spread
from emulate.panel.tone import Tone, ToneReading
from emulate.panel.zones import Zones
from emulate.values import numbers

SIGMA = 0.05  # of log light.open_cdm2
FAR = Viewer(distance_h=24)  # few cells of glare, so that many panels take little time


def _fit(keys, scales, matrix, interval=()):
    covariance = {"key": list(keys), "scale": list(scales), "matrix": matrix}
    return {"covariance": covariance, "interval": dict(interval)}


def _bare(sigma=SIGMA) -> Panel:
    """No curve, no zones: light is cut where the panel ends."""
    return Panel("Slate", 1000.0, fit=_fit(["light.open_cdm2"], ["log"], [[sigma**2]]))


def _ramp(rows=90, columns=400) -> Frame:
    """0 to 2000 cd/m² from left to right."""
    level = np.linspace(0, 2000, columns, dtype=np.float32)
    return Frame.from_light(np.broadcast_to(level[None, :, None], (rows, columns, 3)), "ramp")


def test_interval_of_a_clipped_share_is_the_closed_form():
    """Clipped is what lies a step above the peak, which is lognormal: 1000·e^(±1.96·0.05)."""
    panel = _bare()
    found = measure_with_intervals(
        _ramp(), panel, rng=np.random.default_rng(3), viewer=FAR, samples=150, rows=90
    )
    area = found["clipped.area"]
    value = measure(_ramp(), render(_ramp(), panel), viewer=FAR)["clipped.area"].value
    assert area.value == value
    off = value - (1 - 1000 / 2000)  # the share that one step takes, the same to first order
    expected = [1 - 1000 * np.exp(z * SIGMA) / 2000 + off for z in (1.95996, -1.95996)]
    assert area.interval == pytest.approx(expected, abs=0.012)
    assert f"({interval_text(area.interval, 'share')})" in area.sentence


def test_a_panel_that_is_sure_makes_sure_claims():
    widths = []
    for sigma in (0.002, 0.02, 0.1):
        found = measure_with_intervals(
            _ramp(), _bare(sigma), rng=np.random.default_rng(1), viewer=FAR, rows=90
        )
        low, high = found["clipped.area"].interval
        widths.append(high - low)
    assert widths[0] < 0.01 < widths[1] < widths[2]


def test_reduction_is_measured_and_told():
    """One pixel in four is a lamp: means over two pixels each way hide it, and that is said."""
    light = np.full((180, 320, 3), 10.0, np.float32)
    light[::2, ::2] = 3000.0
    frame = Frame.from_light(light, "lamps")
    found = measure_with_intervals(
        frame, _bare(), rng=np.random.default_rng(0), viewer=FAR, rows=90
    )
    told = [str(c) for c in found.caveats if c.about == "intervals"]
    assert any("160 × 90" in text and "clipping 0 % there and 25 %" in text for text in told)
    assert found["clipped.area"].sentence.startswith(
        "25 % (0 % on the smaller picture) of the picture is clipped"
    )
    whole = measure_with_intervals(
        frame, _bare(), rng=np.random.default_rng(0), viewer=FAR, rows=180
    )
    assert not any(" there and " in str(c) for c in whole.caveats)


def test_same_seed_same_bytes(tmp_path):
    panel = _everything()
    files = [
        save_findings(
            measure_with_intervals(
                _ramp(), panel, rng=np.random.default_rng(5), viewer=FAR, rows=90
            ),
            tmp_path / name,
        )
        for name in ("a.json", "b.json")
    ]
    assert files[0].read_bytes() == files[1].read_bytes()


def test_content_is_not_the_panels_affair():
    found = measure_with_intervals(
        _ramp(), _bare(), rng=np.random.default_rng(0), viewer=FAR, rows=90
    )
    assert all(f.interval is None for name, f in found.items() if name.startswith("content"))
    for finding in found.values():
        low, high = finding.interval or (finding.value, finding.value)
        assert np.isnan(finding.value) or low <= finding.value <= high


def _everything() -> Panel:
    keys = ["light.open_cdm2", "limiter.gain#2", "zones.peak_weight", "cell.contrast",
            "spread.weight#1", "spread.weight#2", "spread.sigma_h#1"]  # fmt: skip
    scales = ["log", "log", "linear", "log", "logit", "logit", "log"]
    root = np.diag([0.03, 0.05, 0.2, 0.1, 0.3, 0.3, 0.04])
    root[5, 4], root[5, 5] = -0.3, 0.0  # the two weights are one number
    signal, light = [0.0, 0.3, 0.5, 0.75, 1.0], [0.0, 10.0, 92.0, 700.0, 900.0]
    interval = {
        "tone.curve#1.light#2": [9.0, 11.0],
        "tone.curve#1.light#3": [90.0, 95.0],
        "zones.rows": [6.0, 7.0],
    }
    return Panel(
        "Quarry",
        900.0,
        tone=Tone(curves=(ToneReading(0.0, numbers(signal), numbers(light)),)),
        zones=Zones(6, 8, peak_weight=0.9),
        spread=Spread(numbers([0.8, 0.2]), numbers([0.1, 0.4])),
        limiter=Limiter(numbers([0, 0.5, 1]), numbers([1, 0.99, 0.7])),
        cell=Cell(3000.0),
        fit=_fit(keys, scales, (root @ root.T).tolist(), interval),
    )


def test_drawn_panels_scatter_as_the_fit_says_and_can_exist():
    panel = _everything()
    drawn = list(panels_like(panel, np.random.default_rng(2), 800))
    opened = np.log([p.open_cdm2 for p in drawn])
    contrast = np.log([p.cell.contrast for p in drawn])
    grey = np.log([p.tone.curves[0].light[1] for p in drawn])
    assert opened.mean() == pytest.approx(np.log(900), abs=0.004)
    assert opened.std() == pytest.approx(0.03, rel=0.1)
    assert contrast.std() == pytest.approx(0.1, rel=0.1)
    # a normal 95 % interval is 2·1.96 standard deviations wide
    assert grey.std() == pytest.approx(np.log(11 / 9) / 3.92, rel=0.1)
    for each in drawn:
        assert each.zones.rows == 6
        assert 0 <= each.zones.peak_weight <= 1
        assert each.spread.weight.sum() == pytest.approx(1, abs=1e-9)
        assert (np.diff(each.limiter.gain) <= 0).all()
        assert (np.diff(each.tone.curves[0].light) >= 0).all()
        assert each.tone.curves[0].light[-1] == pytest.approx(each.open_cdm2)
        assert not is_fitted(each)


def test_a_very_pure_primary_stays_on_the_diagram():
    """Draws past x + y = 1, where no chromaticity is, come back to it whatever the rounding."""
    interval = {"primaries.red#1": [0.67, 0.70], "primaries.red#2": [0.30, 0.33]}
    panel = Panel("Pure", 900.0, primaries=Primaries(red=(0.684, 0.3159)), fit=_fit([], [], []))
    panel = replace(panel, fit=panel.fit | {"interval": interval})
    reds = [p.primaries.red for p in panels_like(panel, np.random.default_rng(4), 400)]
    assert max(map(sum, reds)) <= 1
    assert np.std(reds, axis=0).min() > 0.001


def test_every_sure_number_has_its_ends():
    keys = {each.key for each in sure_numbers(_everything())}
    assert keys == {"tone.curve#1.light#2", "tone.curve#1.light#3"}


@pytest.mark.parametrize(
    "fit",
    [
        {"covariance": {"key": ["light.open_cdm2"], "scale": ["log"], "matrix": [[-1.0]]}},
        {"covariance": {"key": ["light.open_cdm2"], "scale": ["cube"], "matrix": [[1.0]]}},
        {"covariance": {"key": ["light.open_cdm2"], "scale": [], "matrix": [[1.0]]}},
        {"covariance": {"key": ["zones.reach"], "scale": ["linear"], "matrix": [[1.0]]}},
        {"covariance": "wide"},
        {"covariance": {}, "interval": {"light.open_cdm2": [1.0]}},
        {"covariance": {}, "interval": {"light.open_cdm2": "about"}},
    ],
)
def test_a_fit_that_says_something_else_is_refused(fit):
    with pytest.raises(PanelError, match="fit"):
        list(panels_like(replace(_bare(), fit=fit), np.random.default_rng(0), 1))


@pytest.mark.parametrize(
    ("panel", "asked", "said"),
    [
        (Panel("Bare", 500.0), {}, "does not say how sure"),
        (_bare(), {"samples": 5}, "39"),
        (_bare(), {"rows": 10}, "90"),
    ],
)
def test_what_cannot_be_asked(panel, asked, said):
    with pytest.raises(RequestError, match=said):
        measure_with_intervals(_ramp(), panel, rng=np.random.default_rng(0), viewer=FAR, **asked)


@pytest.mark.parametrize(
    ("value", "unit", "sentence", "interval", "told"),
    [
        (0.031, "share", "3.1 % is lost.", (0.026, 0.037), "3.1 % (2.6 to 3.7 %) is lost."),
        (1.0, "steps", "Off by 1 visible step.", (0.8, 2), "Off by 1 visible step (0.8 to 2)."),
        (0.3, "degree", "It reaches 0.3°.", (0.2, 0.5), "It reaches 0.3° (0.2 to 0.5°)."),
        (0.0, "share", "Nothing is lost.", (0, 0.002), "Nothing is lost (0 to 0.2 %)."),
        (0.0, "steps", "Nothing.", (0.0, 2.0), "Nothing (0 to 2 visible steps)."),
        (0.01, "share", "1 % of 71 % is.", (0.01, 0.01), "1 % of 71 % is."),
        (0.01, "share", "Of 71 % it is 1 %.", (0.0, 0.02), "Of 71 % it is 1 % (0 to 2 %)."),
    ],
)
def test_the_interval_stands_behind_its_number(value, unit, sentence, interval, told):
    found = with_interval(Finding(value, unit, sentence, ""), interval)
    assert found.sentence == told
    assert found.interval == interval


@pytest.mark.parametrize(
    ("interval", "told"),
    [((0.2, 0.3), "20 % (20 to 30 %; so it is) is."), ((0.2, 0.2), "20 % (so it is) is.")],
)
def test_what_there_is_to_say_of_an_interval_stands_with_it(interval, told):
    found = Finding(0.2, "share", "20 % is.", "")
    assert with_interval(found, interval, "so it is").sentence == told


def test_a_value_that_nearly_all_panels_exceed_says_so():
    found = Finding(0.1, "share", "10 % is.", "")
    assert _why(found, 0.1, (0.1, 0.3), (0.15, 0.3)) == "nearly all panels drawn lie above it"
    assert _why(found, 0.1, (0.05, 0.1), (0.05, 0.08)) == "nearly all panels drawn lie below it"
    assert not _why(found, 0.1, (0.05, 0.3), (0.05, 0.3))


def test_no_interval_no_change():
    finding = Finding(0.5, "share", "50 % is.", "")
    assert with_interval(finding, None) == finding


def test_reduced_keeps_light_and_letterbox():
    light = np.random.default_rng(0).random((120, 200, 3), np.float32)
    frame = Frame.from_light(light, "noise", active=(20, 100, 0, 200))
    small = reduced(frame, 60)
    assert small.shape == (60, 100)
    assert small.active == (10, 50, 0, 100)
    np.testing.assert_allclose(small.light.mean(), light.mean(), rtol=1e-5)
    assert reduced(frame, 200) is frame
