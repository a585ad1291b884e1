"""Processing: what a set may do to a picture before its panel sees it. [ours]

Four stages, each with one parameter that a pattern measures, each doing nothing unless asked:

    chroma      4:2:0 or 4:2:2: hue and saturation on a coarser grid than brightness
    softness    scaling that is not sharp: a Gaussian of σ px over the PQ signal
    noise       noise reduction: differences to the 3 × 3 mean that are smaller than so many
                visible steps are taken for noise, and larger ones lose as much
    subpixels   neighbours that share one red and one blue emitter, by turns from row to row
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log, pi, sqrt
from typing import Literal

import numpy as np

from emulate.colorimetry import ITP_SCALE
from emulate.errors import Caveat, RequestError
from emulate.frames.decode import light_from_planes
from emulate.frames.frame import Frame, LightPicture
from emulate.frames.ycbcr import pq_picture
from emulate.transfer import PQ_PEAK, light_from_pq, pq_from_light
from emulate.values import Numbers, Pixels, locked

Chroma = Literal["444", "422", "420"]
BITS = 16  # of the codes between which chroma is thinned out: fine enough to round nothing away
SOFTEST = 50.0  # px [ours]
MOST_NOISE = 100.0  # visible steps [ours]
MOST_SHARED = 8  # neighbours [ours]


@dataclass(frozen=True)
class Processing:
    """chroma; softness [σ, px]; noise [visible steps]; subpixels: neighbours that share red and
    blue, 1 where each has its own. The default does nothing. Raises RequestError for what cannot
    be."""

    chroma: Chroma = "444"
    softness: float = 0.0
    noise: float = 0.0
    subpixels: int = 1

    def __post_init__(self) -> None:
        if self.chroma not in ("444", "422", "420"):
            raise RequestError(f"chroma {self.chroma}: accepted is 444, 422 or 420")
        if not 0 <= self.softness <= SOFTEST:
            raise RequestError(f"softness = {self.softness} px: accepted is 0 to {SOFTEST:g}")
        if not 0 <= self.noise <= MOST_NOISE:
            raise RequestError(f"noise = {self.noise} steps: accepted is 0 to {MOST_NOISE:g}")
        if not 1 <= self.subpixels <= MOST_SHARED:
            raise RequestError(f"subpixels = {self.subpixels}: accepted is 1 to {MOST_SHARED}")

    @property
    def text(self) -> str:
        """What is done, for a caveat or a caption."""
        parts = [
            f"chroma 4:{self.chroma[1]}:{self.chroma[2]}" if self.chroma != "444" else "",
            f"scaling of {self.softness:g} px softness" if self.softness else "",
            f"noise reduction of {self.noise:g} steps" if self.noise else "",
            f"{self.subpixels} neighbours to a red and a blue" if self.subpixels > 1 else "",
        ]
        return ", ".join(part for part in parts if part) or "nothing"


def processed(frame: Frame, processing: Processing) -> Frame:
    """The frame as the panel gets to see it, to be rendered; measure against the frame itself.

    The light that was processed carries a caveat saying how. With nothing to do it is the frame.
    """
    if processing == Processing():
        return frame
    light = with_chroma(frame.light, processing.chroma)
    light = with_signal(light, processing)
    light = with_subpixels(light, processing.subpixels)
    shown = Frame(
        LightPicture(locked(np.ascontiguousarray(light, np.float32))),
        frame.name,
        encoding=frame.encoding,
        metadata=frame.metadata,
        caveats=frame.caveats,
        time_s=frame.time_s,
        index=frame.index,
        active=frame.active,
    )
    return shown.doubted(Caveat("processing", f"before the panel: {processing.text}"))


def with_chroma(light: Pixels, chroma: Chroma) -> Pixels:
    """Light (h, w, 3) with the Cb and Cr of its BT.2020 PQ signal on a coarser grid and back."""
    if chroma == "444":
        return light
    return light_from_planes(pq_picture(light, bits=BITS, chroma=chroma))


def with_signal(light: Pixels, processing: Processing) -> Pixels:
    """Light (h, w, 3) with its PQ signal made soft, then freed of noise."""
    if not processing.softness and not processing.noise:
        return light
    signal = pq_from_light(np.minimum(light, PQ_PEAK))
    signal = without_noise(softened(signal, processing.softness), processing.noise)
    return np.asarray(light_from_pq(np.clip(signal, 0.0, 1.0)), dtype=np.float32)


def softened(signal: Numbers, sigma: float) -> Numbers:
    """A Gaussian of σ px over signal (h, w, ...), edges mirrored: a grating of f cycles a px keeps
    exactly exp(−2π²σ²f²) of its modulation."""
    if sigma == 0:
        return signal
    from scipy.fft import dctn, idctn

    waves = dctn(signal, axes=(0, 1))
    for axis in (0, 1):
        cycles = np.arange(signal.shape[axis]) / (2 * signal.shape[axis])
        kept = np.exp(-2 * (pi * sigma * cycles) ** 2)
        waves *= kept.reshape([-1 if each == axis else 1 for each in range(signal.ndim)])
    return np.asarray(idctn(waves, axes=(0, 1)))


def without_noise(signal: Numbers, steps: float) -> Numbers:
    """Signal (h, w, 3) whose differences to its 3 × 3 mean are smaller by `steps`, none below."""
    if steps == 0:
        return signal
    from scipy.ndimage import uniform_filter

    mean = uniform_filter(signal, size=(3, 3, 1), mode="nearest")
    fine = signal - mean
    left = np.maximum(np.abs(fine) - steps / ITP_SCALE, 0.0)
    return np.asarray(mean + np.copysign(left, fine))


def with_subpixels(light: Pixels, shared: int) -> Pixels:
    """Light (h, w, 3) whose red and blue are the mean of `shared` neighbours in a row; groups of
    odd rows begin half a group later."""
    if shared == 1:
        return light
    out = np.array(light)
    for first in (0, 1):
        rows = light[first::2][..., (0, 2)]
        out[first::2][..., (0, 2)] = _shared(rows, shared, first * (shared // 2))
    return out


def _shared(rows: Pixels, shared: int, start: int) -> Pixels:
    """Means of groups of `shared` columns, the first group `start` columns wide."""
    columns = np.arange(rows.shape[1])
    group = (columns + (shared - start) % shared) // shared
    edges = np.flatnonzero(np.diff(group, prepend=-1))
    sizes = np.diff(edges, append=rows.shape[1])
    means = np.add.reduceat(rows, edges, axis=1, dtype=np.float64) / sizes[:, None]
    return np.asarray(means[:, group - group[0]], dtype=np.float32)


def softness_from_modulation(kept: float, period_px: float) -> float:
    """σ [px] of a scaling that keeps a share of the modulation of a grating of that period [px].

    Raises RequestError where the share is not above 0 and at most 1, or the period not from 2 px.
    """
    if not 0 < kept <= 1 or not period_px >= 2:
        raise RequestError(
            f"{kept} of a grating of {period_px} px: accepted is a share above 0, at most 1, and a "
            "period of 2 px or more"
        )
    return sqrt(-log(kept) / 2) * period_px / pi


def noise_from_modulation(kept: float, steps: float) -> float:
    """Strength [visible steps] of a noise reduction that keeps a share of the modulation of lines
    one pixel wide, light and dark by turns, `steps` above and below their mean.

    Raises RequestError where the share is not above 0 and at most 1, or the lines are not there.
    """
    if not 0 < kept <= 1 or not steps > 0:
        raise RequestError(
            f"{kept} of lines of {steps} steps: accepted is a share above 0, at most 1, of lines "
            "of more than 0"
        )
    return steps * (1 - kept)
