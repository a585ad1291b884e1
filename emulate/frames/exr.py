"""EXR in: linear light in half or float. OpenEXR is opened here and in `writing`."""

from __future__ import annotations

import math
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from emulate.errors import Caveat, MaterialError
from emulate.frames.exr_layout import check_whole
from emulate.frames.floats import frame_of_floats
from emulate.frames.frame import Frame
from emulate.frames.gamut import is_gamut, named_gamut
from emulate.frames.said import Said, settle
from emulate.frames.size import MOST_SAMPLES, check_size
from emulate.values import Pixels

_ASSUMED = Said(transfer="linear", gamut="bt709")  # OpenEXR standard attributes, chromaticities

Header = dict[str, Any]


def read_exr(file: Path, said: Said) -> Frame:
    """A frame from half or float EXR, its displayed window, black where nothing is drawn.

    chromaticities and whiteLuminance are honoured; of several parts the first with RGB or Y is
    read; alpha is ignored with a caveat. Raises MaterialError for what holds no such channels, is
    deep, subsampled or whole numbers, is truncated, or holds NaN or infinity.
    """
    name = file.name
    check_whole(file)
    try:
        headers = [part.header for part in _opened(file, header_only=True).parts]
        number = _part_with_colour(file, headers)
    except UnicodeDecodeError as error:
        raise MaterialError(f"{file}: damaged: a name in its header is no text") from error
    header = headers[number]
    check_size(file, *_extent(header, "displayWindow"))
    _check_samples(file, headers)
    told, doubts = _told(name, header)
    encoding, assumed = settle(name, told, said, _ASSUMED)
    channels = _channels(file, len(headers), number)
    values = _values(file, {key: channel.pixels for key, channel in channels.items()})
    caveats = doubts + _part_doubts(name, headers, number) + assumed
    return frame_of_floats(name, _placed(values, header), encoding, caveats)


def _opened(file: Path, header_only: bool) -> Any:
    openexr = _openexr()
    if not _is_text(str(file)):
        raise MaterialError(f"{file}: its name is not UTF-8; accepted for EXR is UTF-8")
    try:
        return openexr.File(str(file), separate_channels=True, header_only=header_only)
    except Exception as error:  # the binding raises whatever the library throws
        raise MaterialError(f"{file}: not a whole EXR file ({error})") from error


def _is_text(name: str) -> bool:
    """Whether a name is text: bytes that are not UTF-8 are kept in it as lone surrogates."""
    return not any("\ud800" <= sign <= "\udfff" for sign in name)


def _channels(file: Path, count: int, number: int) -> dict[str, Any]:
    """The channels of one part. The library leaves out a part that does not unpack."""
    parts = _opened(file, header_only=False).parts
    if len(parts) != count:
        raise MaterialError(f"{file}: truncated or damaged: its pixels do not unpack")
    return dict(parts[number].channels)


def _openexr() -> ModuleType:
    import OpenEXR

    return OpenEXR  # type: ignore[no-any-return]


def _names(header: Header) -> list[str]:
    return [channel.name for channel in header["channels"]]


def _part_with_colour(file: Path, headers: list[Header]) -> int:
    for number, header in enumerate(headers):
        names = set(_names(header))
        if {"R", "G", "B"} <= names or ("Y" in names and not {"RY", "BY"} & names):
            _check_kind(file, header)
            return number
    found = "; ".join(", ".join(_names(header)) or "none" for header in headers)
    raise MaterialError(f"{file}: channels {found}; accepted are R, G, B or Y alone")


def _check_kind(file: Path, header: Header) -> None:
    openexr = _openexr()
    if header.get("type") in (openexr.deepscanline, openexr.deeptile):
        raise MaterialError(f"{file}: a deep picture; accepted is a flat one")
    for channel in header["channels"]:
        if channel.name in "RGBY" and (channel.xSampling, channel.ySampling) != (1, 1):
            raise MaterialError(f"{file}: channel {channel.name} is subsampled; accepted is whole")


