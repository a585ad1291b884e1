"""Uniformity: light over the screen against its centre (physics §7)."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np

from emulate.values import Numbers, Pixels, Value, locked, numbers

PHOTOGRAPH = 64  # a grid with more rows or columns is a map of pixels, not of meter readings: ours


@dataclass(frozen=True, eq=False)
class Uniformity(Value):
    """grid (rows, columns): readings over the centre's, rows top to bottom, at cell centres."""

    grid: Numbers = field(default_factory=lambda: numbers([[1.0]]))


@lru_cache(maxsize=4)
def uniformity_map(uniformity: Uniformity, shape: tuple[int, int]) -> Pixels:
    """U (h, w) for a picture of `shape` (h, w) pixels.

    Meter readings (up to 64 rows and columns) are joined in the logarithm by cubic convolution
    (Keys 1981, a = −½), a photograph's map bilinearly; both are held outside the outer centres.
    """
    grid = uniformity.grid
    if max(grid.shape) > PHOTOGRAPH:
        return locked(_interpolated(grid, shape, _tent))
    return locked(np.exp(_interpolated(np.log(grid), shape, _cubic)))


def shaded(light: Pixels, uniformity: Uniformity, out: Pixels | None = None) -> Pixels:
    """Light (h, w, 3) [cd/m²] times U (h, w). `out` may be `light`."""
    from emulate._kernels import colour as kernels

    shown = np.empty_like(light) if out is None else out
    kernels.shaded(light, uniformity_map(uniformity, light.shape[:2]), shown)
    return shown


def _interpolated(grid: Numbers, shape: tuple[int, int], kernel: Any) -> Pixels:
    down = _weights(grid.shape[0], shape[0], kernel) @ grid
    across = _weights(grid.shape[1], shape[1], kernel) @ down.T
    return np.ascontiguousarray(across.T, dtype=np.float32)


def _weights(count: int, extent: int, kernel: Any) -> Any:
    """Sparse (extent, count): each pixel centre as a mix of the readings around it."""
    from scipy.sparse import csr_array

    at = np.clip((np.arange(extent) + 0.5) * count / extent - 0.5, 0, count - 1)
    nearest = np.floor(at)[:, None] + np.arange(-1, 3)
    weights = kernel(np.abs(at[:, None] - nearest))
    columns = np.clip(nearest, 0, count - 1).astype(np.intp)
    rows = np.repeat(np.arange(extent), 4)
    return csr_array((weights.ravel(), (rows, columns.ravel())), shape=(extent, count))


def _tent(distance: Numbers) -> Numbers:
    return np.maximum(1 - distance, 0.0)


def _cubic(distance: Numbers) -> Numbers:
    near = 1 + distance**2 * (1.5 * distance - 2.5)
    far = 2 + distance * (-4 + distance * (2.5 - 0.5 * distance))
    return np.where(distance <= 1, near, np.where(distance < 2, far, 0.0))
