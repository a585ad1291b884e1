"""The invented scenes: light that can be, the same at every size, and the levels they promise."""

import numpy as np
import pytest

from emulate import EmulateError, load_panel
from emulate.demo_frames import SCENES, panel_files, question, scene
from emulate.demo_frames.canvas import Canvas, glowing, graded
from emulate.demo_frames.lettering import inked, text_strokes, text_width
from emulate.demo_frames.tracing import Ball, Box, Tube, illuminance, rays, traced
from emulate.transfer import LUMINANCE_2020


@pytest.fixture(scope="module")
def small():
    return {name: scene(name, rows=180) for name in SCENES}


@pytest.mark.parametrize("name", SCENES)
def test_light_that_can_be(small, name):
    frame = small[name]
    assert frame.shape == (180, 320)
    assert frame.light.dtype == np.float32
    assert frame.light.min() >= 0
    assert frame.metadata.mastering_peak == 4000
    largest = frame.light.max(axis=2)
    assert largest.max() <= 4000
    assert frame.metadata.max_cll == pytest.approx(largest.max(), abs=0.5)
    assert frame.metadata.max_fall == pytest.approx(largest.mean(), abs=0.006)
    assert question(name).endswith("?")


@pytest.mark.parametrize("name", ["stars_between_stars", "neon_without_white"])
def test_same_call_same_bytes(small, name):
    np.testing.assert_array_equal(scene(name, rows=180).light, small[name].light)


# What each scene is there for, in cd/m²: percentile of the largest channel, and its bounds.
@pytest.mark.parametrize(
    ("name", "percentile", "low", "high"),
    [
        ("drifts_in_sunlit_snow", 60, 1000, 4000),
        ("lamps_on_black_water", 50, 0.0005, 0.02),
        ("lamps_on_black_water", 99.9, 100, 4000),
        ("subtitle_on_black", 25, 0, 0.001),
        ("subtitle_on_black", 99.5, 150, 210),
        ("stars_between_stars", 50, 0.003, 0.05),
        ("candle_and_corners", 30, 0.005, 1),
        ("candle_and_corners", 90, 0.005, 1),
        ("neon_without_white", 98, 300, 4000),
        ("window_and_table", 50, 3, 60),
        ("window_and_table", 97, 800, 4000),
    ],
)
def test_levels(small, name, percentile, low, high):
    assert low <= np.percentile(small[name].light.max(axis=2), percentile) <= high


def test_neon_holds_no_white(small):
    """What is bright is nearly pure: its weakest channel is a small part of its strongest."""
    light = small["neon_without_white"].light
    bright = light[light.max(axis=2) > 200]
    assert np.percentile(bright.min(axis=1) / bright.max(axis=1), 90) < 0.25


@pytest.mark.parametrize("name", SCENES)
def test_a_larger_canvas_shows_the_same_scene(small, name):
    """Means over a coarse grid agree; points of light fall where they may."""
    large = scene(name, rows=360).light.reshape(9, 40, 16, 40, 3)
    there, here = large.mean((1, 3)), small[name].light.reshape(9, 20, 16, 20, 3).mean((1, 3))
    steps = np.log((there + 1e-3) / (here + 1e-3))
    assert np.median(np.abs(steps)) < 0.05


def test_a_grade_keeps_order_hue_and_its_peak():
    rising = np.geomspace(0.01, 4000, 200, dtype=np.float32)
    light = rising[:, None, None] * np.float32([1, 0.5, 0.2])
    thousand = graded(light, 1000.0)
    assert thousand.max() == pytest.approx(1000.0, rel=1e-5)
    assert (np.diff(thousand[:, 0, 0]) > 0).all()
    np.testing.assert_allclose(thousand / thousand[..., :1], light / light[..., :1], rtol=1e-5)
    np.testing.assert_array_equal(thousand[light[:, 0, 0] < 249], light[light[:, 0, 0] < 249])
    np.testing.assert_allclose(graded(light, 4000.0), light, rtol=1e-6)


