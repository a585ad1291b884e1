"""Visible steps, glare and geometry against the CIE's formula, printed values and geometry."""

import numpy as np
import pytest
from scipy.integrate import dblquad, quad

from emulate.errors import RequestError
from emulate.sight import (
    Viewer,
    box_pixels,
    cell_counts,
    cell_edges,
    cell_means,
    cell_pixels,
    glare,
    steps_from_light,
    veiled,
)

YOUNG = Viewer(age=25.0, pigment=0.5)
CENTRE = 100  # cell at the centre of the pictures below


# CIE 146:2002, the general disability glare equation, at age 25 and pigment 0.5: evaluated apart
# in double precision from the printed formula.
@pytest.mark.parametrize(("degrees", "per_lux"), [(0.1, 10513.3), (1.0, 15.1805), (10.0, 0.067658)])
def test_glare_check_values(degrees, per_lux):
    assert glare(degrees, YOUNG) == pytest.approx(per_lux, rel=8e-6)


def test_glare_follows_stiles_and_holladay_between_three_and_thirty_degrees():
    """CIE 146:2002: the old 10/θ² for a young eye holds to a few tenths in its range."""
    angles = np.linspace(3.0, 30.0, 20)
    ratio = glare(angles, YOUNG) / (10 / angles**2)
    assert ratio.min() > 0.5
    assert ratio.max() < 1.3


def test_glare_by_seventy_is_two_and_a_half_times_that_at_twenty():
    """CIE 146:2002, 10° off: the veil of an eye of 70 years over that of a young one, ± 15 %."""
    ratio = glare(10.0, Viewer(age=70.0)) / glare(10.0, Viewer(age=20.0))
    assert ratio == pytest.approx(2.5, rel=0.15)


def test_a_quarter_of_the_light_is_scattered_beyond_a_tenth_of_a_degree():
    """CIE 146:2002 integrated by scipy over a hemisphere of even light, cosine for lux."""

    def ring(degrees: float) -> float:
        angle = np.deg2rad(degrees)
        return float(glare(degrees, YOUNG) * 2 * np.pi * np.sin(angle) * np.cos(angle))

    share, _ = quad(ring, 0.1, 90, limit=400)
    assert np.deg2rad(1) * share == pytest.approx(0.26, abs=0.005)


def test_what_scatters_leaves_its_cell():
    """The formula summed over every cell within 100°, one row of cells after the other."""
    across = np.arange(-1000, 1001) * 0.1
    total = 0.0
    for down in across:
        angle = np.hypot(across, down)
        seen = angle[(angle > 1e-9) & (angle <= 100)]
        total += float(glare(seen, YOUNG).sum()) * np.deg2rad(0.1) ** 2
    field = np.zeros((201, 201))
    field[CENTRE, CENTRE] = 1000.0
    assert 1 - veiled(field, YOUNG)[CENTRE, CENTRE] / 1000.0 == pytest.approx(total, rel=1e-6)


def _patch() -> np.ndarray:
    """A patch of 1° × 1° at 1000 cd/m² in the middle of black."""
    field = np.zeros((201, 201))
    field[CENTRE - 5 : CENTRE + 5, CENTRE - 5 : CENTRE + 5] = 1000.0
    return field


def test_patch_as_a_point():
    """1° × 1° at 1000 cd/m² is 1000·(π/180)² = 0.3046 lx at the eye (definition of lux)."""
    lux = 1000 * np.deg2rad(1) ** 2
    assert lux == pytest.approx(0.3046, abs=5e-5)
    assert lux * glare(1.0, YOUNG) == pytest.approx(4.62, abs=0.01)
    assert lux * glare(3.0, YOUNG) == pytest.approx(0.292, abs=1e-3)


@pytest.mark.parametrize(("cells", "about"), [(10, 5.3), (30, 0.29)])
def test_patch_summed_over_its_area(cells, about):
    """The formula integrated over the patch by scipy, for cells 1.05° and 3.05° from its middle."""
    degrees = 0.1 * cells + 0.05
    by_hand, _ = dblquad(
        lambda x, y: float(glare(np.hypot(degrees - x, y), YOUNG)), -0.5, 0.5, -0.5, 0.5
    )
    by_hand *= 1000 * np.deg2rad(1) ** 2
    assert by_hand == pytest.approx(about, rel=0.01)
    assert veiled(_patch(), YOUNG)[CENTRE, CENTRE + cells] == pytest.approx(by_hand, rel=0.01)


def test_veil_makes_no_light_and_none_of_black():
    assert veiled(np.zeros((40, 60)), YOUNG).max() == pytest.approx(0.0, abs=1e-12)
    field = _patch()
    assert veiled(field, YOUNG).sum() < field.sum()
    np.testing.assert_allclose(veiled(2 * field, YOUNG), 2 * veiled(field, YOUNG), atol=1e-9)


def test_an_even_field_in_an_even_surround_stays_even():
    lit = Viewer(age=25.0, surround=50.0)
    np.testing.assert_allclose(veiled(np.full((30, 50), 50.0), lit), 50.0, rtol=1e-9)


