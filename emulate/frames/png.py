"""PNG in: 16 and 8-bit codes, exact. The picture decoders of the image libraries cut to 8 bits."""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from emulate.errors import Caveat, MaterialError
from emulate.frames.chunks import Chunks, claimed_by_chunks, read_chunks, told_by_chunks
from emulate.frames.codes import frame_of_codes
from emulate.frames.frame import Frame
from emulate.frames.metadata import checked
from emulate.frames.said import Said
from emulate.frames.size import check_size

_ASSUMED = Said(transfer="sdr", gamut="bt709")  # what PNG viewers take an unmarked file for
_CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}  # by colour type, W3C PNG table 11.1
_GREY, _PALETTE = (0, 4), 3  # as above
_ALPHA = (4, 6)  # as above


@dataclass(frozen=True)
class _Header:
    """IHDR. W3C PNG 11.2.1."""

    width: int
    height: int
    depth: int
    colour: int
    interlace: int

    @property
    def pixel_bytes(self) -> int:
        return _CHANNELS[self.colour] * self.depth // 8


def read_png(file: Path, said: Said) -> Frame:
    """A frame from 16-bit PNG, or with a caveat 8-bit; cICP, mDCV, cLLI, gAMA, cHRM, sRGB read.

    Raises MaterialError for a file that is truncated or damaged, interlaced, or of fewer bits.
    """
    name = file.name
    chunks = read_chunks(file)
    header = _header(file, chunks["IHDR"])
    samples = _samples(file, header, _inflated(file, header, chunks["IDAT"]))
    told, told_doubts = told_by_chunks(name, chunks)
    metadata, claim_doubts = checked(name, claimed_by_chunks(chunks))
    return frame_of_codes(
        name,
        _colours(file, header, samples, chunks),
        header.depth,
        told=told,
        said=said,
        assumed=_ASSUMED,
        metadata=metadata,
        doubts=told_doubts + claim_doubts + _doubts(name, header, chunks),
    )


def _header(file: Path, data: bytes) -> _Header:
    if len(data) != 13:
        raise MaterialError(f"{file}: damaged: an IHDR chunk of {len(data)} bytes")
    width, height, depth, colour, _, _, interlace = struct.unpack(">2I5B", data)
    check_size(file, width, height)
    if colour not in _CHANNELS or depth not in (8, 16) or (colour == _PALETTE and depth != 8):
        raise MaterialError(
            f"{file}: {depth} bits of colour type {colour}; accepted are 8 or 16 bits a channel"
        )
    if interlace:
        raise MaterialError(f"{file}: interlaced; accepted is a PNG saved without interlacing")
    return _Header(width, height, depth, colour, interlace)


def _inflated(file: Path, header: _Header, data: bytes) -> bytes:
    """The filtered rows, never more bytes than the header announces."""
    expected = header.height * (1 + header.width * header.pixel_bytes)
    try:
        rows = zlib.decompressobj().decompress(data, expected)
    except zlib.error as error:
        raise MaterialError(f"{file}: damaged: its pixels do not unpack ({error})") from error
    if len(rows) != expected:
        raise MaterialError(f"{file}: truncated: {len(rows)} bytes of pixels of {expected}")
    return rows


def _samples(file: Path, header: _Header, data: bytes) -> NDArray[Any]:
    """Samples (h, w, channel), uint8 or big-endian uint16."""
    from emulate._kernels.unpack import unfilter_png

    rows = np.frombuffer(data, np.uint8).reshape(header.height, -1)
    out = np.empty((header.height, header.width * header.pixel_bytes), np.uint8)
    wrong = unfilter_png(rows, header.pixel_bytes, out)
    if wrong >= 0:
        raise MaterialError(f"{file}: damaged: row {wrong} has filter {rows[wrong, 0]}")
    kind = np.dtype(">u2" if header.depth == 16 else "u1")
    return out.view(kind).reshape(header.height, header.width, -1)


def _colours(file: Path, header: _Header, samples: NDArray[Any], chunks: Chunks) -> NDArray[Any]:
    """Codes (h, w, 3), or (h, w, 1) for grey; alpha left out."""
    if header.colour in _GREY:
        return samples[..., :1]
    if header.colour != _PALETTE:
        return samples[..., :3]
    data = chunks.get("PLTE", b"")
    palette = np.frombuffer(data[: len(data) // 3 * 3], np.uint8).reshape(-1, 3)
    if samples.max() >= len(palette):
        raise MaterialError(f"{file}: damaged: a pixel names colour {samples.max()} of none")
    return np.asarray(palette[samples[..., 0]])


def _doubts(name: str, header: _Header, chunks: Chunks) -> tuple[Caveat, ...]:
    doubts = []
    if header.depth == 8:
        doubts.append("8 bits a channel; steps between codes may be seen")
    if header.colour in _ALPHA or "tRNS" in chunks:
        doubts.append("its transparency is ignored")
    return tuple(Caveat(name, text) for text in doubts)
