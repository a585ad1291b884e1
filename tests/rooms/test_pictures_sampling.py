"""Means over area: against whole-number arithmetic on a grid fine enough for both sizes."""

from math import lcm

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from emulate.pictures.sampling import area_mean, cells_drawn, fitted

side = st.integers(1, 12)


def by_repeating(image, size):
    """Every pixel repeated until both grids divide it, then plain means of blocks."""
    (h, w), (rows, columns) = image.shape[:2], size
    tall, wide = lcm(h, rows), lcm(w, columns)
    fine = image.repeat(tall // h, axis=0).repeat(wide // w, axis=1)
    blocks = fine.reshape(rows, tall // rows, columns, wide // columns, *image.shape[2:])
    return blocks.mean(axis=(1, 3))


@given(side, side, side, side, st.integers(0, 2**32 - 1))
@settings(max_examples=60, deadline=None)
def test_means_over_area_are_exact_and_keep_the_mean(h, w, rows, columns, seed):
    image = np.random.default_rng(seed).random((h, w, 3))
    small = area_mean(image, (rows, columns))
    np.testing.assert_allclose(small, by_repeating(image, (rows, columns)), rtol=2e-6)
    np.testing.assert_allclose(small.mean(axis=(0, 1)), image.mean(axis=(0, 1)), rtol=2e-6)


def test_one_bright_pixel_keeps_its_light():
    image = np.zeros((2160, 3840), dtype=np.float32)
    image[1001, 2003] = 4000.0
    small = area_mean(image, (255, 454))
    assert small.shape == (255, 454)
    assert small.mean(dtype=np.float64) == pytest.approx(4000 / image.size, rel=1e-5)
    assert np.count_nonzero(small) <= 4


def test_cells_keep_their_values_when_drawn():
    cells = np.array([[1.0, 2.0], [3.0, 4.0]])
    np.testing.assert_array_equal(cells_drawn(cells, (4, 6)), np.kron(cells, np.ones((2, 3))))


@pytest.mark.parametrize(
    ("shape", "room", "wanted"),
    [
        ((1080, 1920), (420, 454), (255, 454)),
        ((1920, 1080), (420, 454), (420, 236)),
        ((1, 1), (420, 454), (420, 420)),
        ((10, 4000), (420, 454), (1, 454)),
        ((4000, 10), (420, 454), (420, 1)),
    ],
)
def test_pictures_are_as_large_as_fits(shape, room, wanted):
    assert fitted(shape, room) == wanted
