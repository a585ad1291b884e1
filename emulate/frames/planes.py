"""The planes of a decoded picture as they lie in the decoder's memory: no copy, no scaler.

Eight-bit planes are widened to uint16, padded lines are cut by a view, packed pixels are read by a
strided view. What comes out is code values, exactly those the stream holds.
"""

from __future__ import annotations

import re
import sys
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from emulate.errors import MaterialError
from emulate.values import Codes, locked

_PLANAR_YUV = re.compile(r"yuv(?P<full>j?)(?P<alpha>a?)(420|422|440|444)p(?P<bits>\d*)(le)?")
_PLANAR_RGB = re.compile(r"gbr(?P<alpha>a?)p(?P<bits>\d*)(le)?")
_GREY = re.compile(r"gray(?P<bits>\d*)(le)?")
_SEMIPLANAR = {
    "nv12": (8, 0),
    "nv16": (8, 0),
    "p010le": (10, 6),
    "p012le": (12, 4),
    "p016le": (16, 0),
}
_PACKED = {  # where red, green and blue lie, samples a pixel, bits
    "rgb24": (0, 1, 2, 3, 8),
    "bgr24": (2, 1, 0, 3, 8),
    "rgba": (0, 1, 2, 4, 8),
    "rgb0": (0, 1, 2, 4, 8),
    "bgra": (2, 1, 0, 4, 8),
    "bgr0": (2, 1, 0, 4, 8),
    "rgb48le": (0, 1, 2, 3, 16),
    "rgba64le": (0, 1, 2, 4, 16),
}


class Planes(NamedTuple):
    """R′G′B′ or Y′CbCr code planes uint16, and what the pixel format itself says of them."""

    first: Codes
    second: Codes
    third: Codes
    bits: int
    is_rgb: bool
    is_full_range: bool
    has_alpha: bool


def planes_of(frame: Any) -> Planes:
    """The planes of an av.VideoFrame. Raises MaterialError for a pixel format not read here."""
    name = frame.format.name
    if match := _PLANAR_YUV.fullmatch(name):
        bits = int(match["bits"] or 8)
        first, second, third = (_samples(frame, i, bits) for i in range(3))
        return Planes(first, second, third, bits, False, bool(match["full"]), bool(match["alpha"]))
    if match := _PLANAR_RGB.fullmatch(name):
        bits = int(match["bits"] or 8)
        green, blue, red = (_samples(frame, i, bits) for i in range(3))
        return Planes(red, green, blue, bits, True, False, bool(match["alpha"]))
    if match := _GREY.fullmatch(name):
        bits = int(match["bits"] or 8)
        grey = _samples(frame, 0, bits)
        return Planes(grey, grey, grey, bits, True, False, False)
    if name in _SEMIPLANAR:
        return _semiplanar(frame, *_SEMIPLANAR[name])
    if name in _PACKED:
        return _packed(frame, *_PACKED[name])
    raise MaterialError(
        f"pixel format {name}; accepted are Y′CbCr 4:2:0, 4:2:2 and 4:4:4, R′G′B′ and grey of "
        "8 to 16 bits"
    )


def _samples(frame: Any, index: int, bits: int, per_pixel: int = 1) -> Codes:
    """One plane (rows, samples) uint16; a view where the samples already are."""
    plane = frame.planes[index]
    kind: type[np.uint16 | np.uint8] = np.uint16 if bits > 8 else np.uint8
    lines: NDArray[Any] = np.frombuffer(plane, kind).reshape(plane.height, -1)
    return locked(_native(lines[:, : plane.width * per_pixel]))


def _native(samples: NDArray[Any]) -> Codes:
    if sys.byteorder == "big" and samples.dtype.itemsize == 2:
        samples = samples.byteswap()
    return samples.astype(np.uint16, copy=False)


def _semiplanar(frame: Any, bits: int, shift: int) -> Planes:
    luma, pairs = _samples(frame, 0, bits), _samples(frame, 1, bits, per_pixel=2)
    first, second, third = (
        locked(plane >> shift) if shift else plane
        for plane in (luma, pairs[:, 0::2], pairs[:, 1::2])
    )
    return Planes(first, second, third, bits, False, False, False)


def _packed(frame: Any, red: int, green: int, blue: int, samples: int, bits: int) -> Planes:
    row = _samples(frame, 0, bits, per_pixel=samples)
    first, second, third = (row[:, at::samples] for at in (red, green, blue))
    has_alpha = samples == 4 and "0" not in frame.format.name
    return Planes(first, second, third, bits, True, True, has_alpha)
