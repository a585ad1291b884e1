"""Visible steps, the eye's veil, and how large a pixel looks.

Luminance Y is cd/m²; J(Y) = 720·PQ⁻¹(Y) counts it in visible steps (ITU-R BT.2124-0: one step is
just noticeable at the most critical adaptation). Angles are degrees, small and flat; a cell is a
square of about 0.1°, the resolution at which glare and halos are judged.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from emulate.colorimetry import ITP_SCALE
from emulate.errors import RequestError
from emulate.transfer import pq_from_light
from emulate.values import Numbers, locked

CELL_DEGREES = 0.1  # side of a cell; the CIE 146 formula holds from here on
WIDEST_DEGREES = 100.0  # CIE 146:2002: the formula's upper end


@dataclass(frozen=True)
class Viewer:
    """Who looks, and from where.

    distance_h: viewing distance in picture heights; age in years; pigment p of CIE 146 (0 very
    dark, 0.5 brown, 1.0 light-blue eyes, 1.2 very light); surround [cd/m²] around the screen.
    """

    distance_h: float = 3.2  # ITU-R BT.2022: design distance of a 1920×1080 picture
    age: float = 35.0
    pigment: float = 0.5
    surround: float = 0.0

    def __post_init__(self) -> None:
        accepted = {
            "distance_h": (0.3, 30.0),
            "age": (5.0, 110.0),
            "pigment": (0.0, 1.2),
            "surround": (0.0, 10000.0),
        }
        for name, (low, high) in accepted.items():
            value = getattr(self, name)
            if not low <= value <= high:
                raise RequestError(f"viewer {name} = {value}: accepted is {low} to {high}")


def steps_from_light(luminance: ArrayLike) -> Numbers:
    """J(Y): luminance [cd/m²] on the scale of visible steps. ITU-R BT.2124-0 for neutrals."""
    return ITP_SCALE * pq_from_light(luminance)


def cell_pixels(viewer: Viewer, height_px: int) -> float:
    """Pixels a cell of 0.1° spans."""
    return float(np.pi / 180 * CELL_DEGREES * viewer.distance_h * height_px)


def box_pixels(viewer: Viewer, height_px: int) -> int:
    """Odd pixel count of a box of 0.1°, at least 3."""
    return max(3, 2 * int(np.floor((cell_pixels(viewer, height_px) - 1) / 2 + 0.5)) + 1)


def cell_counts(viewer: Viewer, shape: tuple[int, int]) -> tuple[int, int]:
    """Rows and columns of cells over a picture of `shape` (rows, columns) in pixels."""
    step = cell_pixels(viewer, shape[0])
    rows, columns = (max(1, int(np.floor(extent / step + 0.5))) for extent in shape)
    return rows, columns


def cell_edges(count: int, extent: int) -> NDArray[np.intp]:
    """First pixel of each cell, where pixel i lies in cell floor(i·count/extent); (count,)."""
    starts = -(-np.arange(count) * extent // count)
    return np.asarray(np.minimum(starts, extent - 1), dtype=np.intp)


def cell_means(image: NDArray[np.floating], viewer: Viewer) -> Numbers:
    """Mean of `image` (h, w) over each cell (rows, columns), float64."""
    rows, columns = cell_counts(viewer, (image.shape[0], image.shape[1]))
    row_edges, column_edges = cell_edges(rows, image.shape[0]), cell_edges(columns, image.shape[1])
    sums = np.add.reduceat(image, column_edges, axis=1, dtype=np.float64)
    sums = np.add.reduceat(sums, row_edges, axis=0)
    heights = np.diff(row_edges, append=image.shape[0])
    widths = np.diff(column_edges, append=image.shape[1])
    # A cell smaller than a pixel holds none: reduceat gives it the pixel that it lies in.
    return np.asarray(sums / np.outer(np.maximum(heights, 1), np.maximum(widths, 1)))


def glare(degrees: ArrayLike, viewer: Viewer) -> Numbers:
    """Veil [cd/m²] per lux at the eye, 0.1° to 100°. CIE 146:2002, the general equation."""
    angle = np.asarray(degrees, dtype=np.float64)
    ageing = 1 + (viewer.age / 62.5) ** 4
    near = 10 / angle**3
    middle = (5 / angle**2 + 0.1 * viewer.pigment / angle) * ageing
    return np.asarray(near + middle + 0.0025 * viewer.pigment)


def veiled(luminance: Numbers, viewer: Viewer) -> Numbers:
    """V(Y): cell luminance (..., rows, columns) [cd/m²] as it reaches the retina, glare included.

    CIE 146 on the lattice of cells; light is only moved, never made: what scatters leaves its cell.
    Around the screen lies the viewer's surround.
    """
    from scipy.fft import irfft2, rfft2

    rows, columns = luminance.shape[-2:]
    kernel, size = _veil_transform(rows, columns, viewer)
    above = np.asarray(luminance, dtype=np.float64) - viewer.surround
    spread = irfft2(rfft2(above, size) * kernel, size)[..., :rows, :columns]
    return np.asarray(np.maximum(spread + viewer.surround, 0.0))


@lru_cache(maxsize=8)
def _veil_transform(
    rows: int, columns: int, viewer: Viewer
) -> tuple[NDArray[np.complex128], tuple[int, int]]:
    """Fourier transform of the veil's kernel on a torus that no offset goes round, and its size."""
    from scipy.fft import next_fast_len, rfft2

    size = next_fast_len(2 * rows - 1, real=True), next_fast_len(2 * columns - 1, real=True)
    torus = np.zeros(size)
    torus[: 2 * rows - 1, : 2 * columns - 1] = _veil_kernel(rows, columns, viewer)
    at_origin = np.roll(torus, (1 - rows, 1 - columns), axis=(0, 1))
    return locked(rfft2(at_origin)), size


@lru_cache(maxsize=8)
def _veil_kernel(rows: int, columns: int, viewer: Viewer) -> Numbers:
    """(2·rows − 1, 2·columns − 1): shares of a cell's light by offset; centre keeps the rest."""
    kernel = _scatter(np.arange(1 - rows, rows), np.arange(1 - columns, columns), viewer)
    kernel[rows - 1, columns - 1] = 1.0 - _scattered_share(viewer)
    return kernel


@lru_cache(maxsize=8)
def _scattered_share(viewer: Viewer) -> float:
    """Share of a cell's light that leaves it, over the whole lattice out to 100°."""
    reach = round(WIDEST_DEGREES / CELL_DEGREES)
    quarter = _scatter(np.arange(0, reach + 1), np.arange(1, reach + 1), viewer)
    return 4 * float(quarter.sum())


def _scatter(rows: NDArray[np.int_], columns: NDArray[np.int_], viewer: Viewer) -> Numbers:
    angle = CELL_DEGREES * np.hypot(rows[:, None], columns[None, :])
    steradian = np.deg2rad(CELL_DEGREES) ** 2
    inside = (angle > 0) & (angle <= WIDEST_DEGREES)
    return np.where(inside, glare(np.where(inside, angle, 1.0), viewer) * steradian, 0.0)
