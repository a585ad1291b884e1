"""Zones counted from a crawl that a plain numpy simulator made.

The simulator is written here from the box model of light under a diffuser with mirror walls; it
shares nothing with the panel's own code.
"""

from math import erf

import numpy as np
import pytest

from emulate.errors import ReadingError
from emulate.readings.crawl import count_from_light, count_from_switch_overs, count_zones
from emulate.readings.patterns.crawling import box_centre, crawl, crawling
from emulate.readings.readings import Reading, Readings, Source, SwitchOvers, Trace

SHAPE = (270, 480)
PEAK = 1000.0
HERE = Source("test", 1)


def cumulative(z):
    return 0.5 * (1 + np.vectorize(erf)(z / np.sqrt(2)))


def profile(places, zones, extent, sigma):
    """(places, zones): share of each zone's light along one axis, mirror images included."""
    edges = np.arange(zones + 1) / zones * extent
    light = np.zeros((len(places), zones))
    for image in range(-4, 5):
        for sign in (1, -1):
            x = sign * np.asarray(places)[:, None] * extent + 2 * image * extent
            light += cumulative((x - edges[:-1]) / sigma) - cumulative((x - edges[1:]) / sigma)
    return light / light.sum(axis=1, keepdims=True)


def overlap(centre, side, zones):
    """Share of each zone along one axis that a box covers."""
    edges = np.arange(zones + 1) / zones
    inside = np.minimum(edges[1:], centre + side / 2) - np.maximum(edges[:-1], centre - side / 2)
    return np.clip(inside, 0, None) * zones


def box_light(x, y, columns, rows, side_x, side_y):
    """Light in the middle of a white box, relative; a = 0.7, γ = 0.8, reach 0.3."""
    mean = np.outer(overlap(y, side_y, rows), overlap(x, side_x, columns))
    drive = (0.7 * (mean > 1e-9) + 0.3 * mean) ** 0.8
    padded = np.pad(drive, 1)
    around = [padded[1 + j :, 1 + i :][:rows, :columns] for j in (-1, 0, 1) for i in (-1, 0, 1)]
    drive = np.maximum(drive, 0.3 * np.max(around, axis=0))
    pitch = 16 / 9 / columns
    return sum(
        weight
        * (
            profile([y], rows, 1, s * pitch)[0]
            @ drive
            @ profile([x], columns, 16 / 9, s * pitch)[0]
        )
        for weight, s in ((0.85, 0.5), (0.15, 2.0))
    )


def simulated(patches, columns, rows):
    box = patches[0]
    x, y = (box_centre(box, axis, SHAPE) for axis in ("horizontal", "vertical"))
    return box_light(x, y, columns, rows, box.width / SHAPE[1], box.height / SHAPE[0])


def traced(axis, columns, rows, rng, noise=0.05):
    stimulus = crawling(axis, SHAPE, PEAK)
    time, light = [0.5], [0.0]
    for moment in stimulus.moments:
        if moment.patches:
            time.append(moment.time_s)
            light.append(simulated(moment.patches, columns, rows))
    time.append(time[-1] + 0.5)
    light.append(0.0)
    noisy = np.array(light) * np.exp(noise * rng.standard_normal(len(light)))
    return Trace(stimulus, np.array(time), noisy, HERE, relative=True)


@pytest.mark.parametrize(("columns", "rows"), [(16, 6), (8, 1), (32, 18), (48, 27)])
def test_zones_are_counted_under_five_percent_noise(columns, rows):
    rng = np.random.default_rng(columns)
    traces = tuple(traced(axis, columns, rows, rng) for axis in ("horizontal", "vertical"))
    zones = count_zones(Readings((), traces))
    assert (zones.columns.count, zones.rows.count) == (columns, rows)
    assert zones.total == columns * rows
    assert not zones.columns.ambiguous
    assert zones.rows.ambiguous == (rows == 1)


def test_single_readings_count_sixteen_by_six():
    rng = np.random.default_rng(2)
    readings = tuple(
        Reading(still, 500 * value * np.exp(0.02 * rng.standard_normal()), HERE)
        for axis in ("horizontal", "vertical")
        for still in crawl(axis, SHAPE, PEAK)
        for value in [simulated(still.patches, 16, 6)]
    )
    zones = count_zones(Readings(readings))
    assert zones.total == 96


def test_switch_overs_counted_by_eye_are_believed_first():
    moving = crawling("horizontal", SHAPE, PEAK)
    rng = np.random.default_rng(3)
    zones = count_zones(
        Readings((), (traced("horizontal", 8, 4, rng),), (SwitchOvers(moving, 15, HERE),))
    )
    assert zones.columns.count == 16
    assert zones.total is None
    assert any("15 switch-overs" in str(c) and "8 zones" in str(c) for c in zones.caveats)


def test_counted_switch_overs_are_one_less_than_zones():
    # common practice, no source
    assert count_from_switch_overs("horizontal", 15).count == 16


def test_a_step_coarser_than_the_zone_is_ambiguous_and_says_so():
    """Even steps of 1/20: 32 zones and 8 (= 40 - 32) give the very same wave."""
    x = (np.arange(20) + 0.5) / 20
    light = np.array([box_light(p, 0.52, 32, 18, 0.011, 0.02) for p in x])
    found = count_from_light("horizontal", x, light, box=0.011)
    assert found.ambiguous
    assert found.finest == 10
    assert "coarser" in found.said or found.alternatives


def test_no_wave_is_one_zone_and_never_certain():
    rng = np.random.default_rng(5)
    x = (np.arange(120) + 0.5) / 120
    found = count_from_light("vertical", x, np.exp(0.05 * rng.standard_normal(120)), box=0.02)
    assert found.count == 1
    assert found.ambiguous


def test_the_count_does_not_depend_on_the_unit_or_on_the_order():
    rng = np.random.default_rng(6)
    x = (np.arange(96) + 0.5) / 96
    light = np.array([box_light(p, 0.52, 16, 6, 0.011, 0.02) for p in x])
    light *= np.exp(0.05 * rng.standard_normal(96))
    shuffled = rng.permutation(96)
    first = count_from_light("horizontal", x, light, box=0.011)
    second = count_from_light("horizontal", x[shuffled], 3.7 * light[shuffled], box=0.011)
    assert first.count == second.count == 16
    assert first.confidence == pytest.approx(second.confidence, abs=1e-6)


@pytest.mark.parametrize(
    ("x", "light"), [(np.linspace(0, 1, 5), np.ones(5)), (np.linspace(0, 1, 20), np.zeros(20))]
)
def test_too_little_is_refused(x, light):
    with pytest.raises(ReadingError, match="8 positions or more"):
        count_from_light("horizontal", x, light, box=0.01)
