"""Fractal surfaces: cubic splines through random lattices, on the canvas or on endless tiles."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import map_coordinates

from .canvas import WIDTH, Canvas, Image

TILE = 1024  # pixels along a tile


def fractal(
    canvas: Canvas, cells: tuple[float, float], rng: np.random.Generator, octaves: int = 6
) -> Image:
    """Noise (h, w), mean 0 and deviation about 1; `cells` (down, across) a picture height.

    Each octave doubles the cells and halves the height; what a pixel cannot hold is left out, so
    that a small canvas shows the same scene as a large one.
    """
    total = np.zeros(canvas.shape, np.float32)
    for octave, source in enumerate(rng.spawn(octaves)):
        down, across = cells[0] * 2**octave, cells[1] * 2**octave
        if max(down, across) > canvas.rows / 2:
            break
        lattice = source.standard_normal((int(down) + 4, int(across * WIDTH) + 4), np.float32)
        rows = _spline(canvas.y[:, 0] * down, lattice.shape[0])
        columns = _spline(canvas.x[0] * across, lattice.shape[1])
        total += 2.0**-octave * (rows @ lattice @ columns.T)
    return total / np.float32(0.5)


def tile(cells: int, rng: np.random.Generator, octaves: int = 6, *, ridged: bool = False) -> Image:
    """A square of noise that repeats at its edges, about -1..1; ridged folds it into crests."""
    total = np.zeros((TILE, TILE), np.float32)
    for octave, source in enumerate(rng.spawn(octaves)):
        count = cells * 2**octave
        if count > TILE / 2:
            break
        lattice = source.standard_normal((count, count), np.float32)
        weights = _spline(np.arange(TILE, dtype=np.float32) * count / TILE, count)
        layer = weights @ lattice @ weights.T / np.float32(0.5)
        total += 2.0**-octave * ((0.8 - np.abs(layer)) if ridged else layer)
    return total / 2


def sampled(image: Image, across: Image, along: Image) -> Image:
    """An endless tile looked up at coordinates counted in tiles; the shape is theirs."""
    places = np.stack(np.broadcast_arrays(along * TILE, across * TILE))
    return np.asarray(map_coordinates(image, places, order=1, mode="grid-wrap", prefilter=False))


def slopes(image: Image) -> tuple[Image, Image]:
    """Slope of an endless tile across and along, in units of height a tile."""
    across = (np.roll(image, -1, 1) - np.roll(image, 1, 1)) * np.float32(TILE / 2)
    along = (np.roll(image, -1, 0) - np.roll(image, 1, 0)) * np.float32(TILE / 2)
    return across, along


def _spline(position: Image, count: int) -> Image:
    """Weights (n, count) of a cubic B-spline through a lattice that repeats."""
    first = np.floor(position).astype(int)
    t = (position - first).astype(np.float32)
    outer, inner = (1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4
    taps = (outer, inner, 6 - outer - inner - t**3, t**3)
    weights = np.zeros((len(position), count), np.float32)
    for tap in range(4):
        np.add.at(weights, (np.arange(len(position)), (first + tap - 1) % count), taps[tap] / 6)
    return weights
