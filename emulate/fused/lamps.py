"""The backlight on a grid of points, coarse where the light is smooth (physics §5.3).

A blur of standard deviation σ is met by quintic interpolation between points up to σ/4 apart to
within 1e-4 of itself and 1e-7 of the open light: the error of six points is h⁶·f⁽⁶⁾·225/46080
(Abramowitz and Stegun 25.2.15), largest against the light itself three σ out, where f is Gaussian.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from emulate._kernels import glow, row
from emulate._kernels.passes import lit_columns, lit_rows, refined
from emulate.fused.tiles import bands
from emulate.fused.workspace import Workspace
from emulate.panel.spread import Spread, shares, shares_at
from emulate.values import Numbers, Pixels, locked, numbers

STEPS = (16, 8, 4, 2)  # pixels between points
FINE = 0.25  # of σ between points, see above
BEYOND = 6  # points after the last pixel's own
SPARSE = 4  # pixels between points from which a power for each is nothing
_NO_GAINS: Pixels = np.zeros((1, 1), np.float32)


def lamps_of(
    drive: Numbers, spread: Spread, shape: tuple[int, int], open_cdm2: float, work: Workspace
) -> glow.Lamps:
    """B for drive [d] (rows, columns) on the grid that the narrowest blur needs."""
    if drive.size == 1:  # mirrors all around: one zone lights everything alike, whatever its blur
        spread = Spread(numbers([1.0]), numbers([shape[1] / shape[0] + 1.0]))
    blurs = [
        (float(weight), float(sigma), step_for(float(sigma), shape))
        for weight, sigma in zip(spread.weight, spread.sigma_h, strict=True)
        if weight > 0
    ]
    finest = min(step for *_, step in blurs)
    grid: Pixels | None = None
    for step in sorted({step for *_, step in blurs}):
        same = [(weight, sigma) for weight, sigma, each in blurs if each == step]
        found = _grid(drive * open_cdm2, same, shape, step, work)
        if grid is None:
            grid = found
        else:
            _refine(found, step // finest, 0 if finest == 1 else row.MARGIN, grid, work)
    assert grid is not None
    return glow.Lamps(finest, grid, 0, _NO_GAINS, weights_between(finest), _across(finest))


def step_for(sigma_h: float, shape: tuple[int, int]) -> int:
    """Pixels between points of the grid for a blur of sigma_h picture heights; 1 is every pixel."""
    for step in STEPS:
        if step <= FINE * sigma_h * shape[0] and min(shape) >= 2 * ALL_AROUND * step:
            return step
    return 1


def with_gains(lamps: glow.Lamps, power: float, share: float) -> glow.Lamps:
    """The same with B/B̂ = share·B^power at every point, where points are few beside pixels."""
    if lamps.step < SPARSE:
        return lamps
    gains = np.maximum(lamps.grid, 0.0) ** np.float32(power) * np.float32(share)
    return lamps._replace(bending=1, gains=gains)


ALL_AROUND = row.MARGIN + BEYOND


@lru_cache(maxsize=8)
def weights_between(step: int) -> NDArray[np.float32]:
    """Lagrange's weights (step, 6) of the six points around 0, 1/step, … of the way between two."""
    at = np.arange(step)[:, None, None] / step
    points = np.arange(row.TAPS) - 2.0
    mine, others = points[None, :, None], points[None, None, :]
    same = mine == others
    factors = np.where(same, 1.0, (at - others) / np.where(same, 1.0, mine - others))
    return locked(factors.prod(axis=2).astype(np.float32))


@lru_cache(maxsize=8)
def _across(step: int) -> NDArray[np.float32]:
    """The same weights pixel by pixel along a stretch (6, SLOT)."""
    turns = -(-row.SLOT // step)
    return locked(np.ascontiguousarray(np.tile(weights_between(step).T, turns)[:, : row.SLOT]))


def _grid(
    light: Numbers,
    blurs: list[tuple[float, float]],
    shape: tuple[int, int],
    step: int,
    work: Workspace,
) -> Pixels:
    """The light of some blurs (grid rows, grid columns) float32."""
    (rows, columns), (height, width) = light.shape, shape
    across = [shares_on_grid(columns, width, height, sigma, step) for _, sigma in blurs]
    down = np.concatenate(
        [shares_on_grid(rows, height, height, sigma, step) for _, sigma in blurs]
    ).T
    banded = np.empty((len(blurs), rows, across[0].shape[1]))
    for (weight, _), share, band in zip(blurs, across, banded, strict=True):
        driven = weight * light
        work.each(
            lambda b, d=driven, s=share, o=band: lit_columns(b[1], b[2], d, s, o),  # type: ignore[misc]
            bands(rows, work.threads),
        )
    down = np.ascontiguousarray(down)
    flat = banded.reshape(-1, banded.shape[2])
    out: Pixels = np.empty((down.shape[0], flat.shape[1]), np.float32)
    work.each(
        lambda b: lit_rows(b[1], b[2], down, flat, np.empty(flat.shape[1]), out),
        bands(out.shape[0], work.threads),
    )
    return out


def _refine(coarse: Pixels, ratio: int, margin: int, out: Pixels, work: Workspace) -> None:
    weights = weights_between(ratio)
    work.each(
        lambda b: refined(
            b[1], b[2], coarse, ratio, weights, margin, np.empty(coarse.shape[1], np.float32), out
        ),
        bands(out.shape[0], work.threads),
    )


@lru_cache(maxsize=32)
def shares_on_grid(zones: int, extent: int, height: int, sigma: float, step: int) -> Numbers:
    """Shares of each zone (zones, points) at the points of a grid, mirrored beyond the walls."""
    if step == 1:
        return shares(zones, extent, height, sigma)
    points = (np.arange((extent - 1) // step + 1 + ALL_AROUND) - row.MARGIN) * step
    inside = np.where(points < 0, -1 - points, points)
    inside = np.where(inside >= extent, 2 * extent - 1 - inside, inside)
    return locked(shares_at(inside, zones, extent, height, sigma))
