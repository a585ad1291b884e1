"""Primaries: in and out of panel channels, against colour-science and a numpy twin."""

import numpy as np
import pytest

from emulate.colorimetry import BT709, P3, colour_science, xy_from_xyz, xyz_from_rgb
from emulate.panel.cause import Cause
from emulate.panel.primaries import Primaries, light_from_panel, panel_light

WIDE = Primaries(*P3)
COLD = Primaries(*P3, (0.2950, 0.3050))


def light(seed: int = 2) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return (10 ** rng.uniform(-4, 3, (30, 40, 3))).astype(np.float32)


def flags(shape: tuple[int, ...]) -> np.ndarray:
    return np.zeros(shape[:2], dtype=np.uint8)


def p3_from_2020() -> np.ndarray:
    """colour-science's own P3-D65 and BT.2020 spaces."""
    colour = colour_science()
    spaces = colour.RGB_COLOURSPACES
    return np.asarray(
        np.linalg.inv(spaces["P3-D65"].matrix_RGB_to_XYZ)
        @ spaces["ITU-R BT.2020"].matrix_RGB_to_XYZ
    )


def test_matrix_agrees_with_colour_science() -> None:
    np.testing.assert_allclose(WIDE.matrix_in(), p3_from_2020(), atol=2e-4)


def test_bt2020_is_the_identity_exactly() -> None:
    picture = light()
    why = flags(picture.shape)
    asked = panel_light(picture, Primaries(), 1000.0, why)
    assert np.array_equal(asked, picture)
    assert np.array_equal(light_from_panel(asked, Primaries()), picture)
    assert not why.any()


def test_pixels_equal_the_numpy_twin() -> None:
    picture = light()
    why = flags(picture.shape)
    asked = panel_light(picture, COLD, 300.0, why)
    exact = picture.astype(np.float64) @ COLD.matrix_in().T
    np.testing.assert_allclose(asked, np.clip(exact, 0, 300), rtol=1e-5, atol=1e-6)
    noise = 1e-5 * picture.max(axis=-1, keepdims=True)
    cut = ((exact < -noise) | (exact > 300 * (1 + 1e-5))).any(axis=-1)
    assert np.array_equal(why == Cause.GAMUT, cut)
    assert 0 < cut.mean() < 1


def test_colours_inside_the_panel_come_back_and_are_not_flagged() -> None:
    """Random BT.709 colours, corners and edges included, carried in float32 BT.2020.

    Not P3: its red lies a hair outside BT.2020, so that BT.2020 light without negatives misses it.
    """
    small = Primaries(*BT709)
    rng = np.random.default_rng(5)
    inside = rng.uniform(0, 500, (40, 40, 3))
    inside[rng.uniform(size=inside.shape) < 0.3] = 0
    picture = (inside @ np.linalg.inv(small.matrix_in()).T).astype(np.float32)
    assert picture.min() >= 0
    why = flags(picture.shape)
    back = light_from_panel(panel_light(picture, small, 500.0, why), small)
    assert not why.any()
    np.testing.assert_allclose(back, picture, rtol=1e-5, atol=2e-3)


@pytest.mark.parametrize("primary", [(0, 1, 2), (1, 0, 2), (2, 0, 1)])
def test_a_pure_bt2020_primary_is_flagged_on_p3(primary: tuple[int, int, int]) -> None:
    picture = np.zeros((1, 1, 3), dtype=np.float32)
    picture[..., primary[0]] = 100
    why = flags(picture.shape)
    panel_light(picture, WIDE, 900.0, why)
    assert why[0, 0] == Cause.GAMUT


def test_light_above_the_open_cell_is_cut_and_flagged() -> None:
    grey = np.array([[[899] * 3, [901] * 3, [900 + 1e-3] * 3]], dtype=np.float32)
    why = flags(grey.shape)
    asked = panel_light(grey, WIDE, 900.0, why)
    assert asked.max() == 900
    assert why.tolist() == [[0, Cause.GAMUT, 0]]


def test_equal_channels_ask_for_the_panels_white_at_that_luminance() -> None:
    """A cold white is emitted cold: its xy and its luminance are the panel's, not D65's."""
    grey = np.full((1, 1, 3), 120, dtype=np.float32)
    asked = panel_light(grey, COLD, 900.0, flags(grey.shape))
    np.testing.assert_allclose(asked, 120, rtol=1e-6)
    xyz = xyz_from_rgb(light_from_panel(asked, COLD)[0, 0])
    np.testing.assert_allclose(xy_from_xyz(xyz), COLD.white, atol=1e-6)
    assert xyz[1] == pytest.approx(120, rel=1e-6)


def test_a_d65_white_stays_grey() -> None:
    grey = np.full((2, 2, 3), 50, dtype=np.float32)
    asked = panel_light(grey, WIDE, 900.0, flags(grey.shape))
    np.testing.assert_allclose(light_from_panel(asked, WIDE), 50, rtol=1e-6)


def test_out_may_be_the_light_itself() -> None:
    first, again = light(), light()
    why = flags(first.shape)
    expected = light_from_panel(panel_light(first, WIDE, 500.0, why), WIDE)
    panel_light(again, WIDE, 500.0, why, out=again)
    light_from_panel(again, WIDE, out=again)
    assert np.array_equal(again, expected)
