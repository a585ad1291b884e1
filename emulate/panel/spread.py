"""Spread: where a zone's light goes under the diffuser (physics §5.3).

Each zone is a box of light under Gaussian blurs, in a cabinet with mirror walls. Rows and columns
part, so the light of all zones is two small matrix products.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from itertools import count

import numpy as np
from numpy.typing import ArrayLike

from emulate.panel.zones import zone_edges
from emulate.values import Numbers, Pixels, Value, locked, numbers

FAINTEST = 1e-12  # share of light below which an image in the walls is left out, physics §5.3
WIDEST = 4.0  # σ in cabinets: at 4 the light is flat to exp(−(4π)²/2) = 5e-35, wider is the same
NARROWEST_H = 1e-9  # σ in picture heights: far below a pixel, a box with sharp edges


@dataclass(frozen=True, eq=False)
class Spread(Value):
    """weight [ω_k] sums to 1 (k,); sigma_h [σ_k] in picture heights (k,), 0 = stays in its zone."""

    weight: Numbers = field(default_factory=lambda: numbers([1.0]))
    sigma_h: Numbers = field(default_factory=lambda: numbers([0.0]))


def backlight(drive: Numbers, spread: Spread, shape: tuple[int, int], open_cdm2: float) -> Pixels:
    """B (h, w) [cd/m²] float32 for drive [d] (rows, columns); all at full drive give open_cdm2."""
    from emulate._kernels.spread import spread_over_columns, spread_over_rows

    (rows, columns), (height, width) = drive.shape, shape
    sigmas = spread.sigma_h.tolist()
    banded = np.empty((len(sigmas), rows, width))
    for weight, sigma, band in zip(spread.weight, sigmas, banded, strict=True):
        across = shares(columns, width, height, sigma)
        spread_over_columns(open_cdm2 * weight * drive, across, band)
    down = np.concatenate([shares(rows, height, height, sigma) for sigma in sigmas])
    out = np.empty(shape, dtype=np.float32)
    spread_over_rows(banded.reshape(-1, width), np.ascontiguousarray(down.T), out)
    return out


@lru_cache(maxsize=32)
def shares(zones: int, extent_px: int, height_px: int, sigma_h: float) -> Numbers:
    """Share of each zone's light at each pixel centre along one direction (zones, extent_px).

    Each pixel's shares sum to one. `extent_px` is the width or the height of the picture.
    """
    return locked(shares_at(np.arange(extent_px), zones, extent_px, height_px, sigma_h))


def shares_at(
    pixels: ArrayLike, zones: int, extent_px: int, height_px: int, sigma_h: float
) -> Numbers:
    """The same at the centres of some pixels (n,) only: (zones, n)."""
    ends = zone_edges(zones, extent_px) / height_px
    centres = (np.asarray(pixels, dtype=np.float64) + 0.5) / height_px
    before = _light_before(ends, centres, extent_px / height_px, sigma_h)
    light = np.diff(before, axis=0)
    light[light < FAINTEST] = 0.0
    return np.asarray(light / light.sum(axis=0))


def _light_before(ends: Numbers, centres: Numbers, extent: float, sigma: float) -> Numbers:
    """Φ summed over a zone end's images in both walls (ends, centres), until they add nothing."""
    blur = min(max(sigma, NARROWEST_H), WIDEST * extent)
    total = _blurred_step(ends, centres, blur)
    for ring in count(1):
        added = _ring(ring, ends, centres, extent, blur)
        total += added
        if np.abs(np.diff(added, axis=0)).max() < FAINTEST:
            break
    return total


def _ring(ring: int, ends: Numbers, centres: Numbers, extent: float, blur: float) -> Numbers:
    """The four images that one more reflection at either wall adds (ends, centres)."""
    there = 2 * ring * extent
    images = (ends + there, ends - there, there - ends, 2 * extent - there - ends)
    right, left, in_right, in_left = (_blurred_step(image, centres, blur) for image in images)
    return (right + left) - (in_right + in_left)


def _blurred_step(ends: Numbers, centres: Numbers, blur: float) -> Numbers:
    """Φ((end − centre)/σ) (ends, centres): how much of a light that stops at `end` gets there."""
    from scipy.special import ndtr

    return np.asarray(ndtr((ends[:, None] - centres) / blur))
