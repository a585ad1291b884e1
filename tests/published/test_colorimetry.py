"""Colour against standards' tables, colour-science and other people's pairs."""

import numpy as np
import pytest

from emulate.colorimetry import (
    BT709,
    BT2020,
    D65,
    ICTCP_FROM_LMS,
    LMS_FROM_RGB,
    P3,
    delta_e_2000,
    gamut_coverage,
    ictcp_from_rgb,
    rgb_from_ictcp,
    rgb_from_xyz,
    rgb_matrix,
    steps_between,
    uv_from_xy,
    xy_from_xyz,
    xyz_from_rgb,
    xyz_from_xyy,
    xyz_matrix,
)
from emulate.transfer import LUMINANCE_2020, pq_from_light

RNG = np.random.default_rng(2100)
LIGHT = np.concatenate(
    [np.geomspace(1e-4, 1e4, 60)[:, None] * np.ones(3), 10 ** RNG.uniform(-4, 4, (600, 3))]
)  # cd/m², neutrals and colours over the whole range of PQ


def test_luminance_weights_come_out_of_the_primaries():
    """ITU-R BT.2020-2 table 4 (printed to four digits)."""
    np.testing.assert_allclose(xyz_matrix(BT2020)[1], LUMINANCE_2020, atol=5e-5)


def test_matrix_of_bt709_is_the_one_of_srgb():
    """IEC 61966-2-1:1999, equation 7 (printed to four digits)."""
    printed = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    np.testing.assert_allclose(xyz_matrix(BT709), printed, atol=6e-5)


def test_matrix_from_bt709_to_bt2020():
    """ITU-R BT.2087-0, 2: M2 (printed to four digits)."""
    printed = [[0.6274, 0.3293, 0.0433], [0.0691, 0.9195, 0.0114], [0.0164, 0.0880, 0.8956]]
    np.testing.assert_allclose(rgb_matrix(BT2020, source=BT709), printed, atol=6e-5)


@pytest.mark.parametrize(
    ("primaries", "name"), [(BT2020, "ITU-R BT.2020"), (BT709, "ITU-R BT.709"), (P3, "P3-D65")]
)
def test_matrices_agree_with_colour_science(colour, primaries, name):
    """colour-science, normalised_primary_matrix of its own tables of primaries."""
    space = colour.RGB_COLOURSPACES[name]
    np.testing.assert_allclose(np.asarray(primaries), space.primaries, atol=1e-12)
    theirs = colour.normalised_primary_matrix(space.primaries, space.whitepoint)
    np.testing.assert_allclose(xyz_matrix(primaries), theirs, rtol=1e-12, atol=1e-15)


def test_xyz_there_and_back():
    np.testing.assert_allclose(rgb_from_xyz(xyz_from_rgb(LIGHT)), LIGHT, rtol=1e-9, atol=1e-9)
    xyy = np.array([[0.3127, 0.3290, 100.0], [0.68, 0.32, 20.0]])
    np.testing.assert_allclose(xy_from_xyz(xyz_from_xyy(xyy)), xyy[:, :2], rtol=1e-12)


def test_uv_of_d65():
    """CIE 15:2018: u′ 0.1978, v′ 0.4683 for D65."""
    assert uv_from_xy(D65) == pytest.approx([0.1978, 0.4683], abs=5e-5)


def test_ictcp_matrices_are_those_printed():
    """ITU-R BT.2100-2 table 7: rows of each sum as they must for neutrals."""
    np.testing.assert_array_equal(LMS_FROM_RGB.sum(axis=1), [1, 1, 1])
    np.testing.assert_array_equal(ICTCP_FROM_LMS.sum(axis=1), [1, 0, 0])


def test_ictcp_agrees_with_colour_science_over_the_whole_range(colour):
    """colour-science, RGB_to_ICtCp, method ITU-R BT.2100-2 PQ."""
    theirs = colour.RGB_to_ICtCp(LIGHT, method="ITU-R BT.2100-2 PQ")
    np.testing.assert_allclose(ictcp_from_rgb(LIGHT), theirs, rtol=1e-10, atol=1e-12)


