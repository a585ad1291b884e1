"""The look: colours told apart, amounts even, type legible."""

from itertools import combinations

import numpy as np
import pytest

from emulate.colorimetry import colour_science
from emulate.pictures import ground, style
from tests.rooms.pictured import linear

APART = 20.0  # ΔE 2000; our bound: ten times what is told apart side by side (common practice)


@pytest.fixture(scope="module")
def simulated():
    """Lab (n, 3) of sRGB hex colours as seen with full and with missing cones.

    Machado, Oliveira and Fernandes 2009, by colour-science.
    """
    colour = colour_science()
    matrices = {
        "all cones": np.eye(3),
        "deuteranopia": colour.matrix_cvd_Machado2009("Deuteranomaly", 1.0),
        "protanopia": colour.matrix_cvd_Machado2009("Protanomaly", 1.0),
    }

    def labs(colours):
        light = linear(np.array([style.rgb(c) for c in colours]))
        for name, matrix in matrices.items():
            seen = np.clip(light @ np.asarray(matrix).T, 0, 1)
            xyz = colour.RGB_to_XYZ(seen, "sRGB", apply_cctf_decoding=False)
            yield name, colour.XYZ_to_Lab(xyz)

    return labs


@pytest.mark.parametrize(
    ("colours", "bound"),
    [
        pytest.param([*style.CAUSES.values(), style.MAT], APART, id="causes on their mat"),
        pytest.param([*style.SERIES, style.PAGE], APART, id="lines on the page"),
        pytest.param(style.STEP_COLOURS, 7.0, id="steps, which follow one another"),
    ],
)
def test_colours_are_told_apart_by_everyone(simulated, colours, bound):
    colour = colour_science()
    for name, labs in simulated(colours):
        nearest = min(
            float(colour.delta_E(labs[i], labs[j], method="CIE 2000"))
            for i, j in combinations(range(len(colours)), 2)
        )
        assert nearest > bound, name


def test_causes_stand_out_from_the_lightest_and_darkest_ground(simulated):
    colour = colour_science()
    greys = [f"#{grey:02x}{grey:02x}{grey:02x}" for grey in (ground.DARK, ground.LIGHT)]
    shown = [*style.CAUSES.values(), *style.STEP_COLOURS[1:]]
    for name, labs in simulated([*greys, *shown]):
        for lab in labs[2:]:
            for grey in labs[:2]:
                assert colour.delta_E(lab, grey, method="CIE 2000") > 15, name


def test_amounts_rise_evenly_in_lightness(simulated):
    for colours in (style.AMOUNT, style.STEP_COLOURS):
        _, labs = next(simulated(colours))
        rises = np.diff(labs[:, 0])
        assert rises.min() > 0.85 * rises.mean()
        assert rises.max() < 1.15 * rises.mean()


def test_amounts_rise_in_lightness_for_everyone(simulated):
    for colours in (style.AMOUNT, style.STEP_COLOURS):
        for name, labs in simulated(colours):
            assert np.diff(labs[:, 0]).min() > 0, name


def test_type_has_the_contrast_of_wcag():
    """WCAG 2.2, success criterion 1.4.3: 4.5:1, and the formula of its definition."""

    def luminance(colour):
        return float(linear(style.rgb(colour)) @ [0.2126, 0.7152, 0.0722])

    for type_, paper in (
        (style.INK, style.PAGE),
        (style.FAINT, style.PAGE),
        (style.PAGE, style.MAT),
    ):
        light, dark = sorted((luminance(type_), luminance(paper)), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= 4.5


def test_smallest_type_is_eleven_px():
    assert min(style.TITLE, style.HEADING, style.BODY, style.SMALL) >= 11


def test_steps_change_colour_at_each_doubling_and_not_before():
    below = np.full((1, 9, 3), 7, dtype=np.uint8)
    steps = np.array([[0.0, 0.999, 1.0, 1.999, 2.0, 4.0, 8.0, 16.0, 400.0]])
    drawn = style.step_colours(steps, below)
    wanted = [None, None, 0, 0, 1, 2, 3, 4, 4]
    for pixel, index in zip(drawn[0], wanted, strict=True):
        colour = [7, 7, 7] if index is None else style.rgb(style.STEP_COLOURS[index])
        np.testing.assert_array_equal(pixel, colour)


def test_colours_over_ground_mix_as_light():
    """Half an area of white on black reflects half the light: sRGB code 188, IEC 61966-2-1."""
    black = np.zeros((1, 3, 3), dtype=np.uint8)
    white = np.full(3, 255, dtype=np.uint8)
    drawn = style.laid_over(black, [(white, np.array([[0.0, 0.5, 1.0]]))])
    assert drawn[0, :, 0].tolist() == [0, 188, 255]
