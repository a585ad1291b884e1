"""Light and signals to Y′CbCr planes, by our own matrix: the scaler in av is codes off."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from emulate.frames.decode import KR_KB
from emulate.frames.frame import CodePicture, Encoding, Matrix, Siting
from emulate.frames.lights import checked_light
from emulate.transfer import PQ_C1, PQ_C2, PQ_C3, PQ_M1, PQ_M2, PQ_PEAK
from emulate.values import Codes, Numbers, locked

_AVERAGES = {  # weights of the luma samples −1, 0, 1 from the first that a chroma sample covers
    "between": np.array([0.0, 0.5, 0.5]),
    "on": np.array([0.25, 0.5, 0.25]),
    "every": np.array([0.0, 1.0, 0.0]),
}
_SITED = {  # down, across: ITU-T H.273 Chroma420SampleLocType 0, 1 and 2
    "left": ("between", "on"),
    "centre": ("between", "between"),
    "topleft": ("on", "on"),
}


def pq_picture(light: ArrayLike, *, bits: int = 10, chroma: str = "420") -> CodePicture:
    """Narrow BT.2020 PQ codes of light (h, w, 3) [cd/m²], as HDR10 has them.

    chroma: 420 (sited top left), 422 or 444 in Y′CbCr, or rgb. Light above 10 000 cd/m² is clipped.
    Raises RequestError for what is not light.
    """
    from emulate._kernels.ycbcr import pq_signals

    pixels = checked_light(light)
    signals = np.empty(pixels.shape, np.float64)
    pq_signals(pixels, np.array([PQ_M1, PQ_M2, PQ_C1, PQ_C2, PQ_C3, PQ_PEAK]), signals)
    siting: Siting = "topleft" if chroma == "420" else "left"
    matrix: Matrix = "rgb" if chroma == "rgb" else "bt2020"
    encoding = Encoding("pq", "bt2020", matrix, full_range=False, bits=bits, siting=siting)
    return picture_of_signals(signals, encoding, chroma)


def sdr_picture(rgb: NDArray[np.uint8]) -> CodePicture:
    """Narrow 8-bit BT.709 4:2:0 codes of R′G′B′ (h, w, 3) uint8, as SDR video has them."""
    encoding = Encoding("sdr", "bt709", "bt709", full_range=False, bits=8, siting="left")
    return picture_of_signals(np.asarray(rgb, np.float64) / 255, encoding, "420")


def picture_of_signals(signals: Numbers, encoding: Encoding, chroma: str) -> CodePicture:
    """Narrow code planes of R′G′B′ signals (h, w, 3) 0..1. ITU-R BT.2100-2 table 9."""
    unit = 2.0 ** (encoding.bits - 8)
    if chroma == "rgb":
        codes = np.floor(219 * unit * signals + 16 * unit + 0.5).astype(np.uint16)
        red, green, blue = (np.ascontiguousarray(codes[..., i]) for i in range(3))
        return CodePicture(red, green, blue, encoding)
    from emulate._kernels.ycbcr import luma_codes

    kr, kb = KR_KB[encoding.matrix]
    weights = np.array([kr, 1 - kr - kb, kb])
    luma = np.empty(signals.shape[:2], np.uint16)
    luma_codes(signals, weights, 219 * unit, 16 * unit, luma)
    blue, red = (
        _chroma(signals, weights, channel, chroma, encoding, 224 * unit) for channel in (2, 0)
    )
    return CodePicture(luma, blue, red, encoding)


def _chroma(
    signals: Numbers, weights: Numbers, channel: int, chroma: str, encoding: Encoding, steps: float
) -> Codes:
    from emulate._kernels.ycbcr import chroma_codes

    height, width = signals.shape[:2]
    down, across = _SITED[encoding.siting]
    if chroma != "420":
        down, across = "every", "on" if chroma == "422" else "every"
    rows = -(-height // 2) if chroma == "420" else height
    columns = width if chroma == "444" else -(-width // 2)
    out = np.empty((rows, columns), np.uint16)
    neutral = 2.0 ** (encoding.bits - 1)
    chroma_codes(signals, weights, channel, _AVERAGES[down], _AVERAGES[across], steps, neutral, out)
    return locked(out)
