"""Panning: dirt and grids of known size, held against sums done by hand and by colour-science."""

from __future__ import annotations

from dataclasses import replace

import colour
import numpy as np
import pytest

from emulate import Panel, draw_pan, load_panel, measure_pan, save_drawing
from emulate.demo_frames import panel_files
from emulate.errors import RequestError
from emulate.findings.panning import BROAD_DEGREES, grid_steps, without_shading
from emulate.panel.cell import Cell
from emulate.panel.spread import Spread
from emulate.panel.uniformity import Uniformity
from emulate.panel.zones import Zones
from emulate.sight import CELL_DEGREES
from emulate.values import numbers

SHAPE = (180, 320)
PANELS = {file.stem: file for file in panel_files()}


def _stripes(periods: int, amplitude: float, columns: int = 320) -> Uniformity:
    """A photograph's map with a cosine across the screen, exact at its pixels."""
    turn = 2 * np.pi * periods * (np.arange(columns) + 0.5) / columns
    return Uniformity(numbers(np.tile(1 + amplitude * np.cos(turn), (90, 1))))


def test_a_perfect_screen_is_clean():
    pan = measure_pan(Panel("clean", 500.0), 20.0, shape=SHAPE)
    assert np.abs(pan.dirt).max() < 0.01
    assert pan.findings["dirt.area"].value == 0
    assert "no dirt is to be seen" in pan.findings["dirt.worst"].sentence
    assert "grid.columns" not in pan.findings


def test_stripes_of_known_size_are_found_with_it():
    """1 % stripes at 20 cd/m²: 720·ΔPQ⁻¹ (ITU-R BT.2124, PQ by colour-science) from crest to
    trough. Cells of 0.1° mean over 1/9 of a period (sinc), the broad Gaussian takes its own gain
    off: 1 − exp(−2π²σ²f²)."""
    pan = measure_pan(replace(Panel("striped", 500.0), uniformity=_stripes(20, 0.01)), 20.0,
                      shape=SHAPE)  # fmt: skip
    signals = colour.models.eotf_inverse_ST2084(20.0 * np.array([0.99, 1.01]))
    whole = 720 * float(np.diff(signals)[0])
    cycles_per_cell = 20 / pan.dirt.shape[1]
    broad = np.exp(-2 * np.pi**2 * (BROAD_DEGREES / CELL_DEGREES * cycles_per_cell) ** 2)
    expected = whole * np.sinc(cycles_per_cell) * (1 - broad)
    middle = pan.dirt[:, 60:-60].mean(axis=0)
    # The bands swing around 20 cd/m², where a step is not quite the same share of light.
    assert np.ptp(middle) == pytest.approx(expected, rel=0.05)
    found = pan.findings
    assert found["dirt.screen"].value == pytest.approx(found["dirt.worst"].value, rel=1e-3)
    assert found["dirt.backlight"].value < 0.01


def test_slow_shading_is_left_out_of_dirt():
    slow = np.broadcast_to(np.linspace(-5, 5, 318), (179, 318))
    assert np.abs(without_shading(slow)[:, 120:-120]).max() < 0.01
    spot = np.zeros((179, 318))
    spot[80:84, 150:154] = 2.0
    assert without_shading(spot)[81, 151] == pytest.approx(2.0, rel=0.01)


@pytest.mark.parametrize("columns", [8, 16, 64])
def test_a_grid_of_known_size_is_found_with_it(columns):
    zones = Zones(6, columns)
    turn = 2 * np.pi * columns * (np.arange(318) + 0.5) / 318
    grid = np.tile(0.7 * np.cos(turn + 0.3), (179, 1))
    across, down = grid_steps(grid, zones)
    assert across == pytest.approx(1.4, rel=1e-6)
    assert down == pytest.approx(0, abs=1e-9)
    assert grid_steps(grid, Zones(1, 1)) == (0.0, 0.0)


def test_zones_show_where_the_cell_does_not_know_its_backlight():
    zones = Zones(5, 9, gamma=0.5)
    told = Spread(numbers([1.0]), numbers([0.05]))
    panel = Panel("zoned", 500.0, zones=zones, spread=told, cell=Cell(compensation=1.0))
    blind = replace(panel, cell=Cell(compensation=0.0))
    knows, does_not = (measure_pan(each, 20.0, shape=SHAPE).findings for each in (panel, blind))
    assert knows["grid.passing"].value < 0.1
    assert "do not show" in knows["grid.passing"].sentence
    assert does_not["grid.passing"].value > 1
    assert does_not["dirt.backlight"].value == pytest.approx(does_not["dirt.worst"].value)


def test_a_page_has_a_map_for_each_level(tmp_path):
    panel = load_panel(PANELS["coarse_zones"])
    pans = [measure_pan(panel, level, shape=SHAPE) for level in (5.0, 100.0)]
    drawing = draw_pan(pans)
    for pan in pans:
        assert pan.findings["dirt.worst"].sentence in drawing.alt
    assert save_drawing(drawing, tmp_path / "pan.png").path.stat().st_size > 5000


@pytest.mark.parametrize("level", [0.0, -1.0, 9000.0, float("nan")])
def test_a_level_that_cannot_be_shown_is_refused(level):
    with pytest.raises(RequestError, match="accepted is above 0, at most 6667"):
        measure_pan(Panel("any", 500.0), level)
