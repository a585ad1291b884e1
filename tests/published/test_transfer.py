"""Transfer functions against the numbers that standards print and against colour-science."""

import numpy as np
import pytest

from emulate._kernels import scalars
from emulate.transfer import (
    PQ_C1,
    PQ_C2,
    PQ_C3,
    PQ_CONSTANTS,
    PQ_M1,
    PQ_M2,
    code_from_signal,
    hlg_gamma,
    light_from_hlg,
    light_from_pq,
    light_from_sdr,
    pq_from_light,
    scene_from_hlg,
    sdr_from_light,
    signal_from_code,
)

WHOLE_RANGE = np.concatenate([[0.0], np.geomspace(1e-6, 1e4, 400)])  # cd/m²
SIGNALS = np.linspace(0.0, 1.0, 1024)

# cd/m², signal, narrow 10-bit code, full 10-bit code. Source: the equations of SMPTE ST 2084:2014
# and ITU-R BT.2100-2 table 9, evaluated apart from this package in 50-digit decimal arithmetic.
CHECKS = [
    (0.1, 0.0623368657, 119, 64),
    (1.0, 0.1499457321, 195, 153),
    (10.0, 0.2996990924, 327, 307),
    (100.0, 0.5080784215, 509, 520),
    (203.0, 0.5806888810, 573, 594),
    (1000.0, 0.7518270962, 723, 769),
    (4000.0, 0.9025723933, 855, 923),
    (10000.0, 1.0, 940, 1023),
]


def test_constants_are_those_printed():
    """SMPTE ST 2084:2014, 5.2: the constants as decimal numbers."""
    assert (PQ_M1, PQ_M2) == (0.1593017578125, 78.84375)
    assert (PQ_C1, PQ_C2, PQ_C3) == (0.8359375, 18.8515625, 18.6875)
    assert PQ_C1 == PQ_C3 - PQ_C2 + 1


@pytest.mark.parametrize(("light", "signal", "narrow", "full"), CHECKS)
def test_pq_check_values(light, signal, narrow, full):
    assert pq_from_light(light) == pytest.approx(signal, abs=5e-11)
    assert light_from_pq(signal) == pytest.approx(light, rel=1e-8)
    assert code_from_signal(pq_from_light(light), 10, full_range=False) == narrow
    assert code_from_signal(pq_from_light(light), 10) == full


def test_pq_of_black_is_the_standards_own_rounding():
    """SMPTE ST 2084:2014: c1 to the power m2 is 7.31e-7, not 0."""
    assert pq_from_light(0.0) == pytest.approx(7.31e-7, rel=1e-3)
    assert light_from_pq(0.0) == 0.0
    assert light_from_pq(pq_from_light(0.0)) < 1e-12


def test_pq_equations_again_in_many_digits():
    """SMPTE ST 2084:2014, equations 4.1 and 5.2, in 50-digit decimal arithmetic."""
    from decimal import Decimal, getcontext

    getcontext().prec = 50
    m1, m2 = Decimal(2610) / 16384, Decimal(2523) / 32
    c1, c2, c3 = Decimal(3424) / 4096, Decimal(2413) / 128, Decimal(2392) / 128
    for light in (1e-5, 0.003, 0.1, 7.0, 203.0, 999.0, 9999.0):
        power = (Decimal(light) / 10000) ** m1
        signal = ((c1 + c2 * power) / (1 + c3 * power)) ** m2
        assert pq_from_light(light) == pytest.approx(float(signal), rel=1e-12)
        root = signal ** (1 / m2)
        back = 10000 * ((root - c1) / (c2 - c3 * root)) ** (1 / m1)
        assert light_from_pq(float(signal)) == pytest.approx(float(back), rel=1e-9)


def test_pq_agrees_with_colour_science_over_the_whole_range(colour):
    """colour-science, eotf_ST2084 and its inverse: a general-purpose colour library."""
    ours, theirs = pq_from_light(WHOLE_RANGE), colour.models.eotf_inverse_ST2084(WHOLE_RANGE)
    np.testing.assert_allclose(ours, theirs, rtol=1e-12, atol=1e-15)
    ours, theirs = light_from_pq(SIGNALS), colour.models.eotf_ST2084(SIGNALS)
    np.testing.assert_allclose(ours, theirs, rtol=1e-11, atol=1e-12)


def test_pq_there_and_back():
    np.testing.assert_allclose(light_from_pq(pq_from_light(WHOLE_RANGE)), WHOLE_RANGE, rtol=1e-7,
                               atol=1e-9)  # fmt: skip


