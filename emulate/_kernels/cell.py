"""What the cell lets through of the light behind it, and where it falls short (physics §6)."""

from typing import Any

import numpy as np
from numba import njit, prange

from .compiling import kernel_over_rows, physics
from .slices import COUNT, between, slice_of

_known_light = physics.known_light
_opening = physics.opening


@njit(nogil=True, error_model="numpy")
def _known(
    behind: Any, unknown_gain: float, compensation: float, open_cdm2: float, powers: Any
) -> float:
    """B̂ by the table of B^(κ − 1), or by the formula where the table does not reach."""
    at = slice_of(behind)
    if compensation == 1.0 or not 0 <= at < COUNT:
        return _known_light(np.float64(behind), unknown_gain, open_cdm2, compensation)  # type: ignore[no-any-return]
    return np.float64(behind) * between(behind, at, powers)  # type: ignore[no-any-return]


@kernel_over_rows
def open_cells(
    asked: Any,
    backlight: Any,
    powers: Any,
    unknown_gain: float,
    compensation: float,
    open_cdm2: float,
    leak: float,
    tolerance: float,
    bits: tuple[int, int, int, int],
    light: Any,
    why: Any,
) -> None:
    """Fills light (h, w, 3) and adds bits to why (h, w); asked (h, w, 3), backlight (h, w), cd/m².

    powers: B̂/B by slice of B, where the compensation is not 1.
    unknown_gain: the part of the limiter's gain that the cell does not make up for. leak [1/CR].
    bits: of too little light, cell fully open, floor in some channel, floor in every channel.
    `light` may be `asked` itself. Where the cell believes in no light, none comes.
    """
    starved, wide_open, floor, all_floor = bits
    for y in prange(asked.shape[0]):
        for x in range(asked.shape[1]):
            behind = float(backlight[y, x])
            known = _known(backlight[y, x], unknown_gain, compensation, open_cdm2, powers)
            least = leak * known
            at_floor = 0
            flags = 0
            for c in range(3):
                wanted = float(asked[y, x, c])
                if wanted > behind * (1.0 + tolerance):
                    flags |= starved
                if wanted > known * (1.0 + tolerance):
                    flags |= wide_open
                if wanted <= least:
                    at_floor += 1
                light[y, x, c] = _opening(wanted, known, leak) * behind
            if at_floor > 0:
                flags |= floor
            if at_floor == 3:
                flags |= all_floor
            why[y, x] |= flags
