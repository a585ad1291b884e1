"""Pictures for a page: lossless, small, and true to the code. Bytes in memory, no files."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from emulate.errors import RequestError
from emulate.frames.frame import Metadata
from emulate.frames.writing import png_bytes, pq_chunks, pq_codes_from_light

HDR_BITS = 10  # kept of PQ's codes: the depth that ITU-R BT.2100-2 table 9 asks for at least
_SPARE = 16 - HDR_BITS
_EFFORT: dict[str, Any] = {
    "lossless": True,
    "quality": 80,
    "method": 4,
}  # of libwebp: more is slow, and 2 % less


def webp_bytes(codes: NDArray[np.uint8]) -> bytes:
    """A lossless WebP of sRGB codes (h, w, 3), or with alpha (h, w, 4); a quarter under PNG.

    Every current browser shows it. Raises RequestError for what is not such a picture.
    """
    import imageio.v3 as iio

    picture = np.ascontiguousarray(codes)
    if picture.dtype != np.uint8 or picture.ndim != 3 or picture.shape[2] not in (3, 4):
        raise RequestError(
            f"a picture of shape {picture.shape} and {picture.dtype}; accepted is uint8 of "
            "(h, w, 3) or (h, w, 4)"
        )
    return bytes(iio.imwrite("<bytes>", picture, extension=".webp", **_EFFORT))


def hdr_png_bytes(light: ArrayLike) -> bytes:
    """A PQ PNG of BT.2020 light (h, w, 3) [cd/m²] at absolute level, cICP 9/16/0/1, 10 bits kept.

    The codes fill 16 bits by repeating their leading ones, and sBIT says that ten hold (W3C PNG
    11.3.2.6 and 13.12): a browser reads the ten-bit code back exactly, and the file is a third of
    one with all sixteen. Raises RequestError for what is not light.
    """
    return png_bytes(_widened(pq_codes_from_light(light, HDR_BITS)), hdr_chunks())


def hdr_chunks() -> list[tuple[str, bytes]]:
    """What marks a PNG of `hdr_png_bytes`."""
    return [*pq_chunks(Metadata()), ("sBIT", bytes([HDR_BITS] * 3))]


def _widened(codes: NDArray[np.uint16]) -> NDArray[np.uint16]:
    return ((codes << _SPARE) | (codes >> (HDR_BITS - _SPARE))).astype(">u2")