def test_steps_are_720_pq(colour):
    """ITU-R BT.2124-0 with PQ by colour-science."""
    light = np.geomspace(1e-4, 1e4, 50)
    expected = 720 * colour.models.eotf_inverse_ST2084(light)
    np.testing.assert_allclose(steps_from_light(light), expected, rtol=1e-12)


def test_a_pixel_of_hdtv_at_its_design_distance_is_a_minute_of_arc():
    """ITU-R BT.2022 and BT.1845: 3.2 picture heights for 1080 rows are one arc minute a pixel."""
    per_pixel = 0.1 / cell_pixels(Viewer(distance_h=3.2), 1080) * 60
    assert per_pixel == pytest.approx(1.0, abs=0.01)
    # The same table: 1.6 picture heights for 2160 rows.
    assert 0.1 / cell_pixels(Viewer(distance_h=1.6), 2160) * 60 == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize(("rows", "pixels"), [(1080, 7), (2160, 13), (540, 3), (90, 3)])
def test_box_is_the_odd_count_next_to_a_tenth_of_a_degree(rows, pixels):
    """Geometry: 0.1° at 3.2 H is 6.03 pixels of 1080 rows; odd counts 5, 7: half goes up."""
    step = np.deg2rad(0.1) * 3.2 * rows
    assert box_pixels(Viewer(), rows) == pixels == max(3, 2 * int((step - 1) / 2 + 0.5) + 1)


@pytest.mark.parametrize("shape", [(1080, 1920), (1079, 1913), (480, 203)])
def test_cells_hold_every_pixel_once(shape):
    """Pixel i lies in cell floor(i·n/H): written here pixel by pixel."""
    viewer = Viewer()
    rows, columns = cell_counts(viewer, shape)
    for count, extent in ((rows, shape[0]), (columns, shape[1])):
        cells = [i * count // extent for i in range(extent)]
        assert [cells.index(cell) for cell in range(count)] == cell_edges(count, extent).tolist()
    image = np.random.default_rng(3).random(shape)
    by_hand, counted = np.zeros((rows, columns)), np.zeros((rows, columns))
    down, across = np.arange(shape[0]) * rows // shape[0], np.arange(shape[1]) * columns // shape[1]
    np.add.at(by_hand, np.ix_(down, across), image)
    np.add.at(counted, np.ix_(down, across), 1)
    np.testing.assert_allclose(cell_means(image, viewer), by_hand / counted, rtol=1e-12)


@pytest.mark.parametrize("shape", [(47, 80), (5, 5), (1, 1)])
def test_a_cell_smaller_than_a_pixel_takes_one(shape):
    image = np.random.default_rng(4).random(shape)
    means = cell_means(image, Viewer())
    assert means.shape == cell_counts(Viewer(), shape)
    assert set(np.unique(means)) <= set(np.unique(image))


# Least visible contrast by Barten (1999) at 10 luminances, 0.01 to 100 cd/m² evenly in log, for the
# field and eye of ITU-R BT.2246: the curve of its figure on the limits of banding.
BARTEN = [0.0218764, 0.0141848, 0.0095244, 0.0066805, 0.0049246, 0.0038228, 0.0031188, 0.0026627,
          0.0023674, 0.0021814]  # fmt: skip
LEVELS = np.geomspace(0.01, 100, 10)  # cd/m²
SEEN = {
    "k": 3.0,
    "T": 0.1,
    "X_max": 12,
    "N_max": 15,
    "n": 0.03,
    "p": 1.2274e6,
    "phi_0": 3e-8,
    "u_0": 7,
    "X_0": 60,
    "Y_0": 60,
}  # fmt: skip  ITU-R BT.2246, the eye and a field of 60°


def _barten_threshold(colour, luminance: float) -> float:
    """2/1.27/S at the frequency seen best: from peak to peak, of a square wave."""
    contrast = colour.contrast
    pupil = contrast.pupil_diameter_Barten1999(luminance, 60, 60)
    sigma = contrast.sigma_Barten1999(0.5 / 60, 0.08 / 60, pupil)
    lit = contrast.retinal_illuminance_Barten1999(luminance, pupil)
    frequency = np.geomspace(0.1, 20, 4000)
    seen = contrast.contrast_sensitivity_function_Barten1999(frequency, sigma=sigma, E=lit, **SEEN)
    return float(2 / 1.27 / seen.max())


def test_barten_row(colour):
    """colour-science, the model of Barten (1999)."""
    ours = [_barten_threshold(colour, light) for light in LEVELS]
    np.testing.assert_allclose(ours, BARTEN, rtol=4e-5)  # printed digits are cut, not rounded


def test_twelve_bits_of_pq_lie_along_bartens_threshold():
    """ITU-R BT.2246: one 12-bit code of PQ is a step about as large as Barten's threshold."""
    per_code = 720 / 4095  # visible steps
    step = 0.001 * per_code / (steps_from_light(LEVELS * 1.001) - steps_from_light(LEVELS))
    np.testing.assert_allclose(step, BARTEN, rtol=0.15)


@pytest.mark.parametrize(
    "wrong", [{"distance_h": 0.0}, {"age": 200.0}, {"pigment": -1.0}, {"surround": float("nan")}]
)
def test_a_viewer_that_cannot_be_is_refused(wrong):
    with pytest.raises(RequestError, match=next(iter(wrong))):
        Viewer(**wrong)