def test_ictcp_of_a_printed_example():
    """Worked example of colour-science's handbook, RGB_to_ICtCp, from memory."""
    ours = ictcp_from_rgb(np.array([0.45620519, 0.03081071, 0.04091952]))
    assert ours == pytest.approx([0.07351364, 0.00475253, 0.09351596], abs=5e-9)


def test_visible_steps_of_a_printed_pair():
    """Worked example of colour-science's handbook, delta_E_ITP: 1.42657228, from memory."""
    first = rgb_from_ictcp(np.array([0.4885468072, -0.04739350675, 0.07475401302]))
    second = rgb_from_ictcp(np.array([0.4899203231, -0.04567508203, 0.07361341775]))
    assert steps_between(first, second) == pytest.approx(1.42657228, abs=5e-7)


def test_ictcp_there_and_back():
    back = rgb_from_ictcp(ictcp_from_rgb(LIGHT))
    scale = LIGHT.max(axis=1, keepdims=True)
    np.testing.assert_allclose(back / scale, LIGHT / scale, atol=1e-6)


def test_visible_steps_agree_with_colour_science(colour):
    """colour-science, delta_E_ITP (ITU-R BT.2124-0), over pairs of the whole range."""
    other = LIGHT * RNG.uniform(0.8, 1.0, LIGHT.shape)  # colour-science does not stop at 10000
    pairs = [colour.RGB_to_ICtCp(each, method="ITU-R BT.2100-2 PQ") for each in (LIGHT, other)]
    theirs = colour.difference.delta_E_ITP(*pairs)
    np.testing.assert_allclose(steps_between(LIGHT, other), theirs, rtol=1e-9, atol=1e-9)


def test_visible_steps_of_neutrals_are_720_pq():
    """ITU-R BT.2124-0, annex 1: for neutrals only I differs."""
    first, second = np.geomspace(0.01, 5000, 40), np.geomspace(0.011, 5100, 40)
    expected = 720 * np.abs(pq_from_light(first) - pq_from_light(second))
    ours = steps_between(first[:, None] * np.ones(3), second[:, None] * np.ones(3))
    np.testing.assert_allclose(ours, expected, rtol=1e-9)


# Share of BT.2020 in xy and u′v′. Source: the printed primaries, intersected here by scipy. P3's
# red lies a hair outside BT.2020: the plain ratio of areas, .71743 and .72866, would count that
# too.
@pytest.mark.parametrize(
    ("primaries", "xy", "uv"), [(P3, 0.71729, 0.72849), (BT709, 0.52887, 0.58031)]
)
def test_gamut_coverage(primaries, xy, uv):
    assert shared_area(primaries, BT2020) == pytest.approx(xy, abs=5e-6)
    assert gamut_coverage(primaries) == pytest.approx(xy, abs=5e-6)
    assert gamut_coverage(primaries, diagram="uv") == pytest.approx(uv, abs=5e-6)


def shared_area(first, second):
    """Share of triangle `second` inside `first`, by scipy's half-plane intersection."""
    from scipy.spatial import ConvexHull, HalfspaceIntersection

    hulls = [ConvexHull(np.array(triangle)) for triangle in (first, second)]
    inside = np.mean(first, axis=0)  # of both, for the gamuts tested
    planes = np.vstack([hull.equations for hull in hulls])
    corners = HalfspaceIntersection(planes, inside).intersections
    return ConvexHull(corners).volume / hulls[1].volume


def test_gamut_coverage_is_an_intersection():
    """A gamut covers itself once, a larger one no more, a crossing one only what they share."""
    assert gamut_coverage(BT709, BT709) == pytest.approx(1.0, abs=1e-12)
    assert gamut_coverage(BT2020, BT709) == pytest.approx(1.0, abs=1e-12)
    apart = ((0.9, 0.9), (0.8, 0.95), (0.95, 0.8))
    assert gamut_coverage(apart, BT709) == 0.0
    unit, half = ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0)), ((0.5, 0.0), (1.5, 0.0), (0.5, 1.0))
    assert gamut_coverage(half, unit) == pytest.approx(0.25, abs=1e-12)  # similar at one half
    assert gamut_coverage(half[::-1], unit) == pytest.approx(0.25, abs=1e-12)


