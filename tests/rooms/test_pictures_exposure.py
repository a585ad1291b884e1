"""Exposure slices: chosen from the content, stated in words, cut off only with a word."""

from itertools import pairwise

import numpy as np
import pytest

from emulate.pictures.exposure import Slice, slices, written
from tests.rooms.pictured import case

# ISO 3:1973, series R10, one decade, as rounded for exposure (from memory)
R10 = (1, 1.25, 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 8)


class Stand:
    """What slices look at: light and nothing else."""

    def __init__(self, light):
        self.light = np.asarray(light, dtype=np.float32)


def grey(*values, width=100):
    """One row of grey for each value."""
    return np.repeat(np.array(values, dtype=np.float32), width * 3).reshape(-1, width, 3)


def test_each_region_with_content_gets_a_slice_that_holds_it():
    frame = Stand(grey(0.4, 90.0, 2900.0))
    found = slices(frame, frame)
    assert [(s.name, s.white) for s in found] == [
        ("deep shadow", 0.4),
        ("middle", 100.0),
        ("highlight", 3150.0),
    ]
    assert [s.above_reference for s in found] == pytest.approx([2 / 3, 1 / 3, 0])


@pytest.mark.parametrize("level", [0.0, 1e-5, 0.07, 0.1])
def test_a_dark_frame_has_one_slice_and_it_does_not_magnify_below_a_tenth(level):
    frame = Stand(grey(level))
    (only,) = slices(frame, frame)
    assert (only.name, only.white) == ("deep shadow", 0.1)
    assert only.warning == ""


def test_a_halo_on_black_is_inside_the_shadow_slice():
    frame, panel = Stand(grey(0.0)), Stand(grey(0.9))
    (only,) = slices(frame, panel)
    assert only.white == 1.0
    assert only.above_panel == 0


def test_a_thousandth_of_the_frame_is_enough_for_a_slice_and_less_is_not():
    light = grey(0.5, width=10_000)
    light[0, :10] = 1500.0
    assert [s.name for s in slices(Stand(light), Stand(light))] == ["deep shadow", "highlight"]
    light[0, 0] = 0.5
    assert [s.name for s in slices(Stand(light), Stand(light))] == ["deep shadow"]


@pytest.mark.parametrize(("dark", "names"), [(4, ["highlight"]), (6, ["deep shadow", "highlight"])])
def test_a_slice_that_would_be_all_white_is_left_out(dark, names):
    light = grey(900.0)
    light[0, :dark] = 0.5
    frame = Stand(light)
    assert [s.name for s in slices(frame, frame)] == names


def test_neighbours_that_would_look_alike_are_one():
    frame = Stand(grey(190.0, 240.0))
    assert [s.name for s in slices(frame, frame)] == ["highlight"]


def test_whites_are_numbers_of_the_series_and_never_below_the_content():
    rng = np.random.default_rng(4)
    for level in 10 ** rng.uniform(-1, 4, 200):
        frame = Stand(grey(level))
        (only,) = slices(frame, frame)
        assert np.float32(level) <= np.float32(only.white) * (1 + 2e-6)
        assert only.white <= level * 1.3
        decade = 10 ** np.floor(np.log10(only.white) + 1e-9)
        assert min(abs(only.white / decade - r) for r in R10) < 1e-6


def test_what_is_cut_off_is_said():
    exposure = Slice("middle", 200.0, 0.125, 0.0)
    assert exposure.sentence.startswith("White of this picture = 200 cd/m².")
    assert "12 %" in exposure.warning or "13 %" in exposure.warning
    assert "0 % of the panel" in exposure.warning
    assert Slice("middle", 200.0, 0.0, 0.0).warning == ""


@pytest.mark.parametrize(
    ("white", "words"),
    [
        (1.0, "200 × lighter than life"),
        (203.0, "as light as life"),
        (4000.0, "20 × darker than life"),
    ],
)
def test_a_slice_says_how_it_stands_to_life(white, words):
    assert words in Slice("any", white, 0, 0).sentence


def test_slices_of_a_real_rendering_rise():
    frame, rendering, _ = case()
    whites = [s.white for s in slices(frame, rendering)]
    assert len(whites) >= 2
    assert all(b >= 2 * a for a, b in pairwise(whites))


@pytest.mark.parametrize(
    ("value", "words"),
    [(0.0, "0"), (0.315, "0.315"), (4000.0, "4000"), (10000.0, "10\u202f000"), (49.26, "49.3")],
)
def test_numbers_are_written_plainly(value, words):
    assert written(value) == words
