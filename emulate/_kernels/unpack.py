"""Packed bytes of a file to the values they stand for."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[Any]


@njit(cache=True, nogil=True)
def _paeth(left: int, above: int, corner: int) -> int:
    """The neighbour nearest to left + above − corner. ISO/IEC 15948:2004, 9.4."""
    guess = left + above - corner
    by_left, by_above, by_corner = abs(guess - left), abs(guess - above), abs(guess - corner)
    if by_left <= by_above and by_left <= by_corner:
        return left
    return above if by_above <= by_corner else corner


@njit(cache=True, nogil=True)
def unfilter_png(rows: Array, step: int, out: Array) -> int:
    """Filtered rows (h, 1 + n) uint8 to bytes out (h, n); step: bytes of a pixel.

    Returns the first row whose filter is unknown, or −1. ISO/IEC 15948:2004, 9.2.
    """
    height, width = out.shape
    for y in range(height):
        kind = rows[y, 0]
        if kind > 4:
            return y
        for x in range(width):
            left = int(out[y, x - step]) if x >= step else 0
            above = int(out[y - 1, x]) if y > 0 else 0
            corner = int(out[y - 1, x - step]) if y > 0 and x >= step else 0
            guess = 0
            if kind == 1:
                guess = left
            elif kind == 2:
                guess = above
            elif kind == 3:
                guess = (left + above) // 2
            elif kind == 4:
                guess = _paeth(left, above, corner)
            out[y, x] = np.uint8((int(rows[y, x + 1]) + guess) & 255)
    return -1


@njit(cache=True, nogil=True)
def _new_run_lengths(data: Array, at: int, row: Array) -> int:
    """One scanline, component by component; the next position, or −1 where it does not fit."""
    width = row.shape[0]
    for component in range(4):
        x = 0
        while x < width:
            if at + 1 >= data.shape[0]:
                return -1
            count = int(data[at])
            run = count > 128
            if run:
                count -= 128
            if count == 0 or x + count > width or at + (1 if run else count) >= data.shape[0]:
                return -1
            at += 1
            for i in range(count):
                row[x + i, component] = data[at if run else at + i]
            at += 1 if run else count
            x += count
    return at


@njit(cache=True, nogil=True)
def _old_run_lengths(data: Array, at: int, row: Array) -> int:
    """One scanline of plain pixels where 1, 1, 1, n repeats the one before; as above."""
    x, shift = 0, 0
    while x < row.shape[0]:
        if at + 4 > data.shape[0]:
            return -1
        if data[at] == 1 and data[at + 1] == 1 and data[at + 2] == 1:
            count = int(data[at + 3]) << shift
            if x == 0 or shift > 24 or x + count > row.shape[0]:
                return -1
            for _ in range(count):
                row[x] = row[x - 1]
                x += 1
            shift += 8
        else:
            row[x] = data[at : at + 4]
            x += 1
            shift = 0
        at += 4
    return at


@njit(cache=True, nogil=True)
def unpack_radiance(data: Array, out: Array) -> int:
    """Scanlines of a Radiance picture to out (lines, length, 4) uint8 mantissas and exponent.

    Returns the first line that is not whole, or −1. Radiance file formats, "Picture".
    """
    at, length = 0, out.shape[1]
    for y in range(out.shape[0]):
        if at + 4 > data.shape[0]:
            return y
        new = 8 <= length < 32768 and data[at] == 2 and data[at + 1] == 2 and data[at + 2] < 128
        if new:
            if (int(data[at + 2]) << 8) + int(data[at + 3]) != length:
                return y
            at = _new_run_lengths(data, at + 4, out[y])
        else:
            at = _old_run_lengths(data, at, out[y])
        if at < 0:
            return y
    return -1