# Sharma, Wu and Dalal, Color Research and Application 30 (2005) 21, table 1: pairs of CIELAB and
# their ΔE00, from memory; the witness below recomputes each.
SHARMA = [
    ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
    ((50.0, 3.1571, -77.2803), (50.0, 0.0, -82.7485), 2.8615),
    ((50.0, 2.8361, -74.0200), (50.0, 0.0, -82.7485), 3.4412),
    ((50.0, -1.3802, -84.2814), (50.0, 0.0, -82.7485), 1.0000),
    ((50.0, -1.1848, -84.8006), (50.0, 0.0, -82.7485), 1.0000),
    ((50.0, -0.9009, -85.5211), (50.0, 0.0, -82.7485), 1.0000),
    ((50.0, 0.0, 0.0), (50.0, -1.0, 2.0), 2.3669),
    ((50.0, -1.0, 2.0), (50.0, 0.0, 0.0), 2.3669),
    ((50.0, 2.4900, -0.0010), (50.0, -2.4900, 0.0009), 7.1792),
    ((50.0, 2.4900, -0.0010), (50.0, -2.4900, 0.0010), 7.1792),
    ((50.0, 2.4900, -0.0010), (50.0, -2.4900, 0.0011), 7.2195),
    ((50.0, 2.4900, -0.0010), (50.0, -2.4900, 0.0012), 7.2195),
    ((50.0, -0.0010, 2.4900), (50.0, 0.0009, -2.4900), 4.8045),
    ((50.0, -0.0010, 2.4900), (50.0, 0.0010, -2.4900), 4.8045),
    ((50.0, -0.0010, 2.4900), (50.0, 0.0011, -2.4900), 4.7461),
    ((50.0, 2.5, 0.0), (50.0, 0.0, -2.5), 4.3065),
    ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
    ((50.0, 2.5, 0.0), (61.0, -5.0, 29.0), 22.8977),
    ((50.0, 2.5, 0.0), (56.0, -27.0, -3.0), 31.9030),
    ((50.0, 2.5, 0.0), (58.0, 24.0, 15.0), 19.4535),
    ((50.0, 2.5, 0.0), (50.0, 3.1736, 0.5854), 1.0000),
    ((50.0, 2.5, 0.0), (50.0, 3.2972, 0.0), 1.0000),
    ((50.0, 2.5, 0.0), (50.0, 1.8634, 0.5757), 1.0000),
    ((50.0, 2.5, 0.0), (50.0, 3.2592, 0.3350), 1.0000),
    ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ((63.0109, -31.0961, -5.8663), (62.8187, -29.7946, -4.0864), 1.2630),
    ((61.2901, 3.7196, -5.3901), (61.4292, 2.2480, -4.9620), 1.8731),
    ((35.0831, -44.1164, 3.7933), (35.0232, -40.0716, 1.5901), 1.8645),
    ((22.7233, 20.0904, -46.6940), (23.0331, 14.9730, -42.5619), 2.0373),
    ((36.4612, 47.8580, 18.3852), (36.2715, 50.5065, 21.2231), 1.4146),
    ((90.8027, -2.0831, 1.4410), (91.1528, -1.6435, 0.0447), 1.4441),
    ((90.9257, -0.5406, -0.9208), (88.6381, -0.8985, -0.7239), 1.5381),
    ((6.7747, -0.2908, -2.4247), (5.8714, -0.0985, -2.2286), 0.6377),
    ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
]


def test_delta_e_2000_on_sharmas_pairs(colour):
    white = xyz_from_xyy([*D65, 100.0])
    labs = np.array([pair[:2] for pair in SHARMA])
    xyz = colour.Lab_to_XYZ(labs, xy_from_xyz(white)) * white[1]
    ours = delta_e_2000(xyz[:, 0], xyz[:, 1], white)
    np.testing.assert_allclose(ours, [pair[2] for pair in SHARMA], atol=1.5e-4)
    witness = colour.difference.delta_E_CIE2000(labs[:, 0], labs[:, 1])
    np.testing.assert_allclose(ours, witness, atol=1e-6)