def _extent(header: Header, window: str) -> tuple[int, int]:
    """Width and height [px] of a window."""
    low, high = header[window]
    return int(high[0]) - int(low[0]) + 1, int(high[1]) - int(low[1]) + 1


def _check_samples(file: Path, headers: list[Header]) -> None:
    """The library unpacks every channel of every part: all of them together must fit."""
    samples = 0
    for header in headers:
        width, height = _extent(header, "dataWindow")
        check_size(file, width, height)
        samples += width * height * len(header["channels"])
    if samples > MOST_SAMPLES:
        raise MaterialError(f"{file}: {samples} samples in all; accepted are {MOST_SAMPLES}")


def _told(name: str, header: Header) -> tuple[Said, tuple[Caveat, ...]]:
    """What the header says of its light, where that can be true."""
    gamut, gamut_doubts = _chromaticities(name, header.get("chromaticities"))
    white, white_doubts = _white_luminance(name, header.get("whiteLuminance"))
    return Said(transfer="linear", gamut=gamut, scale=white), gamut_doubts + white_doubts


def _chromaticities(name: str, value: Any) -> tuple[Any, tuple[Caveat, ...]]:
    if value is None:
        return None, ()
    flat = [float(v) for v in np.ravel(np.asarray(value, dtype=np.float64))]
    points = tuple(zip(flat[::2], flat[1::2], strict=True))
    if not is_gamut(points):
        shown = " ".join(f"({x:g}, {y:g})" for x, y in points)
        return None, (Caveat(name, f"its chromaticities {shown} cannot be; they are dropped"),)
    return named_gamut(points), ()


def _white_luminance(name: str, value: Any) -> tuple[float | None, tuple[Caveat, ...]]:
    if value is None or (math.isfinite(value) and value > 0):
        return value, ()
    return None, (Caveat(name, f"its whiteLuminance of {value:g} cannot be; it is dropped"),)


def _part_doubts(name: str, headers: list[Header], number: int) -> tuple[Caveat, ...]:
    names, doubts = set(_names(headers[number])), []
    if len(headers) > 1:
        doubts.append(f"{len(headers)} parts; the first with colour, part {number}, is read")
    if "A" in names:
        doubts.append("its alpha is ignored")
    if not {"R", "G", "B"} <= names:
        doubts.append("luminance alone; it is shown as a neutral picture")
    return tuple(Caveat(name, text) for text in doubts)


def _values(file: Path, channels: dict[str, NDArray[Any]]) -> Pixels:
    keys = ("R", "G", "B") if {"R", "G", "B"} <= set(channels) else ("Y", "Y", "Y")
    planes = [channels[key] for key in keys]
    for key, plane in zip(keys, planes, strict=True):
        if plane.dtype.kind != "f":
            raise MaterialError(
                f"{file}: channel {key} holds whole numbers; accepted is half or float"
            )
    out = np.empty((*planes[0].shape, 3), np.float32)
    for number, plane in enumerate(planes):
        out[..., number] = plane
    return out


def _placed(values: Pixels, header: Header) -> Pixels:
    """The display window: the data window cut to it, black around."""
    (left, top), _ = header["displayWindow"]
    (data_left, data_top), _ = header["dataWindow"]
    width, height = _extent(header, "displayWindow")
    x, y = int(data_left) - int(left), int(data_top) - int(top)
    if (x, y, height, width) == (0, 0, *values.shape[:2]):
        return values
    out = np.zeros((height, width, 3), np.float32)
    rows, source_rows = _overlap(y, values.shape[0], height)
    columns, source_columns = _overlap(x, values.shape[1], width)
    out[rows, columns] = values[source_rows, source_columns]
    return out


def _overlap(offset: int, length: int, room: int) -> tuple[slice, slice]:
    """Where a stretch of `length` at `offset` falls within `room`, there and in itself."""
    start, end = max(offset, 0), max(min(offset + length, room), 0)
    start = min(start, end)
    return slice(start, end), slice(start - offset, end - offset)