def test_pq_clips_what_lies_outside():
    """ITU-R BT.2100-2 table 4: E′ in 0..1, F_D in 0..10000."""
    assert light_from_pq([-0.2, 1.2]) == pytest.approx([0.0, 10000.0])
    assert pq_from_light([-5.0, 2e4]) == pytest.approx([float(pq_from_light(0.0)), 1.0])


def test_hlg_scene_light_agrees_with_colour_science(colour):
    """colour-science, oetf_inverse_BT2100_HLG."""
    theirs = colour.models.oetf_inverse_BT2100_HLG(SIGNALS)
    np.testing.assert_allclose(scene_from_hlg(SIGNALS), theirs, rtol=1e-9, atol=1e-12)


def test_hlg_signal_levels():
    """ITU-R BT.2100-2 table 5 note 5b and BT.2408-7 table 1: half signal is 1/12, full is 1."""
    assert scene_from_hlg(0.5) == pytest.approx(1 / 12, rel=1e-12)
    assert scene_from_hlg(1.0) == pytest.approx(1.0, abs=1e-7)
    # BT.2408-7 table 1: HDR reference white, 75 % HLG, is 203 cd/m² on a 1000 cd/m² display.
    assert light_from_hlg(np.full(3, 0.75)) == pytest.approx([203.0] * 3, rel=3e-3)


@pytest.mark.parametrize("peak", [400.0, 1000.0, 2000.0])
def test_hlg_display_light_agrees_with_colour_science(colour, peak):
    """colour-science, eotf_BT2100_HLG in the form of BT.2100-2, black 0."""
    rgb = np.random.default_rng(7).random((300, 3))
    theirs = colour.models.eotf_BT2100_HLG(rgb, L_W=peak)
    np.testing.assert_allclose(light_from_hlg(rgb, peak), theirs, rtol=1e-8, atol=1e-10)


def test_hlg_gamma_at_a_thousand_is_one_point_two():
    """ITU-R BT.2100-2 table 5 note 5f; at 2000 cd/m² 1.33 as BT.2390 tabulates."""
    assert hlg_gamma(1000.0) == pytest.approx(1.2, abs=1e-12)
    assert hlg_gamma(2000.0) == pytest.approx(1.33, abs=5e-3)


def test_sdr_agrees_with_colour_science(colour):
    """ITU-R BT.1886 by colour-science, black level 0 and white 203 cd/m² (BT.2408-7, 2.2)."""
    theirs = colour.models.eotf_BT1886(SIGNALS, L_B=0.0, L_W=203.0)
    np.testing.assert_allclose(light_from_sdr(SIGNALS), theirs, rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(sdr_from_light(theirs), SIGNALS, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize(
    ("bits", "full_range", "black", "white"),
    [(8, False, 16, 235), (10, False, 64, 940), (12, False, 256, 3760), (10, True, 0, 1023),
     (12, True, 0, 4095), (16, True, 0, 65535)],
)  # fmt: skip
def test_code_levels_of_black_and_white(bits, full_range, black, white):
    """ITU-R BT.2100-2 table 9."""
    assert code_from_signal([0.0, 1.0], bits, full_range=full_range).tolist() == [black, white]
    codes = np.arange(2**bits)
    signal = signal_from_code(codes, bits, full_range=full_range)
    np.testing.assert_array_equal(code_from_signal(signal, bits, full_range=full_range), codes)


def test_one_pixel_s_signal_is_clipped_too():
    """SMPTE ST 2084: signals of 0 to 1; what kernels call, as plain Python."""
    assert scalars.pq_light(1.3, PQ_CONSTANTS) == pytest.approx(10000, rel=1e-12)
    assert scalars.pq_light(-0.3, PQ_CONSTANTS) == 0


def test_codes_are_ten_bits_where_nothing_is_said():
    """ITU-R BT.2100-2 table 9: 1023 is white of ten bits in full range."""
    assert (code_from_signal(1.0), signal_from_code(1023)) == (1023, 1)


def test_rounding_is_half_away_from_zero():
    """ITU-R BT.2100-2 table 9: INT rounds 0.5 up (and Sign(x)·floor(|x| + 0.5) below zero)."""
    half = np.array([0.5, 1.5, 2.5, -0.5]) / 1023
    assert code_from_signal(half, 10).tolist() == [1, 2, 3, -1]
