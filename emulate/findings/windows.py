"""Windows: white on black, from a small one to the whole screen, as the panel would show them."""

from __future__ import annotations

from typing import NamedTuple

from emulate.panel.panel import Panel
from emulate.readings.patterns.place import Shape
from emulate.readings.patterns.windows import windows
from emulate.readings.stimulus import frame_of
from emulate.rendering import render
from emulate.transfer import LUMINANCE_2020, PQ_PEAK
from emulate.values import Pixels

SHAPE = (540, 960)  # px: a window of 1 % is 54 px high, more than a meter's spot
SPOT = 8  # px of SHAPE, half the width of the spot read in the middle; our choice


class Window(NamedTuple):
    """A white window on black: share of the screen's area 0..1, and its middle's light [cd/m²]."""

    area: float
    light: float


def white_windows(panel: Panel, shape: Shape = SHAPE) -> tuple[Window, ...]:
    """Full white windows of growing area on a settled panel, read in the middle in the dark.

    Raises RequestError where the panel has more zones than `shape` has pixels.
    """
    return tuple(
        Window(stimulus.value, _middle(render(frame_of(stimulus), panel).light))
        for stimulus in windows(shape, PQ_PEAK)
    )


def _middle(light: Pixels) -> float:
    rows, columns = (side // 2 for side in light.shape[:2])
    half = max(1, SPOT * light.shape[0] // SHAPE[0])
    spot = light[rows - half : rows + half, columns - half : columns + half]
    return float((spot @ LUMINANCE_2020).mean())
