# ruff: noqa: ARG001 - one signature for all that stand in a list
"""Files spoiled by rule: the same seed gives the same damage."""

from __future__ import annotations

import struct
import zlib

import numpy as np

HEAD = 512  # bytes in which most formats keep their sizes
EXTREMES = [0, 1, 2, 127, 128, 255, 256, 32767, 32768, 65535, 2**31 - 1, 2**31, 2**32 - 1]
WORDS = [
    b"nan",
    b"inf",
    b"-1",
    b"1e999",
    b"9" * 5000,
    b"null",
    b"[" * 3000,
    b'"',
    b"\0",
    b"\xff\xfe",
    b"\n",
    b",,,,",
    b";",
    b"\t",
    b"{}",
    b"true",
    b"1_000",
    b"\xd9\xa1",  # a digit of another script
]


def mutated(seed: bytes, other: bytes, rng: np.random.Generator) -> bytes:
    """One to three mutations of `seed`, which a splice mixes with `other`."""
    data = bytearray(seed)
    for _ in range(int(rng.integers(1, 4))):
        data = _ALL[int(rng.integers(len(_ALL)))](data, other, rng)
    return bytes(data)


def _flip(data, other, rng):
    for _ in range(int(rng.integers(1, 9))):
        if data:
            data[int(rng.integers(len(data)))] ^= 1 << int(rng.integers(8))
    return data


def _flip_head(data, other, rng):
    if data:
        data[int(rng.integers(min(len(data), HEAD)))] = int(rng.integers(256))
    return data


def _truncate(data, other, rng):
    return data[: int(rng.integers(len(data) + 1))]


def _splice(data, other, rng):
    at, begin = int(rng.integers(len(data) + 1)), int(rng.integers(len(other) + 1))
    return data[:at] + bytearray(other[begin:])


def _cut_out(data, other, rng):
    at = int(rng.integers(len(data) + 1))
    return data[:at] + data[at + int(rng.integers(1, 65)) :]


def _repeat(data, other, rng):
    at, length = int(rng.integers(len(data) + 1)), int(rng.integers(1, 257))
    return data[:at] + data[at : at + length] * int(rng.integers(1, 9)) + data[at:]


def _lie(data, other, rng):
    """A whole number of 1, 2, 4 or 8 bytes near the head set to an extreme."""
    code = "BHIQ"[int(rng.integers(4))]
    size = struct.calcsize(code)
    if len(data) > size:
        value = EXTREMES[int(rng.integers(len(EXTREMES)))] % 256**size
        at = int(rng.integers(min(len(data) - size, HEAD)))
        struct.pack_into("<>"[int(rng.integers(2))] + code, data, at, value)
    return data


def _insert_word(data, other, rng):
    at = int(rng.integers(len(data) + 1))
    return data[:at] + WORDS[int(rng.integers(len(WORDS)))] + data[at:]


def _replace_number(data, other, rng):
    """A run of digits in a text becomes an extreme: the header lie of text formats."""
    places = [i for i in range(len(data)) if 48 <= data[i] < 58]
    if not places:
        return data
    begin = end = places[int(rng.integers(len(places)))]
    while end < len(data) and 48 <= data[end] < 58:
        end += 1
    value = str(EXTREMES[int(rng.integers(len(EXTREMES)))]).encode()
    return data[:begin] + value + data[end:]


def finished(data, other, rng):
    """PNG check sums made right again, so that damage gets past them."""
    if not data.startswith(b"\x89PNG"):
        return data
    at = 8
    while at + 12 <= len(data):
        length = int.from_bytes(data[at : at + 4], "big")
        end = at + 8 + length
        if end + 4 > len(data):
            break
        data[end : end + 4] = struct.pack(">I", zlib.crc32(data[at + 4 : end]))
        at = end + 4
    return data


_ALL = [
    _flip,
    _flip_head,
    _truncate,
    _splice,
    _cut_out,
    _repeat,
    _lie,
    _lie,
    _insert_word,
    _replace_number,
]
