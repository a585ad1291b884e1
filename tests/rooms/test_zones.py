"""Zones: statistics against a plain numpy twin, drive by hand, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from emulate.errors import RequestError
from emulate.panel.zones import (
    SelfEmissive,
    Statistics,
    Zones,
    driven,
    reached,
    statistics,
    zone_edges,
)


def statistics_twin(light, open_cdm2, rows, columns, grain):
    """Physics §5.1 and 5.2 once more, by slicing and without a kernel."""
    share = light.max(axis=2).astype(np.float64) / open_cdm2
    height, width = share.shape
    peak, mean = np.zeros((rows, columns)), np.zeros((rows, columns))
    for r in range(rows):
        for c in range(columns):
            zone = share[
                r * height // rows : (r + 1) * height // rows,
                c * width // columns : (c + 1) * width // columns,
            ]
            cells = [
                zone[y : y + grain, x : x + grain].mean()
                for y in range(0, zone.shape[0], grain)
                for x in range(0, zone.shape[1], grain)
            ]
            peak[r, c], mean[r, c] = max(cells), zone.mean()
    return peak, mean


@given(
    size=st.tuples(st.integers(1, 40), st.integers(1, 40)),
    grid=st.tuples(st.integers(1, 9), st.integers(1, 9)),
    grain=st.integers(1, 7),
    seed=st.integers(0, 2**32 - 1),
)
@settings(max_examples=60, deadline=None)
def test_statistics_are_those_of_the_twin(size, grid, grain, seed):
    rows, columns = min(grid[0], size[0]), min(grid[1], size[1])
    light = np.random.default_rng(seed).random((*size, 3), dtype=np.float32) * 800
    seen = statistics(light, 800.0, Zones(rows, columns, grain_px=grain))
    peak, mean = statistics_twin(light, 800.0, rows, columns, grain)
    np.testing.assert_allclose(seen.peak, peak, rtol=1e-12)
    np.testing.assert_allclose(seen.mean, mean, rtol=1e-12)


def test_zones_cover_every_pixel_once():
    """floor(r·H/R) by hand: 10 pixels in 4 zones are 2, 3, 2 and 3."""
    np.testing.assert_array_equal(zone_edges(4, 10), [0, 2, 5, 7, 10])


def test_a_cut_cell_averages_what_it_has():
    """5 pixels with grain 4: the last cell is one pixel wide and as bright as its pixels."""
    light = np.zeros((4, 5, 3), dtype=np.float32)
    light[:, 4, 1] = 100.0
    seen = statistics(light, 100.0, Zones(1, 1, grain_px=4))
    assert seen.peak[0, 0] == pytest.approx(1.0, rel=1e-12)
    assert seen.mean[0, 0] == pytest.approx(0.2, rel=1e-12)


@pytest.mark.parametrize(
    ("zones", "expected"),
    [
        (Zones(1, 1, peak_weight=1.0), 0.8),  # maximum
        (Zones(1, 1, peak_weight=0.0), 0.25),  # mean
        (Zones(1, 1, peak_weight=0.0, gamma=0.5), 0.5),  # root mean
        (Zones(1, 1, peak_weight=0.4, gamma=2.0), 0.47**2),
        (Zones(1, 1, peak_weight=0.0, cut=0.25), 0.0),
        (Zones(1, 1, peak_weight=0.0, floor=0.3), 0.3),
    ],
)
def test_drive_by_hand(zones, expected):
    seen = (np.array([[0.8]]), np.array([[0.25]]))
    drive = driven(type(statistics(np.zeros((1, 1, 3), np.float32), 1.0, zones))(*seen), zones)
    assert drive[0, 0] == pytest.approx(expected, rel=1e-12)


def test_floor_lights_no_black_zone():
    assert Zones(1, 1, floor=0.3).target(np.zeros((4, 4, 3), np.float32), 100.0)[0, 0] == 0.0


def test_reach_lights_all_eight_neighbours_and_no_further():
    drive = np.zeros((5, 5))
    drive[2, 2], drive[2, 3] = 1.0, 0.1
    expected = np.zeros((5, 5))
    expected[1:4, 1:4] = 0.3
    expected[1:4, 4] = 0.03
    expected[2, 2] = 1.0
    np.testing.assert_allclose(reached(drive, 0.3), expected, atol=1e-15)


def test_reach_stops_at_the_edge():
    """Nothing wraps round: a lit corner has three neighbours."""
    drive = np.zeros((3, 4))
    drive[0, 0] = 1.0
    assert np.count_nonzero(reached(drive, 0.5)) == 4


def test_load_of_zones_is_their_mean_drive():
    target = np.array([[1.0, 0.0], [0.5, 0.1]])
    assert Zones(2, 2).load(Statistics(target, target), target) == pytest.approx(0.4)


def test_load_of_self_emissive_is_the_mean_of_all_channels():
    """One of four pixels pure red at full light: a twelfth of full white."""
    light = np.zeros((2, 2, 3), dtype=np.float32)
    light[1, 0, 0] = 600.0
    source = SelfEmissive()
    seen = source.seen(light, 600.0)
    assert source.load(seen, source.called_for(seen)) == pytest.approx(1 / 12)


def test_self_emissive_never_leaks():
    assert SelfEmissive().leak(1000.0) == 0.0
    assert Zones(1, 1).leak(1000.0) == pytest.approx(1e-3)
    assert Zones(1, 1).leak(float("inf")) == 0.0


@pytest.mark.parametrize(("rows", "columns"), [(5, 1), (1, 7)])
def test_more_zones_than_pixels_are_refused(rows, columns):
    with pytest.raises(RequestError, match=f"{columns} × {rows} on a picture of 6 × 4 px"):
        Zones(rows, columns).target(np.zeros((4, 6, 3), np.float32), 100.0)
