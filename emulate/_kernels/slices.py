"""Tables looked up by the bits of a float: no power function per pixel.

Every octave of float32 from 2^LOW to 2^(LOW + OCTAVES) is cut into 2^SPLIT equal slices. A table
holds a function at their bounds; between bounds it is linear. A table's `kinds` say of each slice
what holds all over it, or that it must be computed (EXACT): where the function has a kink or bends
too much. Values outside the octaves are computed too.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

LOW = -24  # 6e-8 cd/m², a thousandth of what PQ's first 10-bit code stands for
OCTAVES = 38  # up to 2¹⁴, past the 10 000 cd/m² of PQ
SPLIT = 11  # 2048 slices an octave: a smooth function is off by some 1e-7 between bounds
COUNT = OCTAVES << SPLIT
EXACT = 255

_BELOW = np.int32((127 + LOW) << 23)  # bits of 2^LOW, IEEE 754 binary32
_REST = 23 - SPLIT
_MASK = np.int32((1 << _REST) - 1)
_SCALE = np.float32(1.0 / (1 << _REST))


def bounds() -> np.ndarray[Any, np.dtype[np.float32]]:
    """Where the slices begin, and the last one's end (COUNT + 1,)."""
    bits = int(_BELOW) + (np.arange(COUNT + 1, dtype=np.int64) << _REST)
    return bits.astype(np.int32).view(np.float32)


@njit(nogil=True)
def slice_of(value: Any) -> Any:
    """The slice a positive float32 lies in; outside the octaves negative, or COUNT and more."""
    return (np.float32(value).view(np.int32) - _BELOW) >> _REST


@njit(nogil=True)
def between(value: Any, at: Any, table: Any) -> Any:
    """`table` at a float32 that lies in slice `at`."""
    along = np.float32(np.float32(value).view(np.int32) & _MASK) * _SCALE
    return table[at] + along * (table[at + 1] - table[at])
