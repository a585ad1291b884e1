"""Maps that several questions look at, and the figures they come down to."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from emulate._kernels import findings as kernels
from emulate.colorimetry import ICTCP_FROM_LMS, LMS_FROM_RGB
from emulate.sight import cell_edges, steps_from_light
from emulate.transfer import LUMINANCE_2020
from emulate.values import Pixels, locked

HIGH = 95  # percentile that stands for the colours that are furthest off [ours]
SEEN = 1.0  # ΔE_ITP, ITU-R BT.2124-0: just noticeable for the most critical adaptation
PLAIN = 3.0  # ΔE_ITP, common practice, no source: off by so much is plain to see


class Off(NamedTuple):
    """How far colours are off, ΔE_ITP: mean, 95th percentile, shares over 1 and over 3."""

    mean: float
    high: float
    over_1: float
    over_3: float

    @classmethod
    def of(cls, steps: Pixels) -> Off:
        """Figures of the active picture's ΔE_ITP."""
        high = float(np.percentile(steps, HIGH, method="inverted_cdf"))
        over = [float((steps > bound).mean()) for bound in (SEEN, PLAIN)]
        return cls(float(steps.mean(dtype=np.float64)), high, *over)


@cache
def itp_matrices() -> tuple[Pixels, Pixels]:
    """LMS from RGB, and I, T, P from PQ-coded LMS: ICtCp with Ct halved (ITU-R BT.2124-0)."""
    mix = ICTCP_FROM_LMS * np.array([[1.0], [0.5], [1.0]])
    return locked(LMS_FROM_RGB.astype(np.float32)), locked(mix.astype(np.float32))


class Levels(NamedTuple):
    """level: m of each pixel of the active picture; its largest and its mean [cd/m²]."""

    level: Pixels
    brightest: float
    mean: float

    def percentiles(self, percents: Sequence[float]) -> list[float]:
        """Percentiles of m, linear between ranks [cd/m²]."""
        return list(np.percentile(self.level, percents).tolist())


def brightest_channel(light: Pixels) -> Pixels:
    """m (h, w) [cd/m²]: the largest channel of light (h, w, 3). CTA-861.3."""
    out = np.empty(light.shape[:2], np.float32)
    kernels.brightest_map(light, out)
    return locked(out)


def cell_spans(count: int, extent: int) -> NDArray[np.intp]:
    """First and end pixel of each cell (2, count); cells finer than pixels share the pixel."""
    if count > extent:
        pixel = np.arange(count) * extent // count
        return np.stack([pixel, pixel + 1])
    edges = cell_edges(count, extent)
    return np.stack([edges, np.append(edges[1:], extent)])


def luminance_of(light: Pixels, less: float = 0.0) -> Pixels:
    """Luminance (h, w) of light (h, w, 3), `less` [cd/m²] of the room's taken off."""
    out = np.empty(light.shape[:2], np.float32)
    kernels.luminance_map(locked(light), LUMINANCE_2020, float(less), out)
    return locked(out)


def steps_of(luminance: Pixels) -> Pixels:
    """J (h, w) of luminance (h, w), within 0.0002 steps of `steps_from_light`."""
    out = np.empty(luminance.shape, np.float32)
    kernels.steps_map(luminance, steps_table(), out)
    return locked(out)


@cache
def steps_table() -> Pixels:
    """J at the bounds of the slices that the kernels cut every octave of float32 into."""
    bits = (127 + kernels.LOW << kernels.SPLIT) + np.arange(
        (kernels.OCTAVES << kernels.SPLIT) + 2, dtype=np.int32
    )
    light = (bits << 23 - kernels.SPLIT).astype(np.int32).view(np.float32)
    light[0] = 0.0
    return locked(steps_from_light(light).astype(np.float32))
