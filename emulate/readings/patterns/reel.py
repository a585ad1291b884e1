"""Stimuli as HDR10 clips: 10-bit narrow-range Y′CbCr, 4:2:0, one clip for each mastering peak.

Greys hold the very codes of the stills. Colours are rounded once more, to whole Y′CbCr codes, as in
any clip of this kind. Planes are built from row bands, and a still's planes are built once.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from emulate.frames.encode import write_clip
from emulate.frames.frame import CodePicture, Encoding
from emulate.readings.patterns.crawling import MOMENT_S
from emulate.readings.patterns.slide import bands, metadata_of
from emulate.readings.stimulus import Stimulus
from emulate.transfer import LUMINANCE_2020
from emulate.values import Codes, Numbers

HDR10 = Encoding("pq", matrix="bt2020", full_range=False, bits=10, siting="left")


def write_reel(stimuli: Sequence[Stimulus], path: str | os.PathLike[str], *, hold_s: float) -> Path:
    """Stills of one mastering peak, each a single frame that lasts `hold_s` [s]. Lossless HEVC."""
    frames = (planes_of(stimulus) for stimulus in stimuli)
    claims = metadata_of(stimuli[0])
    return write_clip(frames, path, rate=1 / hold_s, metadata=claims, fast=True)


def write_moving(stimuli: Sequence[Stimulus], path: str | os.PathLike[str]) -> Path:
    """Moving stimuli one after another, as many frames a second as their moments need."""
    return write_clip(
        _moving(stimuli), path, rate=1 / MOMENT_S, metadata=metadata_of(stimuli[0]), fast=True
    )


def planes_of(stimulus: Stimulus, time_s: float = 0.0) -> CodePicture:
    """Luma (h, w) and chroma (h/2, w/2) of a stimulus, 10-bit narrow codes."""
    parts = [(count, _ycbcr(signal)) for count, signal in bands(stimulus, time_s)]
    counts = [count for count, _ in parts]
    luma = np.repeat([_luma_codes(ycbcr) for _, ycbcr in parts], counts, axis=0)
    rows = np.repeat(np.arange(len(parts)), counts)
    above, below = rows[0::2], rows[1::2]
    chroma = np.array([_sited(ycbcr[:, 1:]) for _, ycbcr in parts])
    pairs, which = np.unique(np.stack([above, below]), axis=1, return_inverse=True)
    halves = _chroma_codes((chroma[pairs[0]] + chroma[pairs[1]]) / 2)[which]
    blue, red = (np.ascontiguousarray(halves[..., channel]) for channel in range(2))
    return CodePicture(luma, blue, red, HDR10)


def frames_in(stimulus: Stimulus) -> int:
    """How many frames of a moving reel a stimulus takes."""
    return round(stimulus.duration_s / MOMENT_S)


def _moving(stimuli: Iterable[Stimulus]) -> Iterator[CodePicture]:
    for stimulus in stimuli:
        for frame in range(frames_in(stimulus)):
            yield planes_of(stimulus, float(Fraction(frame) * Fraction(MOMENT_S)))


def _ycbcr(signal: Numbers) -> Numbers:
    """Y′, Cb, Cr (columns, 3) of R′G′B′ signal. ITU-R BT.2020-2 table 4."""
    luma = signal @ LUMINANCE_2020
    blue = (signal[:, 2] - luma) / (2 * (1 - LUMINANCE_2020[2]))
    red = (signal[:, 0] - luma) / (2 * (1 - LUMINANCE_2020[0]))
    return np.stack([luma, blue, red], axis=-1)


def _sited(chroma: Numbers) -> Numbers:
    """Chroma at every other column, where 4:2:0 sited left has it: a filter of 1, 2, 1."""
    padded = np.pad(chroma, ((1, 1), (0, 0)), mode="edge")
    return np.asarray((padded[:-2:2] + 2 * padded[1:-1:2] + padded[2::2]) / 4)


def _luma_codes(ycbcr: Numbers) -> Codes:
    return _rounded(876.0 * ycbcr[:, 0] + 64.0)  # ITU-R BT.2100-2 table 9, 10 bit


def _chroma_codes(chroma: Numbers) -> Codes:
    return _rounded(896.0 * chroma + 512.0)  # as above


def _rounded(exact: Numbers) -> NDArray[np.uint16]:
    return np.floor(exact + 0.5 + 1e-9).astype(np.uint16)
