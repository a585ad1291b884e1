"""Boxes of an ISO still-picture file: which item is the picture, its properties and its bytes.

ISO/IEC 14496-12 (boxes, items) and 23008-12 (HEIF: properties). Only what a still of one coded
picture needs is read.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from emulate.errors import MaterialError

_LARGEST_BOXES = 4096  # boxes on one level, our own limit


@dataclass(frozen=True)
class Item:
    """The primary item: its kind (av01, grid …), data, and properties as (kind, payload).

    others: kinds of auxiliary pictures that belong to it (their type as a URN).
    """

    kind: str
    data: bytes
    properties: tuple[tuple[str, bytes], ...]
    others: tuple[str, ...]

    def property(self, kind: str, prefix: bytes = b"") -> bytes | None:
        """Payload of the first property of a kind whose payload begins with `prefix`."""
        found = (p for k, p in self.properties if k == kind and p.startswith(prefix))
        return next(found, None)


def primary_item(file: Path) -> Item:
    """The primary item of a file. Raises MaterialError where the file is not whole or has none."""
    data = file.read_bytes()
    try:
        return _item(file, data)
    except (struct.error, IndexError, UnicodeDecodeError) as error:
        raise MaterialError(f"{file}: truncated or damaged: a box is not whole") from error


def _item(file: Path, data: bytes) -> Item:
    meta = dict(_boxes(data)).get("meta")
    if meta is None:
        raise MaterialError(f"{file}: truncated, or no still: it has no meta box")
    boxes = dict(_boxes(meta[4:]))
    missing = [kind for kind in ("pitm", "iinf", "iloc", "iprp") if kind not in boxes]
    if missing:
        raise MaterialError(f"{file}: damaged: its meta box has no {missing[0]} box")
    number = _primary(boxes["pitm"])
    properties = _properties(boxes["iprp"])
    pieces = [
        (data if method == 0 else boxes.get("idat", b""), start, length)
        for method, start, length in _extents(boxes["iloc"], number)
    ]
    return Item(
        _kinds(boxes["iinf"]).get(number, ""),
        _joined(file, pieces),
        tuple(properties.get(number, [])),
        tuple(
            payload[4:].split(b"\0")[0].decode()
            for other, owned in properties.items()
            for kind, payload in owned
            if other != number and kind == "auxC"
        ),
    )


def _boxes(data: bytes) -> Iterator[tuple[str, bytes]]:
    """Kind and payload of the boxes on one level. ISO/IEC 14496-12, 4.2."""
    at = 0
    for _ in range(_LARGEST_BOXES):
        if at + 8 > len(data):
            return
        size, head = int.from_bytes(data[at : at + 4], "big"), 8
        if size == 1:
            size, head = struct.unpack_from(">Q", data, at + 8)[0], 16
        elif size == 0:
            size = len(data) - at
        if size < head:
            raise struct.error("a box smaller than its head")
        yield data[at + 4 : at + 8].decode("latin-1"), data[at + head : at + size]
        at += size


def _primary(pitm: bytes) -> int:
    return int(struct.unpack_from(">H" if pitm[0] == 0 else ">I", pitm, 4)[0])


def _kinds(iinf: bytes) -> dict[int, str]:
    """Kind of each item. ISO/IEC 14496-12, 8.11.6."""
    kinds = {}
    for _, entry in _boxes(iinf[6 if iinf[0] == 0 else 8 :]):
        wide = entry[0] >= 3
        (number,) = struct.unpack_from(">I" if wide else ">H", entry, 4)
        at = 4 + (4 if wide else 2) + 2
        kinds[number] = entry[at : at + 4].decode("latin-1")
    return kinds


def _extents(iloc: bytes, wanted: int) -> list[tuple[int, int, int]]:
    """Construction method, offset and length of each piece of an item. 14496-12, 8.11.3."""
    version = iloc[0]
    offset_size, length_size = iloc[4] >> 4, iloc[4] & 15
    base_size, index_size = iloc[5] >> 4, (iloc[5] & 15) if version else 0
    reader = _Reader(iloc, 6)
    for _ in range(reader.take(2 if version < 2 else 4)):
        number = reader.take(2 if version < 2 else 4)
        method = reader.take(2) & 15 if version else 0
        reader.take(2)  # data reference
        base = reader.take(base_size)
        pieces = []
        count = reader.take(2)
        if count > 1 and not offset_size + length_size:
            raise struct.error("pieces without a place")
        for _ in range(count):
            reader.take(index_size)
            pieces.append((method, base + reader.take(offset_size), reader.take(length_size)))
        if number == wanted:
            return pieces
    return []


class _Reader:
    """Big-endian numbers of so many bytes, one after another."""

    def __init__(self, data: bytes, at: int) -> None:
        self.data, self.at = data, at

    def take(self, size: int) -> int:
        if self.at + size > len(self.data):
            raise IndexError("past the end of a box")
        value = int.from_bytes(self.data[self.at : self.at + size], "big")
        self.at += size
        return value


def _joined(file: Path, pieces: list[tuple[bytes, int, int]]) -> bytes:
    parts: list[bytes] = []
    for source, start, length in pieces:
        if sum(map(len, parts)) > len(source):
            raise MaterialError(f"{file}: damaged: its picture is longer than the file")
        end = start + length if length else len(source)
        if end > len(source):
            raise MaterialError(
                f"{file}: truncated: its picture ends at byte {end} of {len(source)}"
            )
        parts.append(source[start:end])
    return b"".join(parts)


def _properties(iprp: bytes) -> dict[int, list[tuple[str, bytes]]]:
    """Properties of each item, in their order. ISO/IEC 23008-12, 9.3."""
    boxes = list(_boxes(iprp))
    listed = [box for kind, payload in boxes if kind == "ipco" for box in _boxes(payload)]
    owned: dict[int, list[tuple[str, bytes]]] = {}
    for payload in (payload for kind, payload in boxes if kind == "ipma"):
        wide_item, wide_index = payload[0] >= 1, bool(payload[3] & 1)
        reader = _Reader(payload, 4)
        for _ in range(reader.take(4)):
            number = reader.take(4 if wide_item else 2)
            for _ in range(reader.take(1)):
                index = reader.take(2 if wide_index else 1) & (0x7FFF if wide_index else 0x7F)
                if 0 < index <= len(listed):
                    owned.setdefault(number, []).append(listed[index - 1])
    return owned