def test_both_masters_of_a_scene():
    low, high = (scene("drifts_in_sunlit_snow", rows=90, peak=peak) for peak in (1000.0, 4000.0))
    assert low.metadata.mastering_peak == 1000
    assert low.light.max() <= 1000 < high.light.max()


@pytest.mark.parametrize(
    ("name", "options"),
    [("snow", {}), *((SCENES[0], each) for each in ({"peak": 5.0}, {"peak": np.nan}, {"rows": 9}))],
)  # fmt: skip
def test_refusals(name, options):
    with pytest.raises(EmulateError, match="accepted is"):
        scene(name, **options)


def test_a_candle_lights_by_inverse_square_and_cosine():
    """1 cd at 2 m square on is 1/4 lx (definition of the lux); at 60° half of it."""
    floor = (Box((-9, -1, -9), (9, 0, 9)),)
    down = np.array([[0.0, 2 * np.sqrt(3)], [-1.0, -2.0], [0.0, 0.0]], np.float32)
    down /= np.sqrt((down**2).sum(axis=0))
    view = traced(floor, (0.0, 2.0, 0.0), down)
    lit = illuminance(view, floor, (0.0, 2.0, 0.0), 0.01)
    assert lit == pytest.approx([1 / 4, np.cos(np.radians(60)) / 16], rel=1e-3)


@pytest.mark.parametrize("thing", [Ball((0, 1, 0), 0.3), Tube((0, 0.8, 0), 0.3, 0.4)])
def test_a_thing_between_throws_a_shadow(thing):
    shapes = (Box((-9, -1, -9), (9, 0, 9)), thing)
    ray = np.array([[0.0, 0.0], [-2.0, -2.0], [0.0, 1.5]], np.float32)
    ray /= np.sqrt((ray**2).sum(axis=0))
    view = traced(shapes[:1], (0.0, 2.0, 0.0), ray)
    lit = illuminance(view, shapes[1:], (0.0, 2.0, 0.0), 0.01)
    assert lit[0] == pytest.approx(0.0, abs=1e-6)
    assert lit[1] > 0.05


def test_rays_are_unit_and_level_at_the_horizon():
    ray = rays(Canvas(90), 0.5, 1.2)
    np.testing.assert_allclose((ray**2).sum(axis=0), 1, rtol=1e-5)
    assert abs(ray[1].reshape(90, 160)[44:46].mean()) < 1e-6


def test_glow_is_redder_the_cooler_and_of_luminance_one():
    """BT.2020-2 weights; CIE 15: a black body of 2856 K has x 0.4476, y 0.4074."""
    from emulate.colorimetry import xy_from_xyz, xyz_from_rgb

    assert xy_from_xyz(xyz_from_rgb(glowing(2856.0))) == pytest.approx([0.4476, 0.4074], abs=1e-3)
    for kelvin in (1800.0, 2500.0, 3900.0):
        assert glowing(kelvin) @ LUMINANCE_2020 == pytest.approx(1.0, abs=2e-3)
    assert glowing(1800.0)[2] < glowing(3900.0)[2]


def test_type_covers_what_its_pen_covers():
    """A straight stroke of length 0.76 and radius r covers 0.76·2r and a disc (geometry)."""
    canvas, size, radius = Canvas(1080), 0.3, 0.01
    ink = inked(canvas, text_strokes("l", 0.5, 0.6, size), radius)
    expected = 0.76 * size * 2 * radius + np.pi * radius**2
    assert ink.sum() / canvas.rows**2 == pytest.approx(expected, rel=5e-3)
    assert text_width("lamp", 2.0) == pytest.approx(2 * text_width("lamp", 1.0))


def test_panels_load_without_a_doubt():
    names = []
    for file in panel_files():
        panel = load_panel(file)
        assert not panel.caveats
        assert file.read_text("utf-8").startswith("# An invented panel")
        names.append(panel.name)
    assert len(set(names)) == 3
