"""Charts of colours as they are put on screen, against averages printed by their maker."""

from __future__ import annotations

import numpy as np
import pytest

from emulate.colorimetry import xyz_from_rgb, xyz_from_xyy
from emulate.readings.patterns.charts import CHARTS, chart_light

D50 = (0.34570291, 0.3585386)  # the white of ICC profiles, as CIELAB below takes it

# CIELAB under D50 of the 24 patches made after November 2014, row by row, from memory.
CLASSIC = [
    (37.54, 14.37, 14.92), (64.66, 19.27, 17.50), (49.32, -3.82, -22.54), (43.46, -12.74, 22.72),
    (54.94, 9.61, -24.79), (70.48, -32.26, -0.37), (62.73, 35.83, 56.50), (39.43, 10.75, -45.17),
    (50.57, 48.64, 16.67), (30.10, 22.54, -20.87), (71.77, -24.13, 58.19), (71.51, 18.24, 67.37),
    (28.37, 15.42, -49.80), (54.38, -39.72, 32.27), (42.43, 51.05, 28.62), (81.80, 2.67, 80.41),
    (50.63, 51.28, -14.12), (49.57, -29.71, -28.32), (95.19, -1.03, 2.93), (81.29, -0.57, 0.44),
    (66.89, -0.75, -0.06), (50.76, -0.13, 0.14), (35.63, -0.46, -0.48), (20.64, 0.07, -0.46),
]  # fmt: skip


def lab(colour, kind):
    """CIELAB under D50 of the light shown, taken back from D65 by colour-science (CAT02)."""
    xyz = xyz_from_rgb(np.array(list(chart_light(kind).values())))
    whites = (xyz_from_xyy([0.3127, 0.3290, 1.0]), xyz_from_xyy([*D50, 1.0]))
    return colour.XYZ_to_Lab(colour.chromatic_adaptation(xyz, *whites), D50)


def test_the_chart_of_24_is_the_printed_one(colour):
    assert lab(colour, "chart24") == pytest.approx(np.array(CLASSIC), abs=6e-3)


def test_the_chart_of_140_has_its_frame_of_neutrals(colour):
    """Ten by fourteen, framed by white, middle grey and black in turn (layout from memory)."""
    names, found = list(chart_light("chart140")), lab(colour, "chart140")
    assert len(set(names)) == 140
    assert set(names) == {f"{letter}{row}" for letter in "ABCDEFGHIJKLMN" for row in range(1, 11)}
    framing = [name[0] in "AN" or name[1:] in ("1", "10") for name in names]
    frame = found[framing]
    assert len(frame) == 2 * 14 + 2 * 8
    assert np.hypot(frame[:, 1], frame[:, 2]).max() < 3
    lightness = np.array([97.0, 50.0, 8.0])  # whole numbers, from memory
    assert np.abs(frame[:, :1] - lightness).min(axis=1).max() < 1.5
    assert found[:, 0].max() == frame[:, 0].max()


def test_both_charts_are_asked_for_by_their_patches():
    assert [len(chart_light(kind)) for kind in CHARTS] == [24, 140]
