"""The canvas of a scene, and the grade that fits its light under a mastering peak."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from emulate.colorimetry import rgb_from_xyz, xyz_from_xyy

Image = NDArray[np.floating]  # float32: (h, w) or (h, w, 3), cd/m² or a share

WIDTH = 16 / 9  # width of every scene in picture heights
SCENE_PEAK = 4000.0  # cd/m²: brightest light of any scene, ours
KNEE = 0.25  # share of the peak from which a grade bends, ours


@dataclass(frozen=True)
class Canvas:
    """Pixel centres in picture heights: y falls from 0 at the top, x runs from 0 at the left."""

    rows: int

    @property
    def columns(self) -> int:
        return round(self.rows * WIDTH)

    @property
    def x(self) -> Image:
        """(1, w), in picture heights."""
        return ((np.arange(self.columns) + 0.5) / self.rows).astype(np.float32)[None, :]

    @property
    def y(self) -> Image:
        """(h, 1), in picture heights."""
        return ((np.arange(self.rows) + 0.5) / self.rows).astype(np.float32)[:, None]

    @property
    def shape(self) -> tuple[int, int]:
        return self.rows, self.columns


def graded(light: Image, peak: float) -> Image:
    """Scene light graded for a mastering `peak` [cd/m²]; hue is kept.

    Untouched below a quarter of the peak; above, a hyperbola of slope one at first that takes
    4000 cd/m² to the peak, so that highlights keep their order and structure. A peak of 4000 or
    more changes nothing but light beyond it.
    """
    largest = brightest(light)[..., None]
    knee = KNEE * min(peak, SCENE_PEAK)
    above = np.clip(largest - knee, 0, SCENE_PEAK - knee)
    bend = 1 / (min(peak, SCENE_PEAK) - knee) - 1 / (SCENE_PEAK - knee)
    bent = knee + above / (1 + above * np.float32(bend))
    return np.asarray(np.where(largest > knee, light * (bent / np.maximum(largest, knee)), light))


def brightest(light: Image) -> Image:
    """The largest channel (h, w) of light (h, w, 3); quicker than a maximum along the last axis."""
    return np.maximum(np.maximum(light[..., 0], light[..., 1]), light[..., 2])


def coloured(x: float, y: float) -> Image:
    """BT.2020 light (3,) of chromaticity x, y and luminance 1."""
    return np.maximum(rgb_from_xyz(xyz_from_xyy([x, y, 1.0])), 0.0).astype(np.float32)


def glowing(kelvin: float) -> Image:
    """BT.2020 light (3,) of a black body and luminance 1, 1667 to 4000 K.

    Cubic fit to the Planckian locus by Kim et al., US patent 7 024 034 (2006), from memory.
    """
    t = 1e3 / kelvin
    x = -0.2661239 * t**3 - 0.2343589 * t**2 + 0.8776956 * t + 0.179910
    if kelvin <= 2222:
        return coloured(x, -1.1063814 * x**3 - 1.34811020 * x**2 + 2.18555832 * x - 0.20219683)
    return coloured(x, -0.9549476 * x**3 - 1.37418593 * x**2 + 2.09137015 * x - 0.16748867)


def step(low: ArrayLike, high: ArrayLike, value: ArrayLike) -> Image:
    """0 below `low`, 1 above `high`, smooth between; the two may be given either way round."""
    low, high = np.asarray(low, dtype=np.float32), np.asarray(high, dtype=np.float32)
    share = np.clip((np.asarray(value, dtype=np.float32) - low) / (high - low), 0, 1)
    return np.asarray(share * share * (3 - 2 * share), dtype=np.float32)


def mixed(below: Image, above: Image, share: Image) -> Image:
    """`below` where share is 0, `above` where it is 1."""
    return below + (above - below) * share
