"""Signal range: ladders of codes against what ST 2084 and the ranges of BT.2100 make of them."""

from __future__ import annotations

from dataclasses import replace

import colour
import numpy as np
import pytest

from emulate import Panel, measure_range
from emulate.errors import RequestError
from emulate.panel.cell import Cell
from emulate.panel.zones import Zones


def _light(signal):
    return float(colour.models.eotf_ST2084(signal))  # SMPTE ST 2084 by colour-science


@pytest.fixture(scope="module")
def plain() -> Panel:
    return Panel("plain", 10000.0)


def test_a_faithful_set_shows_each_code_at_its_light(plain):
    found = measure_range(plain, peak=1000.0)
    at = dict(zip(found.code.tolist(), found.light.tolist(), strict=True))
    assert at[64] == 0
    assert at[68] == pytest.approx(_light(4 / 876), rel=1e-4)  # of 876, BT.2100-2
    assert at[723] == pytest.approx(_light((723 - 64) / 876), rel=1e-4)
    assert found.findings["range.below"].value == 0
    assert "as they should" in found.findings["range.below"].sentence
    # 720 steps over 876 codes: one code is 0.82 of a step, two are 1.64 (ITU-R BT.2124).
    assert found.findings["range.black.first"].value == 2
    assert found.findings["range.white.last"].value > 200  # nothing is clipped up to the last code


def test_narrow_taken_for_full_lifts_black(plain):
    """Check value of PQ: full-range code 64 is 0.1 cd/m²; narrow white stays below 10 000."""
    found = measure_range(plain, sent="narrow", taken="full").findings
    assert found["range.black.light"].value == pytest.approx(0.1, rel=0.05)
    assert found["range.black.light"].value == pytest.approx(_light(64 / 1023), rel=1e-4)
    assert found["range.below"].value > 10
    assert "should not show" in found["range.below"].sentence


def test_full_taken_for_narrow_crushes_the_first_64_codes(plain):
    found = measure_range(plain, sent="full", taken="narrow").findings
    assert np.isnan(found["range.black.first"].value)
    assert "None of the first 40 codes" in found["range.black.first"].sentence
    assert "range.below" not in found
    matched = measure_range(plain, sent="full", taken="full").findings
    assert matched["range.black.first"].value == 2  # 720 steps over 1023 codes: 0.70, 1.41


def test_a_set_that_clips_says_where():
    """Hard clip at 600 cd/m²: PQ⁻¹(600) is code 673.6 of narrow range, 723 is 1000 cd/m²."""
    top = 64 + 876 * float(colour.models.eotf_inverse_ST2084(600.0))
    found = measure_range(Panel("clips", 600.0), peak=1000.0).findings["range.white.last"]
    assert found.value == pytest.approx(top - 723, abs=4)
    assert found.value < 0
    assert "below the content's peak" in found.sentence


def test_leakage_hides_the_first_codes(plain):
    leaky = replace(plain, zones=Zones(1, 1, floor=0.01), cell=Cell(contrast=1000.0))
    found = measure_range(leaky).findings
    assert found["range.black.light"].value == pytest.approx(10000 * 0.01 / 1000, rel=1e-4)
    assert found["range.black.first"].value > 30 or np.isnan(found["range.black.first"].value)


@pytest.mark.parametrize("asked", [{"sent": "wide"}, {"taken": "wide"}, {"peak": 0.5}])
def test_what_cannot_be_asked(plain, asked):
    with pytest.raises(RequestError, match="accepted is"):
        measure_range(plain, **asked)
