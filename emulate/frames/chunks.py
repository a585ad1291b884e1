"""PNG chunks: what a PNG file is made of and what it says of its light. W3C PNG, third edition."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

from emulate.errors import Caveat, MaterialError
from emulate.frames.cicp import said_by_cicp
from emulate.frames.frame import Metadata
from emulate.frames.gamut import is_gamut, named_gamut
from emulate.frames.said import Said

SIGNATURE = b"\x89PNG\r\n\x1a\n"  # W3C PNG 5.2
XY_STEP = 0.00002  # of mDCV, W3C PNG 11.3.2.7
LIGHT_STEP = 0.0001  # cd/m², of mDCV and cLLI, W3C PNG 11.3.2.7 and 8
GAMMA_STEP = 0.00001  # of gAMA and cHRM, W3C PNG 11.3.2.2 and 1
LINEAR_GAMMA = 1.0  # gAMA of linear light
SDR_GAMMAS = (0.4, 0.56)  # gAMA of display-coded pictures: 1/2.5 to 1/1.8, our own limits

Chunks = dict[str, bytes]
Told = tuple[Said, tuple[Caveat, ...]]


def packed(kind: str, data: bytes) -> bytes:
    """One chunk: length, kind, data, checksum. W3C PNG 5.3."""
    body = kind.encode("ascii") + data
    return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))


def read_chunks(file: Path) -> Chunks:
    """The chunks of a PNG by kind, IDAT joined, of other repeated ones the first.

    Raises MaterialError where one is cut short, its checksum is wrong, or IHDR, IDAT or IEND is
    missing.
    """
    chunks: dict[str, list[bytes]] = {}
    for kind, data in _walked(file, file.read_bytes()):
        chunks.setdefault(kind, []).append(data)
    for kind in ("IHDR", "IDAT", "IEND"):
        if kind not in chunks:
            raise MaterialError(f"{file}: truncated, or no PNG: it has no {kind} chunk")
    joined = b"".join(chunks.pop("IDAT"))
    return {kind: parts[0] for kind, parts in chunks.items()} | {"IDAT": joined}


def _walked(file: Path, data: bytes) -> Iterator[tuple[str, bytes]]:
    at = len(SIGNATURE)
    while at < len(data):
        if at + 12 > len(data):
            raise MaterialError(f"{file}: truncated at byte {at}")
        (length,) = struct.unpack_from(">I", data, at)
        end = at + 12 + length
        kind = data[at + 4 : at + 8].decode("latin-1")
        if end > len(data):
            raise MaterialError(f"{file}: truncated within its {kind} chunk at byte {at}")
        body = memoryview(data)[at + 4 : end - 4]
        if zlib.crc32(body) != struct.unpack_from(">I", data, end - 4)[0]:
            raise MaterialError(f"{file}: damaged: the checksum of its {kind} chunk is wrong")
        yield kind, bytes(body[4:])
        if kind == "IEND":
            return
        at = end


def told_by_chunks(name: str, chunks: Chunks) -> Told:
    """What the colour chunks say, the strongest first: cICP, iCCP, sRGB, then gAMA and cHRM."""
    for kind, reader in _READERS.items():
        if kind in chunks:
            said, caveats = reader(name, chunks)
            return replace(said, matrix="rgb", full_range=said.full_range is not False), caveats
    return Said(matrix="rgb", full_range=True), ()


def claimed_by_chunks(chunks: Chunks) -> Metadata:
    """What mDCV and cLLI claim, unchecked; a chunk of another length claims nothing."""
    metadata = Metadata()
    mastering = chunks.get("mDCV", chunks.get("mDCv", b""))
    levels = chunks.get("cLLI", chunks.get("cLLi", b""))
    if len(mastering) == 24:
        *xy, peak, black = struct.unpack(">8H2I", mastering)
        points = tuple((round(x * XY_STEP, 5), round(y * XY_STEP, 5)) for x, y in _pairs(xy))
        metadata = replace(
            metadata,
            mastering_primaries=points if any(xy) else None,
            mastering_peak=peak * LIGHT_STEP,
            mastering_black=black * LIGHT_STEP,
        )
    if len(levels) == 8:
        cll, fall = struct.unpack(">2I", levels)
        metadata = replace(metadata, max_cll=cll * LIGHT_STEP, max_fall=fall * LIGHT_STEP)
    return metadata


def _told_by_cicp(name: str, chunks: Chunks) -> Told:
    if len(chunks["cICP"]) != 4:
        return Said(), (Caveat(name, "its cICP chunk is not four bytes; it is dropped"),)
    primaries, transfer, matrix, full = chunks["cICP"]
    said, caveats = said_by_cicp(name, primaries, transfer, matrix, bool(full))
    if matrix != 0:
        text = f"its cICP claims matrix {matrix}; a PNG holds RGB and is read so"
        caveats += (Caveat(name, text),)
    return said, caveats


def _told_by_profile(name: str, chunks: Chunks) -> Told:
    profile = chunks["iCCP"].split(b"\0", 1)[0].decode("latin-1")
    return Said(), (Caveat(name, f"its ICC profile {profile!r} is not read"),)


def _told_by_srgb(name: str, chunks: Chunks) -> Told:  # noqa: ARG001 - one of the readers
    text = "sRGB; its codes are shown as an SDR display shows them, through BT.1886"
    return Said(transfer="sdr", gamut="bt709"), (Caveat(name, text),)


def _told_by_gamma(name: str, chunks: Chunks) -> Told:
    said, caveats = _told_by_chromaticities(name, chunks)
    if len(chunks["gAMA"]) != 4:
        return said, (*caveats, Caveat(name, "its gAMA chunk is not four bytes; it is dropped"))
    gamma = struct.unpack(">I", chunks["gAMA"])[0] * GAMMA_STEP
    if abs(gamma - LINEAR_GAMMA) < GAMMA_STEP:
        return replace(said, transfer="linear"), caveats
    text = f"it claims a gamma of {gamma:g}"
    if SDR_GAMMAS[0] <= gamma <= SDR_GAMMAS[1]:
        text += "; its codes are shown as an SDR display shows them, through BT.1886"
        return replace(said, transfer="sdr"), (*caveats, Caveat(name, text))
    return said, (*caveats, Caveat(name, text + ", which is not read"))


def _told_by_chromaticities(name: str, chunks: Chunks) -> Told:
    data = chunks.get("cHRM", b"")
    if len(data) != 32:
        return Said(), ()
    white, *rest = _pairs([value * GAMMA_STEP for value in struct.unpack(">8I", data)])
    points = (*rest, white)
    if not is_gamut(points):
        return Said(), (Caveat(name, "the primaries of its cHRM chunk cannot be; dropped"),)
    return Said(gamut=named_gamut(points)), ()


def _pairs(values: list[float]) -> list[tuple[float, float]]:
    return list(zip(values[::2], values[1::2], strict=True))


_READERS: dict[str, Callable[[str, Chunks], Told]] = {
    "cICP": _told_by_cicp,
    "iCCP": _told_by_profile,
    "sRGB": _told_by_srgb,
    "gAMA": _told_by_gamma,
    "cHRM": _told_by_chromaticities,
}
