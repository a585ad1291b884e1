"""Uniformity from readings over the screen, or from a photograph of a grey (physics §7, §10)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from emulate.errors import RequestError
from emulate.panel.fit.account import Account, Number, number, unknown
from emulate.panel.fit.noise import Noise
from emulate.panel.uniformity import Uniformity
from emulate.readings.readings import Reading, Readings, gathered
from emulate.values import Numbers, numbers

CENTRED = 0.02  # share of the extent by which a spot may miss its cell's centre, ours
MOST = (90, 160)  # rows, columns a photograph is brought down to; ours: finer is grain, not panel
SMALLEST = (3, 3)  # rows, columns of a photograph that says anything, ours


def fit_uniformity(readings: Readings, noise: Noise) -> tuple[Uniformity, Account]:
    """The grid of readings over their centre's; several slides are averaged in the logarithm."""
    read = [r for r in readings.of("uniformity") if _tells(r)]
    if not read:
        return Uniformity(), unknown("uniformity", "no grey slide was read over the screen")
    cells = _cells(read)
    if cells is None:
        why = "the spots are no full grid of evenly spread cell centres"
        return Uniformity(), unknown("uniformity", why)
    logs, counts = _log_grid(read, *cells)
    middle = (logs.shape[0] // 2, logs.shape[1] // 2)
    grid = np.exp(logs - logs[middle])
    single = np.array([float(noise.of(r.luminance)) for r in read]).mean()
    error = single * np.sqrt(1 / counts + 1 / counts[middle])
    error[middle] = 0.0
    found = [_number(row, column, grid, error, noise) for row, column in np.ndindex(grid.shape)]
    return Uniformity(numbers(grid)), Account(tuple(found), measured=("uniformity",))


def uniformity_from_photograph(light: ArrayLike) -> Uniformity:
    """U from a photograph of a grey slide: linear light (h, w) or (h, w, 3), the screen filling it.

    Brought down to at most 90 × 160 means; its middle is 1. Raises RequestError for a picture that
    is too small, or holds light that is not finite and above 0 everywhere.
    """
    picture = np.asarray(light, dtype=np.float64)
    picture = picture.mean(axis=-1) if picture.ndim == 3 else picture
    bad = picture.ndim != 2 or min(picture.shape, default=0) < min(SMALLEST)
    if bad or not np.isfinite(picture).all():
        raise RequestError(
            f"photograph of shape {np.shape(light)}: accepted is finite linear light, rows × "
            "columns, with channels or without, 3 × 3 pixels or more"
        )
    grid = _reduced(picture, *(min(m, n) for m, n in zip(MOST, picture.shape, strict=True)))
    if not grid.min() > 0:
        raise RequestError("photograph: holds black; accepted is a lit grey that fills the picture")
    rows, columns = grid.shape
    middle = grid[(rows - 1) // 2 : rows // 2 + 1, (columns - 1) // 2 : columns // 2 + 1].mean()
    return Uniformity(numbers(grid / middle))


def _tells(reading: Reading) -> bool:
    return reading.luminance > 0 and reading.angle == 0 and reading.room_lux == 0


def _cells(read: list[Reading]) -> tuple[int, int] | None:
    """Rows and columns of cells whose centres the spots are, all of them."""
    across, down = ({round(r.spot[axis], 3) for r in read} for axis in (0, 1))
    for spots in (across, down):
        centres = (np.arange(len(spots)) + 0.5) / len(spots)
        if np.abs(np.sort(list(spots)) - centres).max() > CENTRED:
            return None
    whole = len({(round(r.spot[0], 3), round(r.spot[1], 3)) for r in read})
    return (len(down), len(across)) if whole == len(across) * len(down) > 1 else None


def _log_grid(read: list[Reading], rows: int, columns: int) -> tuple[Numbers, Numbers]:
    """Mean log light over each slide's own mean (rows, columns), and how many looks each holds."""
    total, counts = np.zeros((rows, columns)), np.zeros((rows, columns))
    for level in dict.fromkeys(r.stimulus.level for r in read):
        same = [r for r in read if r.stimulus.level == level]
        log_mean = np.mean([np.log(group.mean) for group in gathered(same)])
        for reading in same:
            cell = int(reading.spot[1] * rows), int(reading.spot[0] * columns)
            total[cell] += np.log(reading.luminance) - log_mean
            counts[cell] += 1
    return total / counts, counts


def _number(row: int, column: int, grid: Numbers, error: Numbers, noise: Noise) -> Number:
    key = f"uniformity.grid#{row + 1}#{column + 1}"
    value, sigma = float(grid[row, column]), float(error[row, column])
    return number(key, value, sigma, "log", noise.dof or np.inf)


def _reduced(picture: Numbers, rows: int, columns: int) -> Numbers:
    """Means over a grid of cells."""
    down = np.arange(rows) * picture.shape[0] // rows
    across = np.arange(columns) * picture.shape[1] // columns
    sums = np.add.reduceat(np.add.reduceat(picture, down, axis=0), across, axis=1)
    heights = np.diff(down, append=picture.shape[0])
    widths = np.diff(across, append=picture.shape[1])
    return np.asarray(sums / np.outer(heights, widths))
