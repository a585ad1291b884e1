"""What the cell lets through of the light behind it, and where it falls short (physics §6)."""

from typing import Any

from numba import njit, prange


@njit(cache=True, nogil=True, parallel=True, error_model="numpy")
def open_cells(
    asked: Any,
    backlight: Any,
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

    unknown_gain: the part of the limiter's gain that the cell does not make up for. leak [1/CR].
    bits: of too little light, cell fully open, floor in some channel, floor in every channel.
    `light` may be `asked` itself. Where the cell believes in no light, none comes.
    """
    starved, wide_open, floor, all_floor = bits
    for y in prange(asked.shape[0]):
        for x in range(asked.shape[1]):
            behind = float(backlight[y, x])
            known = behind / unknown_gain
            if compensation != 1.0:
                known = known**compensation * open_cdm2 ** (1.0 - compensation)
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
                share = min(max(wanted / known, leak), 1.0) if known > 0.0 else 0.0
                light[y, x, c] = share * behind
            if at_floor > 0:
                flags |= floor
            if at_floor == 3:
                flags |= all_floor
            why[y, x] |= flags
