"""AVIF in: 8 to 12-bit planes as they are coded, never through a scaler."""

from __future__ import annotations

import struct
from dataclasses import replace
from pathlib import Path
from typing import Any

from emulate.errors import Caveat, MaterialError
from emulate.frames.cicp import UNSPECIFIED, said_by_cicp
from emulate.frames.frame import CodePicture, Frame, Metadata, Siting
from emulate.frames.isobox import Item, primary_item
from emulate.frames.metadata import checked
from emulate.frames.planes import Planes, planes_of
from emulate.frames.said import Said, settle
from emulate.frames.size import LARGEST, check_size

_ASSUMED = Said(  # what is not said of a picture: CICP 1/13/6, MIAF (ISO/IEC 23000-22), 7.3.6.4
    transfer="sdr", gamut="bt709", matrix="bt601", full_range=True, siting="left"
)
_RANGES = {1: False, 2: True}  # AVCOL_RANGE_MPEG and _JPEG, libavutil/pixfmt.h
_SITINGS: dict[int, Siting] = {1: "left", 2: "topleft"}  # AV1 specification 6.4.2
_XY_STEP = 0.00002  # of mdcv, ISO/IEC 23008-12 mastering display colour volume
_LIGHT_STEP = 0.0001  # cd/m², as above


def read_avif(file: Path, said: Said) -> Frame:
    """A frame from the primary picture of an AVIF file; nclx, mdcv and clli read.

    Alpha, rotation, mirroring and a clean aperture are ignored with a caveat. Raises MaterialError
    for a grid of pictures, another codec, or a truncated file.
    """
    name = file.name
    item = primary_item(file)
    _check(file, item)
    decoded = _decoded(file, item.data)
    try:
        planes = planes_of(decoded)
    except MaterialError as error:
        raise MaterialError(f"{file}: {error}") from error
    told, told_doubts = _told(name, item, decoded, planes)
    metadata, claim_doubts = checked(name, _claimed(item))
    encoding, assumptions = settle(name, told, said, _ASSUMED, planes.bits)
    doubts = told_doubts + claim_doubts + _doubts(name, item, planes) + assumptions
    picture = CodePicture(planes.first, planes.second, planes.third, encoding)
    return Frame(picture, name, encoding, metadata, doubts)


def _check(file: Path, item: Item) -> None:
    if item.kind != "av01":
        raise MaterialError(
            f"{file}: its picture is of kind {item.kind.strip() or 'none'!r}; accepted is one "
            "AV1 picture (av01)"
        )
    size = item.property("ispe")
    if size is None or len(size) < 12:
        raise MaterialError(f"{file}: damaged: its picture has no size (ispe)")
    check_size(file, *struct.unpack_from(">2I", size, 4))


def _decoded(file: Path, data: bytes) -> Any:
    """The coded picture as an av.VideoFrame."""
    import av

    context: Any = av.CodecContext.create("libdav1d", "r")
    context.options = {"max_pixels": str(LARGEST)}
    try:
        frames = context.decode(av.Packet(data)) if data else []
        frames = frames or context.decode(None)
    except (av.FFmpegError, OSError) as error:
        raise MaterialError(
            f"{file}: truncated or damaged: it does not decode ({error})"
        ) from error
    if not frames or frames[0].is_corrupt:
        raise MaterialError(f"{file}: truncated or damaged: no picture in it")
    return frames[0]


def _told(name: str, item: Item, decoded: Any, planes: Planes) -> tuple[Said, tuple[Caveat, ...]]:
    """What nclx says, or where it says nothing, the coded picture itself."""
    points = [int(p) for p in (decoded.color_primaries, decoded.color_trc, decoded.colorspace)]
    full = _RANGES.get(int(decoded.color_range))
    nclx = item.property("colr", b"nclx")
    if nclx is not None and len(nclx) >= 11:
        *outer, flags = struct.unpack_from(">3HB", nclx, 4)
        points = [o if o != UNSPECIFIED else p for o, p in zip(outer, points, strict=True)]
        full = bool(flags & 0x80)  # ISO/IEC 14496-12, 12.1.5
    primaries, transfer, matrix = points
    said, caveats = said_by_cicp(name, primaries, transfer, 0 if planes.is_rgb else matrix, full)
    return replace(said, siting=_siting(item, planes)), caveats


def _siting(item: Item, planes: Planes) -> Siting | None:
    """chroma_sample_position of 4:2:0. AV1 specification 6.4.2, AV1-ISOBMFF 2.3.3 (av1C)."""
    if planes.second.shape[0] == planes.first.shape[0]:
        return "left"  # 4:4:4 has nowhere else to be, 4:2:2 is co-sited
    box = item.property("av1C") or bytes(4)
    return _SITINGS.get(box[2] & 3) if len(box) > 2 else None


def _claimed(item: Item) -> Metadata:
    """What mdcv (ISO/IEC 23008-12, as in H.265 D.3.28) and clli claim, unchecked."""
    metadata = Metadata()
    mastering, levels = item.property("mdcv") or b"", item.property("clli") or b""
    if len(mastering) == 24:
        *xy, peak, black = struct.unpack(">8H2I", mastering)
        points = [(round(x * _XY_STEP, 5), round(y * _XY_STEP, 5)) for x, y in _pairs(xy)]
        green, blue, red, white = points  # this order in the box
        metadata = replace(
            metadata,
            mastering_primaries=(red, green, blue, white) if any(xy) else None,
            mastering_peak=peak * _LIGHT_STEP,
            mastering_black=black * _LIGHT_STEP,
        )
    if len(levels) == 4:
        cll, fall = struct.unpack(">2H", levels)
        metadata = replace(metadata, max_cll=float(cll), max_fall=float(fall))
    return metadata


def _pairs(values: list[int]) -> list[tuple[int, int]]:
    return list(zip(values[::2], values[1::2], strict=True))


def _doubts(name: str, item: Item, planes: Planes) -> tuple[Caveat, ...]:
    doubts = []
    turn = item.property("irot")
    if turn and turn[0] & 3:
        doubts.append(f"it asks to be turned by {90 * (turn[0] & 3)}°; it is shown as stored")
    if item.property("imir") is not None:
        doubts.append("it asks to be mirrored; it is shown as stored")
    if item.property("clap") is not None:
        doubts.append("it asks to be cropped; it is shown whole")
    if any("alpha" in kind for kind in item.others):
        doubts.append("its alpha is ignored")
    if item.property("colr", b"prof") is not None:
        doubts.append("its ICC profile is not read")
    if planes.bits == 8:
        doubts.append("8 bits a channel; steps between codes may be seen")
    return tuple(Caveat(name, text) for text in doubts)
