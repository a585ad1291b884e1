"""Whether an EXR file is whole, asked before the library is: it patches what is missing and prints.

OpenEXR file layout: headers, then a table of offsets, then chunks.
"""

from __future__ import annotations

import struct
from pathlib import Path

from emulate.errors import MaterialError

_TILED, _DEEP, _MULTIPART = 0x200, 0x800, 0x1000  # version field, OpenEXR file layout


def check_whole(file: Path) -> None:
    """Raises MaterialError where headers, offset table or the last chunk are not all there."""
    data = file.read_bytes()
    try:
        version, end, tiled = _headers(data)
        offsets = _offsets(data, end)
        last_end = _end_of_chunk(data, max(offsets), version, tiled)
    except (struct.error, ValueError, IndexError) as error:
        raise MaterialError(f"{file}: truncated or damaged: its EXR header is not whole") from error
    if min(offsets) < end or last_end > len(data):
        raise MaterialError(f"{file}: truncated: it ends at byte {len(data)}, within its pixels")


def _headers(data: bytes) -> tuple[int, int, bool]:
    """The version field, where the offset table begins, and whether chunks are tiles."""
    (version,) = struct.unpack_from("<I", data, 4)
    at, tiled = _header(data, 8)
    if version & _MULTIPART:
        while data[at] != 0:
            at, more = _header(data, at)
            tiled = tiled or more
        at += 1
    return version, at, tiled or bool(version & _TILED)


def _header(data: bytes, at: int) -> tuple[int, bool]:
    """Where one header's attributes end, and whether one of them describes tiles."""
    tiled = False
    while data[at] != 0:
        name_end = data.index(b"\0", at)
        kind_end = data.index(b"\0", name_end + 1)
        (size,) = struct.unpack_from("<I", data, kind_end + 1)
        tiled = tiled or data[at:name_end] == b"tiles"
        at = kind_end + 5 + size
    return at + 1, tiled


def _offsets(data: bytes, at: int) -> list[int]:
    """The offset tables, one after another; they end where the earliest chunk begins."""
    offsets: list[int] = []
    earliest = at + 8
    while at + 8 * len(offsets) < earliest:
        offsets += struct.unpack_from("<Q", data, at + 8 * len(offsets))
        earliest = min(offsets)
    return offsets


def _end_of_chunk(data: bytes, at: int, version: int, tiled: bool) -> int:
    """Position after a chunk of a single flat part: place, size, pixels; of others its start."""
    if version & (_DEEP | _MULTIPART):
        return at
    size_at = at + (16 if tiled else 4)
    return size_at + 4 + int.from_bytes(data[size_at : size_at + 4], "little")
