"""Light out: EXR, 48-bit PQ PNG, and the honest SDR picture. Files are whole or not at all."""

from __future__ import annotations

import os
import struct
import zlib
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from emulate.colorimetry import BT2020, D65
from emulate.errors import OutputError, RequestError
from emulate.frames.chunks import LIGHT_STEP, SIGNATURE, XY_STEP, packed
from emulate.frames.frame import Metadata
from emulate.frames.lights import checked_light
from emulate.frames.sdr import sdr_from_light
from emulate.outputs import whole_file, write_bytes
from emulate.transfer import PQ_C1, PQ_C2, PQ_C3, PQ_M1, PQ_M2, PQ_PEAK, SDR_WHITE
from emulate.values import Codes

_CICP_PQ = bytes((9, 16, 0, 1))  # BT.2020, PQ, RGB, full range: ITU-T H.273 tables 2, 3 and 4
_SRGB_INTENT = bytes((1,))  # relative colorimetric, W3C PNG 11.3.2.5
HALF_PEAK = 65504.0  # largest half float, IEEE 754 binary16
_PACKING = 6  # zlib level; its own default
_BY_LEFT = 1  # filter type Sub, W3C PNG 9.2
_TRUECOLOUR = 2  # colour type, W3C PNG table 11.1

PathLike = str | os.PathLike[str]


def write_exr(light: ArrayLike, path: PathLike, *, half: bool = False) -> Path:
    """EXR of BT.2020 light (h, w, 3) [cd/m²], float32 or half: 1.0 is 1 cd/m².

    The file says so: chromaticities of BT.2020 with D65, whiteLuminance 1. Raises RequestError for
    what is not light or too bright for half (65 504 cd/m²), OutputError for a place that cannot be
    written.
    """
    pixels = checked_light(light)
    if half and pixels.max() > HALF_PEAK:
        raise RequestError(f"light of {pixels.max():g} cd/m²; half accepts up to {HALF_PEAK:g}")
    kind = np.float16 if half else np.float32
    with whole_file(path) as scratch:
        _write_exr(
            scratch,
            {name: np.ascontiguousarray(pixels[..., i], kind) for i, name in enumerate("RGB")},
        )
    return Path(path)


def _write_exr(scratch: Path, channels: dict[str, NDArray[Any]]) -> None:
    """Channels must be contiguous: OpenEXR ignores strides and writes anything else as garbage."""
    import OpenEXR

    header = {
        "compression": OpenEXR.ZIP_COMPRESSION,
        "type": OpenEXR.scanlineimage,
        "chromaticities": tuple(float(v) for xy in (*BT2020, D65) for v in xy),
        "whiteLuminance": 1.0,
    }
    try:
        OpenEXR.File(header, channels).write(str(scratch))
    except RuntimeError as error:
        raise OutputError(f"{scratch}: cannot be written ({error})") from error


def pq_codes_from_light(light: ArrayLike, bits: int = 16) -> Codes:
    """Full-range PQ codes (h, w, 3) uint16 of BT.2020 light [cd/m²], clipped at 10 000, rounded.

    Raises RequestError for what is not light (h, w, 3).
    """
    from emulate._kernels.encode import pq_codes

    pixels = checked_light(light)
    out = np.empty(pixels.shape, np.uint16)
    constants = np.array([PQ_M1, PQ_M2, PQ_C1, PQ_C2, PQ_C3, PQ_PEAK])
    pq_codes(pixels, constants, float(2**bits - 1), out)
    return out


def write_pq_png(light: ArrayLike, path: PathLike, metadata: Metadata | None = None) -> Path:
    """48-bit PNG of BT.2020 light (h, w, 3) [cd/m²] in PQ, marked so (cICP 9/16/0/1).

    What `metadata` knows goes into mDCV and cLLI; mDCV needs primaries, white and peak. Light above
    10 000 cd/m² is clipped. Raises RequestError for what is not light, OutputError where it cannot
    be written.
    """
    codes = pq_codes_from_light(light).astype(">u2")
    return write_bytes(path, png_bytes(codes, pq_chunks(metadata or Metadata())))


def pq_chunks(metadata: Metadata) -> list[tuple[str, bytes]]:
    """What marks a PNG as BT.2020 and PQ, and what is claimed of its content."""
    return [("cICP", _CICP_PQ), *_claims(metadata)]


def write_sdr_png(light: ArrayLike, path: PathLike, *, white: float = SDR_WHITE) -> Path:
    """8-bit sRGB PNG of BT.2020 light (h, w, 3) [cd/m²], `white` [cd/m²] shown as 255.

    Nothing is tone-mapped: what is brighter or more colourful than the picture can hold is clipped,
    and a tEXt chunk says at which white. Raises as `write_pq_png` does.
    """
    text = f"Description\0{white:g} cd/m² is shown as white; what is brighter is clipped"
    chunks = [("sRGB", _SRGB_INTENT), ("tEXt", text.encode("latin-1"))]
    return write_bytes(path, png_bytes(sdr_from_light(light, white), chunks))


def _claims(metadata: Metadata) -> list[tuple[str, bytes]]:
    """mDCV and cLLI where there is something to say. W3C PNG 11.3.2.7 and 8."""
    chunks = []
    points = metadata.mastering_primaries
    if points is not None and len(points) == 4 and metadata.mastering_peak > 0:
        xy = [round(v / XY_STEP) for point in points for v in point]
        peak, black = (_in_steps(v) for v in (metadata.mastering_peak, metadata.mastering_black))
        chunks.append(("mDCV", struct.pack(">8H2I", *xy, peak, black)))
    if metadata.max_cll > 0 or metadata.max_fall > 0:
        levels = (_in_steps(metadata.max_cll), _in_steps(metadata.max_fall))
        chunks.append(("cLLI", struct.pack(">2I", *levels)))
    return chunks


def _in_steps(light: float) -> int:
    return round(light / LIGHT_STEP)


def png_bytes(codes: NDArray[Any], chunks: list[tuple[str, bytes]]) -> bytes:
    """A truecolour PNG of codes (h, w, 3), uint8 or big-endian uint16."""
    height, width, _ = codes.shape
    header = struct.pack(">2I5B", width, height, 8 * codes.itemsize, _TRUECOLOUR, 0, 0, 0)
    every = [("IHDR", header), *chunks, ("IDAT", _packed_rows(codes)), ("IEND", b"")]
    return SIGNATURE + b"".join(packed(kind, data) for kind, data in every)


def _packed_rows(codes: NDArray[Any]) -> bytes:
    """Rows as differences to the pixel on the left, deflated. W3C PNG 9.2 and 10."""
    step = 3 * codes.itemsize
    raw = np.ascontiguousarray(codes).view(np.uint8).reshape(len(codes), -1)
    rows = np.empty((len(raw), 1 + raw.shape[1]), np.uint8)
    rows[:, 0] = _BY_LEFT
    rows[:, 1 : 1 + step] = raw[:, :step]
    np.subtract(raw[:, step:], raw[:, :-step], out=rows[:, 1 + step :])
    return zlib.compress(rows.data, _PACKING)
