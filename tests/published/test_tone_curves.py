"""Tone curves against the documents that define them, and against numbers printed for them."""

import numpy as np
import pytest

from emulate.colorimetry import colour_science
from emulate.panel.curves import Curve, bt2390, hard_clip, identity, st2094_10, st2094_40
from emulate.transfer import light_from_pq, pq_from_light

GUIDED = (0.3, 0.5, 0.65, 0.75, 0.83, 0.89, 0.93, 0.96, 0.98)


def eetf_of_bt2390(
    light: np.ndarray, source: tuple[float, float], panel: tuple[float, float]
) -> np.ndarray:
    """ITU-R BT.2390-11, 5.4.1, steps 1 to 5 as printed (Hermite form), PQ by colour-science."""
    models = colour_science().models
    black, white = models.eotf_inverse_ST2084(np.array(source))
    low, high = (models.eotf_inverse_ST2084(np.array(panel)) - black) / (white - black)
    e1 = (models.eotf_inverse_ST2084(light) - black) / (white - black)
    ks = 1.5 * high - 0.5
    t = (e1 - ks) / (1 - ks)
    spline = (
        (2 * t**3 - 3 * t**2 + 1) * ks
        + (t**3 - 2 * t**2 + t) * (1 - ks)
        + (-2 * t**3 + 3 * t**2) * high
    )
    e2 = np.where(e1 < ks, e1, spline)
    e3 = e2 + low * (1 - e2) ** 4
    return np.asarray(models.eotf_ST2084(e3 * (white - black) + black))


@pytest.mark.parametrize(
    ("source", "panel"), [((0.0, 4000.0), (0.0, 1000.0)), ((0.005, 4000.0), (0.05, 600.0))]
)
def test_bt2390_follows_the_report(source: tuple[float, float], panel: tuple[float, float]) -> None:
    light = np.geomspace(0.01, source[1], 4001)
    curve = bt2390(source[1], source[0], panel[1], panel[0])
    expected = np.minimum(eetf_of_bt2390(light, source, panel), panel[1])
    np.testing.assert_allclose(curve.light(light), expected, rtol=2e-7)


# Worked from the formula of ITU-R BT.2390-11, 5.4.1, by hand calculation, to the digits given.
@pytest.mark.parametrize(
    ("curve", "light", "expected", "digits"),
    [
        (bt2390(4000, 0, 1000, 0), 600, 590.71, 2),
        (bt2390(4000, 0, 1000, 0), 1000, 814.61, 2),
        (bt2390(4000, 0, 1000, 0), 2000, 974.94, 2),
        (bt2390(10000, 0, 1000, 0), 500, 472.37, 2),
        (bt2390(10000, 0, 1000, 0), 1000, 713.33, 2),
        (bt2390(4000, 0, 600, 0.05), 0, 0.05, 8),
        (bt2390(4000, 0, 600, 0.05), 1, 1.5169, 4),
        (bt2390(4000, 0, 600, 0.05), 1000, 538.15, 2),
    ],
)
def test_bt2390_worked_values(curve: Curve, light: float, expected: float, digits: int) -> None:
    assert round(float(curve.light(light)), digits) == expected


def test_bt2390_knee_starts_where_the_report_says() -> None:
    """KS = 1.5·maxLum − 0.5 (ITU-R BT.2390-11, 5.4.1): 0.749474 for 0..4000 to 0..1000."""
    low, source = pq_from_light([0.0, 4000.0])
    knee = low + 0.749474 * (source - low)
    curve = bt2390(4000, 0, 1000, 0)
    assert float(curve.signal(knee - 1e-5) - (knee - 1e-5)) == 0
    assert float(curve.signal(knee + 1e-4) - (knee + 1e-4)) < 0


def test_bt2390_leaves_alone_what_the_panel_covers() -> None:
    light = np.geomspace(1e-4, 10000, 500)
    assert np.array_equal(bt2390(1000, 0, 1000, 0).light(light), light)
    assert np.array_equal(bt2390(1000, 0.01, 4000, 0.005).light(light), light)


def test_st2094_40_worked_values() -> None:
    """SMPTE ST 2094-40: form from memory; values by hand from the Bernstein sum."""
    curve = st2094_40(1000, (0.1, 0.3), GUIDED, 600)
    assert float(curve.light(250)) / 600 == pytest.approx(0.57771, abs=5e-6)
    assert float(curve.light(500)) / 600 == pytest.approx(0.831019, abs=5e-7)
    assert float(curve.light(50)) / 600 == pytest.approx(0.15, abs=1e-9)


def test_st2094_40_agrees_with_scipy_on_the_bernstein_part() -> None:
    from scipy.interpolate import BPoly

    weights = np.array([0.0, *GUIDED, 1.0])[:, None]
    x = np.linspace(0.1, 1, 1001)
    bend = 0.3 + 0.7 * BPoly(weights, [0.1, 1.0])(x)
    curve = st2094_40(4000, (0.1, 0.3), GUIDED, 800)
    np.testing.assert_allclose(curve.light(4000 * x), 800 * bend, rtol=1e-7)


def test_st2094_10_worked_values() -> None:
    """SMPTE ST 2094-10: form from memory; values by hand from the three anchors."""
    curve = st2094_10([(0, 0), (0.4, 0.38), (0.75, 0.65)])
    assert float(curve.signal(0.2)) == pytest.approx(0.20104651, abs=5e-9)
    assert float(curve.signal(0.6)) == pytest.approx(0.5403125, abs=5e-9)
    np.testing.assert_allclose(curve.signal([0, 0.4, 0.75, 1]), [0, 0.38, 0.65, 0.65], atol=1e-12)


def test_hard_clip_and_identity_are_exact() -> None:
    light = np.geomspace(1e-6, 10000, 1000)
    assert np.array_equal(identity().light(light), light)
    clipped = hard_clip(700).light(light)
    assert np.array_equal(clipped[light <= 699.99], light[light <= 699.99])
    np.testing.assert_allclose(clipped[light > 700], 700, rtol=1e-12)


def test_pq_check_values_survive_the_curve() -> None:
    """SMPTE ST 2084: 203 cd/m² has signal 0.5806888810; the identity leaves it there."""
    assert float(identity().signal(0.5806888810)) == 0.5806888810
    assert float(light_from_pq(0.5806888810)) == pytest.approx(203, rel=1e-8)


@pytest.mark.parametrize(
    "curve", [bt2390(4000, 0, 1000, 0), st2094_10([(0, 0), (0.4, 0.38), (0.75, 0.65)])]
)
def test_signals_beyond_black_and_white_count_as_those(curve: Curve) -> None:
    """SMPTE ST 2084 knows signals of 0 to 1 only; a curve holds its ends, and so does its slope."""
    beyond, ends = [-0.3, 1.2], [0.0, 1.0]
    np.testing.assert_array_equal(curve.signal(beyond), curve.signal(ends))
    np.testing.assert_array_equal(curve.slope(beyond), curve.slope(ends))
