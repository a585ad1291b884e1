"""Cause: why a pixel is not what it was asked to be, a bit for each."""

from __future__ import annotations

from enum import IntFlag


class Cause(IntFlag):
    """Why a pixel is not what it was asked to be: bits of `Rendering.why`."""

    CURVE_HIGH = 1  # dPQ⁻¹(T)/dE < 0.05 at this pixel, on the upper side
    CURVE_LOW = 2  # the same at the low end
    GAMUT = 4  # §4 clipped a channel (below 0 or above L_open)
    ZONE = 8  # p_c > B in some channel: the zone gives too little light
    FLOOR = 16  # t = 1/CR in some channel
    ALL_FLOOR = 32  # t = 1/CR in every channel
    WIDE_OPEN = 64  # p_c > B̂ in some channel: the cell is fully open, and light is cut off
